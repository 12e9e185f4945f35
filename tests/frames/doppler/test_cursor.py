"""Cursor, gate and ring on drawn guides, against where they were drawn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.colour_box import picture_mask
from fanlight.frames.doppler.cursor import find_cursor, find_guide
from fanlight.study import Box, Sector

GUIDE = Sector(apex_row_px=20.0, apex_col_px=200.0, left_deg=-38.0, right_deg=38.0, near_px=6.0, far_px=170.0)
AMBER, WHITE = (230, 180, 90), (235, 235, 235)
Frame = NDArray[np.uint8]


def _guide(seed: int = 0) -> Frame:
    """Speckle with a black cavity, as a heart on a small fan."""
    rng = np.random.default_rng(seed)
    out = rng.rayleigh(28.0, (210, 400))
    yy, xx = np.mgrid[:210, :400]
    out[np.hypot((yy - 110) / 1.4, xx - 205) < 30] *= 0.05
    out *= picture_mask(GUIDE, 210, 400)
    return np.repeat(np.clip(out, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _drawn(frame: Frame, angle_deg: float, at_px: float, mark: str, ink: tuple[int, int, int] = AMBER) -> Frame:
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    apex = np.array([GUIDE.apex_row_px, GUIDE.apex_col_px])

    def place(point: NDArray[np.float64]) -> tuple[int, int]:
        return round(float(point[1])), round(float(point[0]))

    for start in np.arange(GUIDE.near_px, GUIDE.far_px - 6, 12):
        if abs(start + 3 - at_px) > 9:
            cv2.line(frame, place(apex + start * along), place(apex + (start + 6) * along), ink, 1, cv2.LINE_AA)
    middle = apex + at_px * along
    if mark == "ring":
        cv2.circle(frame, place(middle), 5, ink, 1, cv2.LINE_AA)
    if mark == "bars":
        for side in (-3, 3):
            end = middle + side * along
            cv2.line(frame, place(end - 7 * across), place(end + 7 * across), ink, 1, cv2.LINE_AA)
    return frame


@pytest.mark.parametrize("angle_deg", [-20.0, -4.0, 0.0, 11.0, 27.0])
@pytest.mark.parametrize("at_px", [60.0, 100.0, 140.0])
def test_gate_and_angle_are_read_as_drawn(angle_deg: float, at_px: float) -> None:
    found = find_cursor(_drawn(_guide(), angle_deg, at_px, "bars"), GUIDE)

    assert found is not None
    assert found.angle_deg == pytest.approx(angle_deg, abs=2.0)
    turn = np.radians(angle_deg)
    assert found.gate == pytest.approx((20 + at_px * np.cos(turn), 200 + at_px * np.sin(turn)), abs=4.0)


@pytest.mark.parametrize("angle_deg", [-20.0, -4.0, 0.0, 11.0, 27.0])
def test_a_ring_is_no_gate(angle_deg: float) -> None:
    found = find_cursor(_drawn(_guide(), angle_deg, 110.0, "ring"), GUIDE)

    assert found is not None
    assert found.ring_fit > found.bars_fit
    assert found.gate is None


@pytest.mark.parametrize("seed", range(6))
def test_a_guide_without_a_cursor_has_none(seed: int) -> None:
    assert find_cursor(_guide(seed), GUIDE) is None


def test_a_line_without_a_mark_has_no_gate() -> None:
    found = find_cursor(_drawn(_guide(), 8.0, 400.0, ""), GUIDE)

    assert found is not None
    assert found.gate is None


def test_a_grey_screen_has_a_cursor_too() -> None:
    frame = cv2.cvtColor(_drawn(_guide(), 8.0, 110.0, "bars", WHITE), cv2.COLOR_RGB2GRAY)
    found = find_cursor(np.asarray(frame, np.uint8), GUIDE)

    assert found is None or found.angle_deg == pytest.approx(8.0, abs=2.0)  # a dashed grey line may hide in speckle


def test_the_guide_is_looked_for_above_the_strip_only() -> None:
    grey = np.zeros((480, 400), np.uint8)
    grey[:210] = cv2.cvtColor(_guide(), cv2.COLOR_RGB2GRAY)
    strip = Box(row0=240, col0=20, row1=460, col1=380)
    found = find_guide(None, grey, strip)

    assert found is not None
    assert found.apex_col_px == pytest.approx(GUIDE.apex_col_px, abs=8.0)
    assert find_guide(None, np.zeros((480, 400), np.uint8), strip) is None
