"""The Doppler cursor on a guide: its line, the gate on it, where the beams cross, the mark of an angle."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.screen_spectral_style import GateShape, SpectralStyle
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.simulate.spectral.spectral_setting import SpectralSetting

Frame = NDArray[np.uint8]
_HALF_GATE_PX = 7  # half the length of a bar across the cursor
_BENT_PX = 3
_CROSS_PX = 5  # radius of the ring where the beams of a continuous wave cross
_ANGLE_PX = 26  # half the length of the mark of a corrected angle
_Point = tuple[float, float]  # row, col


def _on_cursor(placed: Placed, cursor_deg: float, radius_px: float) -> _Point:
    angle = math.radians(cursor_deg)
    return (
        placed.sector.apex_row_px + radius_px * math.cos(angle),
        placed.sector.apex_col_px + radius_px * math.sin(angle),
    )


def cursor_ends(placed: Placed, cursor_deg: float) -> tuple[int, int, int, int]:
    """Return row and column of the cursor at the face and at the far end."""
    near = _on_cursor(placed, cursor_deg, placed.sector.near_px)
    far = _on_cursor(placed, cursor_deg, placed.sector.far_px)
    return round(near[0]), round(near[1]), round(far[0]), round(far[1])


def gate_middle(placed: Placed, setting: SpectralSetting) -> tuple[int, int]:
    """Return row and column of the middle of the gate, or of where the beams cross."""
    row, col = _on_cursor(placed, setting.cursor_deg, _radius_px(placed, setting.gate_depth_mm))
    return round(row), round(col)


def _radius_px(placed: Placed, depth_mm: float) -> float:
    return placed.sector.near_px + depth_mm / placed.mm_per_px


def draw_cursor(frame: Frame, style: SpectralStyle, placed: Placed, setting: SpectralSetting) -> None:
    """Draw the cursor with its marks onto an RGB frame, in place; the gate itself stays free."""
    half_mm = setting.gate_mm / 2 if setting.is_gated else _CROSS_PX * placed.mm_per_px
    ends = [_radius_px(placed, setting.gate_depth_mm + side * half_mm) for side in (-1, 1)]
    # a very short gate is still drawn as two bars
    middle = sum(ends) / 2
    if ends[1] - ends[0] < 4:
        ends = [middle - 2, middle + 2]
    for low, high in ((placed.sector.near_px, ends[0]), (ends[1], placed.sector.far_px)):
        _dashes(frame, style, placed, setting.cursor_deg, low, high)
    if setting.is_gated:
        _gate(frame, style, placed, setting.cursor_deg, ends)
    else:
        row, col = _on_cursor(placed, setting.cursor_deg, middle)
        cv2.circle(frame, (round(col), round(row)), _CROSS_PX, style.mark_ink, 1, cv2.LINE_AA)
    if setting.corrected_deg:
        row, col = _on_cursor(placed, setting.cursor_deg, middle)
        angle = math.radians(setting.cursor_deg + setting.corrected_deg)
        down, across = _ANGLE_PX * math.cos(angle), _ANGLE_PX * math.sin(angle)
        _line(frame, style, (row - down, col - across), (row + down, col + across))


def _line(frame: Frame, style: SpectralStyle, start: _Point, end: _Point) -> None:
    places = [(round(point[1]), round(point[0])) for point in (start, end)]
    cv2.line(frame, places[0], places[1], style.mark_ink, 1, cv2.LINE_AA)


def _dashes(
    frame: Frame, style: SpectralStyle, placed: Placed, cursor_deg: float, low_px: float, high_px: float
) -> None:
    count = max(round((high_px - low_px) / style.cursor_dash_px), 1)
    for index in range(0, count, 2):
        start, end = (low_px + (high_px - low_px) * (index + k) / count for k in (0, 1))
        _line(frame, style, _on_cursor(placed, cursor_deg, start), _on_cursor(placed, cursor_deg, end))


def _gate(frame: Frame, style: SpectralStyle, placed: Placed, cursor_deg: float, ends: list[float]) -> None:
    angle = math.radians(cursor_deg)
    across, along = (-math.sin(angle), math.cos(angle)), (math.cos(angle), math.sin(angle))

    def corner(end: int, side: int, inward: float = 0.0) -> _Point:
        row, col = _on_cursor(placed, cursor_deg, ends[end])
        step = inward if end == 0 else -inward
        return (
            row + side * _HALF_GATE_PX * across[0] + step * along[0],
            col + side * _HALF_GATE_PX * across[1] + step * along[1],
        )

    for end in (0, 1):
        _line(frame, style, corner(end, -1), corner(end, 1))
        if style.gate is GateShape.BRACKETS:
            for side in (-1, 1):
                _line(frame, style, corner(end, side), corner(end, side, _BENT_PX))
    if style.gate is GateShape.BOX:
        for side in (-1, 1):
            _line(frame, style, corner(0, side), corner(1, side))
