"""Focal depth from the width of speckle."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fanlight.critique.focus import FAMILY, fit_focus
from fanlight.study import ClipTags, Side, Verdict
from tests.critique.series import PLAIN, finding, rises, values
from tests.critique.speckle_phantom import judge, make


@pytest.mark.parametrize("true_depth", [0.2, 0.4, 0.6, 0.8])
@pytest.mark.parametrize("face", [0.0, 0.1])
def test_exact_widths_of_a_focused_beam_give_their_focus_back(true_depth: float, face: float) -> None:
    """Physics: width^2 = (lambda z / D)^2 + (D (z - zf) / zf)^2. Tolerance: one step of the candidates, 4 %."""
    depth = np.linspace(0.12, 0.92, 20)
    width = np.sqrt((0.02 * (depth + face)) ** 2 + (0.05 * (depth / true_depth - 1)) ** 2)

    fit = fit_focus(depth, width, np.ones(20), face)

    assert fit.depth == pytest.approx(true_depth, rel=0.04)
    assert fit.low <= true_depth <= fit.high


def test_a_beam_that_only_spreads_has_no_focus() -> None:
    depth = np.linspace(0.12, 0.92, 20)

    assert fit_focus(depth, 0.03 * depth, np.ones(20)).better_than_none_ratio < 1.25


def test_a_deeper_focus_gives_a_larger_value() -> None:
    assert rises(values(FAMILY, "focal_depth", "focus_mm", (15, 25, 36, 47, 58, 70, 108)))


@pytest.mark.parametrize(
    "harmless",
    [
        pytest.param({"gain_db": 8}, id="more gain"),
        pytest.param({"gamma": 1.25}, id="other grey map"),
        pytest.param({"dynamic_range_db": 65.0}, id="other display range"),
        pytest.param({"near_px": 40.0}, id="curved face"),
        pytest.param({"scale_factor": 1.4}, id="enlarged"),
        pytest.param({"cavity_share": 0.85, "atrium_share": 0.6}, id="large chambers"),
        pytest.param({"overlay": True}, id="text on the screen"),
        pytest.param({"n_frames": 1}, id="one frame"),
        pytest.param({"n_lines": 110}, id="fewer scan lines"),
    ],
)
def test_focus_is_found_where_it_was_set(harmless: dict[str, Any]) -> None:
    """Set at 50 of 90 mm. Tolerance: a tenth of the displayed depth, half the way to the border of the band."""
    assert finding(FAMILY, "focal_depth", **harmless).value == pytest.approx(50 / 90, abs=0.1)


@pytest.mark.parametrize("smoothing", [{"looks": 6}, {"smoothing_px": 2.0}], ids=["compounding", "speckle reduction"])
def test_smoothed_speckle_is_not_assessable(smoothing: dict[str, Any]) -> None:
    smoothed = finding(FAMILY, "focal_depth", **smoothing)

    assert smoothed.verdict is Verdict.NOT_ASSESSABLE
    assert "speckle was smoothed" in smoothed.reason


def test_too_shallow_and_too_deep_are_told_apart() -> None:
    shallow, deep = finding(FAMILY, "focal_depth", focus_mm=13.0), finding(FAMILY, "focal_depth", focus_mm=120.0)

    assert (shallow.verdict, shallow.side) == (Verdict.MISSED, Side.LOW)
    assert (deep.verdict, deep.side) == (Verdict.MISSED, Side.HIGH)


@pytest.mark.parametrize(("tag_mm", "words"), [(50.0, "which agrees"), (85.0, "does not agree")])
def test_the_focus_tag_is_weighed_against_the_speckle(tag_mm: float, words: str) -> None:
    phantom = replace(make(PLAIN, np.random.default_rng(0)), tags=ClipTags(focus_depth_mm=tag_mm))

    assert words in judge(phantom, FAMILY)["focal_depth"].reason
