"""Overall gain, blackness of the cavities and burnt-out tissue."""

from typing import Any

import numpy as np
import pytest

from fanlight.critique.gain import FAMILY, burnt_out_from
from fanlight.study import Side, Verdict
from tests.critique.series import finding, rises, values


def test_more_gain_gives_a_larger_tissue_level() -> None:
    assert rises(values(FAMILY, "overall_gain", "gain_db", (-24, -16, -8, 0, 8, 16, 24)))


def test_more_gain_gives_more_haze_in_the_cavities() -> None:
    assert rises(values(FAMILY, "cavity_haze", "gain_db", (10, 15, 20, 25, 30)))


def test_more_gain_burns_out_more_tissue() -> None:
    assert rises(values(FAMILY, "saturation", "gain_db", (16, 20, 24, 28, 32)))


def test_low_gain_is_missed_on_the_low_side() -> None:
    low = finding(FAMILY, "overall_gain", gain_db=-22)

    assert low.verdict is Verdict.MISSED
    assert low.side is Side.LOW


@pytest.mark.parametrize(
    "disease",
    [
        pytest.param({"cavity_share": 0.9, "atrium_share": 0.65}, id="dilated chambers"),
        pytest.param({"effusion_mm": 14.0}, id="pericardial effusion"),
        pytest.param({"cavity_share": 0.3, "atrium_share": 0.25}, id="thick walls"),
    ],
)
def test_disease_is_not_taken_for_a_gain_fault(disease: dict[str, Any]) -> None:
    """A large dark cavity must not count as low gain, nor a small one as haze that is missed."""
    assert finding(FAMILY, "overall_gain", **disease).verdict is Verdict.MET
    assert finding(FAMILY, "cavity_haze", **disease).verdict in (Verdict.MET, Verdict.NOT_ASSESSABLE)


@pytest.mark.parametrize(
    "harmless",
    [
        pytest.param({"overlay": True}, id="text on the screen"),
        pytest.param({"far_px": 300.0, "apex_col": 250.0}, id="smaller sector elsewhere"),
        pytest.param({"depth_mm": 96.0}, id="a little deeper"),
        pytest.param({"width_deg": 64.0}, id="narrower sector"),
        pytest.param({"near_px": 40.0}, id="curved face"),
    ],
)
def test_tissue_level_does_not_depend_on_the_layout(harmless: dict[str, Any]) -> None:
    """Tolerance: a sixth of the display between borderline and too dark (0.03 of the range)."""
    plain = finding(FAMILY, "overall_gain").value
    changed = finding(FAMILY, "overall_gain", **harmless).value

    assert changed == pytest.approx(plain, abs=0.03)


@pytest.mark.parametrize("gamma", [0.85, 1.2])
def test_another_grey_map_keeps_the_verdict(gamma: float) -> None:
    assert finding(FAMILY, "overall_gain", gamma=gamma).verdict is Verdict.MET


def test_white_that_ends_at_video_range_still_counts_as_burnt_out() -> None:
    """A pile of samples at 235, white in video range (ITU-R BT.601), is the ceiling."""
    histogram = np.zeros(256, np.int64)
    histogram[20:235] = 100
    histogram[235] = 5000

    assert burnt_out_from(histogram) == 232
