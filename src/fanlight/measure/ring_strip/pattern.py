"""Where the pattern of a piece of tissue goes from column to column of a strip."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.strip import MModeStrip

Rows = NDArray[np.float64]

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 325).
_PATTERN_MM = (1.0, 6.5)  # below the edge: what is followed; the leaflets' roots lie at the edge itself
_FASTEST_MM_PER_MS = 0.2  # walls of small hearts move at up to 0.1
_SHIFT_ROWS = 0.2  # between the places that are tried
_SPEED_CHANGE_MM_PER_MS, _CHANGE_COST = 0.05, 0.02  # from column to column: a wall has weight
_EVEN_MS, _EVEN_MM = 3.0, 0.12  # speckle
_REMEMBERED_MS = 30.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """Where an edge goes.

    Attributes
    ----------
    rows : ndarray of shape (column,)
        From the first column asked for to the last.
    likeness : ndarray of shape (column,)
        Correlation with what the pattern below the edge looked like over the moments before, -1 to 1.
    """

    rows: Rows
    likeness: Rows


def follow_edge(strip: MModeStrip, edge: float, first: int, last: int) -> Way:
    """Return where the tissue below an edge goes from one column to another, which may lie before it.

    Notes
    -----
    Each column is compared with the mean of what was followed over the last moments, not with one neighbour alone:
    small errors do not add up. The speed changes little from column to column.
    """
    part = strip.levels[:, first : last + 1] if first <= last else strip.levels[:, last : first + 1][:, ::-1]
    smooth = cv2.GaussianBlur(
        part.astype(np.float32), (0, 0), sigmaX=max(_EVEN_MS / strip.ms_per_col, 0.3),
        sigmaY=max(_EVEN_MM / strip.mm_per_row, 0.3),
    )  # fmt: skip
    n_rows, n_cols = smooth.shape
    offsets = np.arange(*(round(mm / strip.mm_per_row) for mm in _PATTERN_MM))
    keep = float(np.exp(-strip.ms_per_col / _REMEMBERED_MS))
    most = _FASTEST_MM_PER_MS * strip.ms_per_col / strip.mm_per_row
    shifts = np.arange(-most, most + _SHIFT_ROWS / 2, _SHIFT_ROWS)
    change = _SPEED_CHANGE_MM_PER_MS * strip.ms_per_col / strip.mm_per_row
    at = np.arange(n_rows)
    rows, likeness = np.full(n_cols, edge), np.ones(n_cols)
    pattern, speed = np.interp(edge + offsets, at, smooth[:, 0]), 0.0
    for col in range(1, n_cols):
        shown = np.interp(rows[col - 1] + offsets[None, :] + shifts[:, None], at, smooth[:, col])
        alike = _likeness(pattern, shown)
        best = int((alike - _CHANGE_COST * ((shifts - speed) / change) ** 2).argmax())
        speed = float(shifts[best])
        rows[col] = np.clip(rows[col - 1] + speed, 0.0, n_rows - 1.0)
        likeness[col] = alike[best]
        pattern = keep * pattern + (1 - keep) * shown[best]
    return Way(rows=rows, likeness=likeness)


def _likeness(pattern: Rows, shown: Rows) -> Rows:
    """Return the correlation of a pattern with each row of others."""
    pattern = pattern - pattern.mean()
    shown = shown - shown.mean(axis=1, keepdims=True)
    size = np.sqrt((pattern**2).sum() * (shown**2).sum(axis=1))
    return np.asarray((shown @ pattern) / np.maximum(size, 1e-6))
