"""The ECG as a console draws it under its picture, frame by frame."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.screen_layout import EcgPen, EcgStyle, Ink

# Points of the line for each pixel across: an R wave may be narrower than a pixel and must keep its height.
_POINTS_PER_PX = 2
_BITS = 4  # places are drawn to a sixteenth of a pixel
_MARGIN_PX = 3  # the line keeps clear of the rim of its field
_TICK_PX = 4


class EcgPainter:
    """Draws one recording in one field of the screen; holds only what never changes.

    Parameters
    ----------
    style : EcgStyle
        Field, ink and pen.
    ecg : EcgStrip
        The recording. A pen that wipes started at the left end with its first sample.
    """

    def __init__(self, style: EcgStyle, ecg: EcgStrip) -> None:
        self._style, self._ecg = style, ecg
        self._width = style.col1 - style.col0
        foot = _TICK_PX + 2 if style.marks_r_waves else 0
        top, bottom = style.row0 + _MARGIN_PX, style.row1 - 1 - _MARGIN_PX - foot
        low, high = float(np.min(ecg.mv)), float(np.max(ecg.mv))
        scale = (bottom - top) / max(high - low, 1e-6)
        self._across = (np.arange(self._width * _POINTS_PER_PX) + 0.5) / _POINTS_PER_PX - 0.5
        self._bottom, self._low, self._scale = bottom, low, scale

    def draw(self, canvas: NDArray[np.uint8], time_ms: float) -> None:
        """Draw the trace as it stands at this time, onto an RGB canvas (row, col, 3) in place."""
        ages_ms = self._ages_ms(time_ms)
        mv = self._ecg.at(time_ms - ages_ms)
        mv[ages_ms > self._longest_ms()] = np.nan
        rows = self._bottom - (mv - self._low) * self._scale
        points = np.stack([self._across, rows - self._style.row0], axis=1)
        known = ~np.isnan(rows)
        # The pen's place parts the line: left of it is now, right of it is the sweep before.
        breaks = np.flatnonzero((known[1:] != known[:-1]) | (np.diff(ages_ms) > 0)) + 1
        fixed = np.round(np.nan_to_num(points) * 2**_BITS).astype(np.int32)
        pieces = [
            piece
            for piece, is_known in zip(np.split(fixed, breaks), np.split(known, breaks), strict=True)
            if is_known[0] and len(piece) > 1
        ]
        style = self._style
        field = canvas[style.row0 : style.row1, style.col0 : style.col1]  # soft ends of the line are cut here
        cv2.polylines(field, pieces, False, style.ink, style.line_px, cv2.LINE_AA, _BITS)
        if style.marks_r_waves:
            self._draw_ticks(canvas, time_ms)

    def _ages_ms(self, time_ms: float) -> NDArray[np.float64]:
        """How long ago each place across was drawn."""
        style = self._style
        if style.pen is EcgPen.SCROLLS:
            away_px = self._width - 1 - self._across
        else:
            away_px = np.mod(self._pen_px(time_ms) - self._across, self._width)
        return np.asarray(away_px / style.px_per_s * 1000.0)

    def _pen_px(self, time_ms: float) -> float:
        return math.fmod((time_ms - self._ecg.first_ms) / 1000.0 * self._style.px_per_s, self._width)

    def _longest_ms(self) -> float:
        gap = self._style.gap_px if self._style.pen is EcgPen.WIPES else 0
        return (self._width - gap) / self._style.px_per_s * 1000.0

    def _draw_ticks(self, canvas: NDArray[np.uint8], time_ms: float) -> None:
        style = self._style
        for r_ms in self._ecg.r_times_ms:
            age_ms = time_ms - r_ms
            if not 0 <= age_ms <= self._longest_ms():
                continue
            if style.pen is EcgPen.SCROLLS:
                place = self._width - 1 - age_ms / 1000.0 * style.px_per_s
            else:
                place = self._pen_px(r_ms) if r_ms >= self._ecg.first_ms else -1.0
            if place >= 0:
                col = style.col0 + round(place)
                cv2.line(canvas, (col, style.row1 - 1 - _TICK_PX), (col, style.row1 - 1), _softer(style.ink), 1)


def _softer(ink: Ink) -> Ink:
    """Two thirds of the ink."""
    return (ink[0] * 2 // 3, ink[1] * 2 // 3, ink[2] * 2 // 3)
