"""Moments at which a border has jumped to something that lies on it: a leaflet, a chord, a fold of the wall."""

from __future__ import annotations

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
_BACK_SHARE = 0.4  # of the jump: a border that is so near its old place again is believed again
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
    A wall cannot thicken at once. Where its thickness does, one of its borders has jumped, and the one that moved is in
    doubt from the jump on, or up to it, as long as it stays away from where it was on the other side.
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
            doubts[border] |= _stretches(thickness, np.where(moved, step, 0.0), limit, half, longest)
    limit = max(_FASTEST_BORDER_MM_MS * span_ms, _LEAST_JUMP_MM)
    for border in Border:
        step = _steps(place_mm[border], half)
        doubts[border] |= _stretches(place_mm[border], step, limit, half, longest)
    return doubts


def _steps(values: Rows, half: int) -> Rows:
    """Return what is gained from half a jump before to half a jump after each column."""
    padded = np.pad(values, half, mode="edge")
    return np.asarray(padded[2 * half :] - padded[: -2 * half])


def _stretches(values: Rows, step: Rows, limit: float, half: int, longest: int) -> Flags:
    """Return the columns on the far side of each jump, away from the even course on its other side.

    The side that is away for the shorter time is the one in doubt: a border lies on the wall for most of the strip.
    What stays away for as long as is looked at is a wall that moves on.
    """
    out = np.zeros(len(values), bool)
    for col in (int(place) for place in np.flatnonzero(np.abs(step) > limit)):
        before, after = max(col - half, 0), min(col + half, len(values) - 1)
        jump = values[after] - values[before]
        onward = _away(values[after : after + longest], values[before], jump)
        backward = _away(values[max(before - longest, 0) : before + 1][::-1], values[after], -jump)
        out[before : after + 1] = True
        if onward <= backward and onward < longest:
            out[after : after + onward] = True
        if backward <= onward and backward < longest:
            out[max(before + 1 - backward, 0) : before + 1] = True
    return out


def _away(values: Rows, home: float, jump: float) -> int:
    """Return for how many columns values stay on the far side of a jump."""
    back = np.flatnonzero((values - home) * np.sign(jump) < _BACK_SHARE * abs(jump))
    return int(back[0]) if len(back) else len(values)
