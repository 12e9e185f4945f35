"""A slider of the time gain compensation out of line."""

from typing import Any

import numpy as np
import pytest

from fanlight.critique.tgc import FAMILY, agreed_height
from fanlight.study import Verdict
from tests.critique.series import finding, rises

SMALL: dict[str, Any] = {"cavity_share": 0.45, "atrium_share": 0.3}  # chambers that leave tissue at every depth


def _value(step_db: float, slider: int = 3) -> float:
    value = finding(FAMILY, "tgc_banding", tgc_db=tuple(step_db * (i == slider) for i in range(8)), **SMALL).value
    assert value is not None
    return value


def test_a_slider_further_out_gives_a_larger_value_up_and_down() -> None:
    assert rises([_value(step) for step in (4, 8, 12, 18)])
    assert rises([_value(step) for step in (-6, -10, -14)])


def test_a_stripe_so_dark_that_it_looks_like_fluid_is_never_called_even() -> None:
    dark = finding(FAMILY, "tgc_banding", tgc_db=(0, 0, 0, -22, 0, 0, 0, 0))

    assert dark.verdict in (Verdict.MISSED, Verdict.NOT_ASSESSABLE)


@pytest.mark.parametrize("slider", [2, 3, 4, 5, 6])
def test_each_inner_slider_is_seen(slider: int) -> None:
    """The outermost sliders look like a dark near or far field and are judged there."""
    assert _value(15, slider) > 0.08


def test_a_wide_chamber_is_not_a_dark_stripe() -> None:
    """Disease is not a fault."""
    wide = finding(FAMILY, "tgc_banding", cavity_share=0.9, atrium_share=0.65, width_deg=60.0)

    assert wide.verdict in (Verdict.MET, Verdict.NOT_ASSESSABLE)


def test_the_stripe_is_named_with_its_depth() -> None:
    """Slider 6 of 8 stands for 69 % of the depth."""
    bright = finding(FAMILY, "tgc_banding", tgc_db=(0, 0, 0, 0, 0, 15, 0, 0))

    assert bright.reason.startswith(("a bright stripe at 6", "a bright stripe at 7"))
    assert bright.evidence


def test_groups_that_disagree_make_no_stripe() -> None:
    height = np.array([50, 50, 50, 50, -40, -40, -40, -40], np.float32)
    everywhere = np.ones(8, np.bool_)

    assert agreed_height(height, everywhere, everywhere) == 0.0


def test_too_few_groups_of_tissue_tell_nothing() -> None:
    height = np.full(8, 50, np.float32)
    two = np.arange(8) < 2

    assert agreed_height(height, two, two) is None
