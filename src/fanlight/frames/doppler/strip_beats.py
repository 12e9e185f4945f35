"""R waves beside a strip that stands still: the trace under a spectrum runs in step with it, column by column."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.ecg_line import find_line, line_rows
from fanlight.frames.r_waves import find_r_waves
from fanlight.study import Box

_LEAST_CONTRAST = 1.3  # of the weakest R wave to the strongest other deflection (engineering judgement)
_FEWEST_WAVES = 2
_MOST_ROWS = 250
_BESIDE_LINE_PX = 4  # the soft edge of the trace; a row of print or the picture's apex stands close beyond it
_RIM_PX = 8  # about the strip: its frame and its axes
_OVERLAP_SHARE = 0.9  # of the trace, that lies above or below the strip: then both share a time axis


def strip_r_columns(frame: NDArray[np.uint8], strip: Box) -> NDArray[np.float64] | str:
    """Return the columns of the screen in which R waves stand, or why there are none to go by.

    Parameters
    ----------
    frame : ndarray of shape (row, col) or (row, col, 3)
        The last frame of a spectrum.
    strip : Box
        Where the strip lies.
    """
    frame = _beside(frame, strip)
    line = find_line(frame[None], None)
    if line is None:
        return "no ECG was found on the screen"
    box = line.box
    shared = min(box.col1, strip.col1) - max(box.col0, strip.col0)
    if shared < _OVERLAP_SHARE * box.width_px:
        return "the ECG does not run in step with the strip"
    row0, row1 = max(box.row0 - _BESIDE_LINE_PX, 0), min(box.row1 + _BESIDE_LINE_PX, len(frame))
    if row1 - row0 > _MOST_ROWS:
        return "what looks like an ECG is too tall for one"
    band = np.ascontiguousarray(frame[row0:row1])
    channels = [np.asarray(c, np.uint8) for c in cv2.split(band)] if band.ndim == 3 else [band]
    top, bottom = line_rows(channels, line, None)
    there = (bottom >= 0) & (np.arange(len(top)) >= box.col0) & (np.arange(len(top)) < box.col1)
    waves = find_r_waves(np.where(there, top, np.nan).astype(float), np.where(there, bottom, np.nan).astype(float))
    if len(waves.at_px) < _FEWEST_WAVES or waves.contrast_ratio < _LEAST_CONTRAST:
        return "no R waves stand out in the ECG"
    return np.asarray(waves.at_px, np.float64)


def _beside(frame: NDArray[np.uint8], strip: Box) -> NDArray[np.uint8]:
    """Return the screen with nothing but what stands above and below the strip."""
    out = np.zeros_like(frame)
    out[:, strip.col0 : strip.col1] = frame[:, strip.col0 : strip.col1]
    out[max(strip.row0 - _RIM_PX, 0) : strip.row1 + _RIM_PX] = 0
    return out
