"""Columns of a spectrum that a valve's click fills: a spike from end to end that lasts some milliseconds. Left out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.side import Side

# A leaflet crosses the gate in some milliseconds and rings through all velocities, both ways; flow that reaches the end
# of the scale stays there longer and runs one way. Engineering judgement, all.
_LONGEST_MS = 45.0
_END_SHARE = 0.06  # of a side's rows, at its outer end
_BRIGHT_SHARE = 0.3  # of the way from ground to body
_PARTS = 8  # of each side's rows, that must all be bright
_FILLED_SHARE = 0.2  # their least mean brightness: flow that wraps is bright at both ends too, and not between
_LEAST_SIDE_SHARE = 0.1  # of the strip's height: a narrower side tells nothing
# A leaflet that stays in the gate fills both sides as a whole for longer; no flow does.
_FULL_SHARE, _LONGEST_FULL_MS = 0.35, 120.0
_NEAR_MS = 10.0  # about a click, still part of it where it is ragged
_RIM_MS = 3.0  # on either side of a click, still bright


def click_columns(sides: tuple[Side, Side], ms_per_px: float) -> NDArray[np.bool_]:
    """Return which columns a click fills, shape (column,): bright at both ends of the strip, for a short time."""
    n = sides[0].levels.shape[1]
    height = sum(len(side.levels) for side in sides)
    rim = max(round(_RIM_MS / ms_per_px), 1)
    found = np.zeros(n, bool)
    wide = [side for side in sides if len(side.levels) >= _LEAST_SIDE_SHARE * height]
    if len(wide) < 2 or not any(side.has_signal for side in sides):
        return found
    body, ground = max(side.body for side in sides if side.has_signal), sides[0].ground
    shares = [np.clip((side.smooth - ground) / (body - ground), 0.0, 1.0) for side in wide]
    bright = _spread(np.min([_darkest(share) for share in shares], axis=0) > _FILLED_SHARE, rim)
    for share in shares:
        end = share[-max(round(_END_SHARE * len(share)), 2) :]
        bright &= _spread(end.mean(axis=0) > _BRIGHT_SHARE, rim)
    full = np.min([_darkest(share) for share in shares], axis=0) > _FULL_SHARE
    for start, stop in runs(bright):
        longest = _LONGEST_FULL_MS if np.median(full[start:stop]) > 0 else _LONGEST_MS
        if (stop - start) * ms_per_px <= longest + 2 * _RIM_MS:
            found[start:stop] = True
    return found


def _darkest(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean brightness of the darkest part of each column: a click leaves no gap, what wraps does."""
    parts = np.array_split(share, _PARTS)[2:]  # the innermost lie in the wall filter
    return np.asarray(np.min([part.mean(axis=0) for part in parts], axis=0), np.float64)


def near_clicks(clicks: NDArray[np.bool_], ms_per_px: float) -> NDArray[np.bool_]:
    """Return the columns in or next to a click: what reaches the end of the strip there is the click's own."""
    return _spread(clicks, max(round(_NEAR_MS / ms_per_px), 1))


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return start and end (not in it) of each stretch that is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _spread(mask: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    return np.convolve(mask, np.ones(2 * by + 1), mode="same") > 0
