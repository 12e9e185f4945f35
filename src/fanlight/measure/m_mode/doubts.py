"""Moments at which a border has jumped to something that lies on it: a leaflet, a chord, a fold of the wall."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.strip import MModeStrip

Rows = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Engineering judgement. On 20 simulated strips of ring A walls thicken by up to 0.076 mm in a ms (a cat at 200 beats a
# minute), and the borders of the left cavity move by up to 0.144.
_FASTEST_THICKENING_MM_MS = 0.09
_FASTEST_BORDER_MM_MS = 0.2
_JUMP_MS = 12.0  # within which a jump is over
_LEAST_JUMP_MM = 0.5
_LONGEST_MS = 300.0  # a leaflet lies on a wall for part of a beat; what stays longer is the wall
_WALLS = ((Border.SEPTUM_START, Border.SEPTUM_END), (Border.ENDOCARDIUM, Border.EPICARDIUM))


def find_doubts(strip: MModeStrip, rows: Rows) -> Flags:
    """Return where each border is not to be believed.

    Parameters
    ----------
    rows : ndarray of shape (5, column)
        Borders as `Borders.rows`.

    Returns
    -------
    ndarray of shape (5, column), bool

    Notes
    -----
    A wall cannot thicken at once. Where its thickness does, one of its borders has jumped: the one that moved is in
    doubt there, and until it jumps back. What slides off a border bit by bit is not seen so.
    """
    place_mm = rows * strip.mm_per_row
    doubts = np.zeros(rows.shape, bool)
    half = max(round(_JUMP_MS / 2 / strip.ms_per_col), 1)
    span_ms = 2 * half * strip.ms_per_col
    longest = round(_LONGEST_MS / strip.ms_per_col)
    for outer, inner in _WALLS:
        thickness = place_mm[inner] - place_mm[outer]
        limit = max(_FASTEST_THICKENING_MM_MS * span_ms, _LEAST_JUMP_MM)
        step = _steps(thickness, half)
        moved_outer = np.abs(_steps(place_mm[outer], half)) > np.abs(_steps(place_mm[inner], half))
        for border, moved in ((outer, moved_outer), (inner, ~moved_outer)):
            doubts[border] |= _stretches(np.where(moved, step, 0.0), limit, half, longest)
    limit = max(_FASTEST_BORDER_MM_MS * span_ms, _LEAST_JUMP_MM)
    for border in Border:
        doubts[border] |= _stretches(_steps(place_mm[border], half), limit, half, longest)
    return doubts


def _steps(values: Rows, half: int) -> Rows:
    """Return what is gained from half a jump before to half a jump after each column."""
    padded = np.pad(values, half, mode="edge")
    return np.asarray(padded[2 * half :] - padded[: -2 * half])


def _stretches(step: Rows, limit: float, half: int, longest: int) -> Flags:
    """Return the columns of each jump, and those between a jump and the next one back."""
    out = np.zeros(len(step), bool)
    jumps = [int(col) for col in np.flatnonzero(np.abs(step) > limit)]
    for col in jumps:
        out[max(col - half, 0) : col + half + 1] = True
    for away, back in pairwise(jumps):
        if step[away] * step[back] < 0 and back - away <= longest:
            out[away:back] = True
    return out
