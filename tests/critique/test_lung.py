"""Lung over the heart."""

import pytest

from fanlight.critique.lung import FAMILY
from fanlight.study import Verdict
from tests.critique.series import finding, values


def test_lines_over_more_beams_give_a_larger_value() -> None:
    series = values(FAMILY, "lung_cover", "lung_share", (0.0, 0.2, 0.4, 0.6), lung_at=0.75)

    assert series == sorted(series)
    assert series[0] == 0.0
    assert series[-1] > 0.4


def test_a_veil_that_comes_and_goes_is_seen() -> None:
    """The edge of the veil moves with a breath of 36 frames over dimmer tissue."""
    veil = finding(
        FAMILY, "lung_cover", lung_share=0.45, lung_at=0.78, lung_lines=False, lung_breath_frames=36.0, n_frames=48,
        tissue_offset_db=-4.0,
    )  # fmt: skip

    assert veil.verdict in (Verdict.BORDERLINE, Verdict.MISSED)
    assert "comes and goes" in veil.reason


@pytest.mark.parametrize("beat_frames", [9.0, 14.0, 22.0])
def test_a_beating_heart_is_not_a_veil(beat_frames: float) -> None:
    assert finding(FAMILY, "lung_cover", beat_frames=beat_frames, n_frames=48).verdict is Verdict.MET


def test_a_still_says_that_a_veil_cannot_be_told() -> None:
    assert "cannot be told in a still" in finding(FAMILY, "lung_cover", n_frames=1).reason
