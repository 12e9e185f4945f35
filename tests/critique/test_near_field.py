"""The near field: dark, or covered by a haze that stands still."""

import pytest

from fanlight.critique.near_field import FAMILY
from fanlight.study import Side, Verdict
from tests.critique.series import finding, rises, values


def test_a_darker_near_field_gives_a_smaller_value() -> None:
    assert rises(values(FAMILY, "near_field_brightness", "near_loss_db", (30, 20, 14, 8, 0)))


def test_a_lost_near_field_is_missed_on_the_low_side() -> None:
    lost = finding(FAMILY, "near_field_brightness", near_loss_db=28)

    assert lost.verdict is Verdict.MISSED
    assert lost.side is Side.LOW


def test_stronger_haze_stands_still_over_more_of_the_depth() -> None:
    assert rises(values(FAMILY, "near_field_clutter", "clutter_db", (-90, 4, 9, 14), clutter_mm=30.0))


def test_haze_over_a_third_of_the_depth_is_missed() -> None:
    assert finding(FAMILY, "near_field_clutter", clutter_db=14, clutter_mm=32.0).verdict is Verdict.MISSED


@pytest.mark.parametrize("gain_db", [-6, 6])
def test_gain_does_not_make_haze(gain_db: float) -> None:
    assert finding(FAMILY, "near_field_clutter", gain_db=gain_db).verdict is Verdict.MET


def test_a_still_says_nothing_about_haze() -> None:
    still = finding(FAMILY, "near_field_clutter", n_frames=1)

    assert still.verdict is Verdict.NOT_ASSESSABLE
    assert "at least 8 frames" in still.reason
