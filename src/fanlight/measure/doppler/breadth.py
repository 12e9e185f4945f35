"""By how much the edge of a spectrum overstates velocity, read from how gently the spectrum itself falls off.

A scatterer that moves at one velocity is heard for a short time and shown as a band: the outer edge lies half a band
beyond the velocity itself. What a half level or an eye traces is therefore too fast by some percent, more the
higher the gain. How gently the picture falls from its dense part to the ground tells how broad that band is: where the
band is a bell, its decibels fall as the square of the distance from its middle, so that two levels of the fall point
back to the middle, whatever gain, range and reject stretch or cut the grey scale to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.side import Side

Floats = NDArray[np.float64]

_TALL_SHARE = 0.6  # of the height: columns that are lined up (engineering judgement)
_FEWEST_COLUMNS = 12
_FROM, _TO, _STEP = 0.55, 1.45, 0.01  # of the path, that are looked at
_STILL = 5  # steps, over which the profile is averaged
_GROUND_FROM = 1.28  # beyond it lies the ground
_BODY_FROM, _BODY_TO = 0.85, 1.0  # the dense part next to the edge: further in, a spectrum is hollow or denser still
# Levels of the fall, from ground (0) to body (1), and how far back from the upper one the middle of the band lies, in
# lengths between both. By the formula of a bell that is sqrt(0.2) / (sqrt(0.65) - sqrt(0.2)) = 1.25, and about 0 where
# streams of all velocities fill the spectrum; between them, and further back where the body is white, set on ring A.
_UPPER, _LOWER, _BACK, _BACK_WHITE = 0.8, 0.35, 0.6, 1.3
# Of the speckle that is lined up, the share below which a level lies. The one is taken whose body is neither white nor
# black: speckle only shifts the levels, so all tell the same.
_QUANTILES = (0.5, 0.65, 0.35, 0.8, 0.2)
_WHITE, _DARK = 238.0, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Breadth:
    """How the edge stands to the velocity."""

    ratio: float  # true velocity over that of the path
    fall_share: float  # length of the fall over the height of the edge
    body: float  # grey level of the dense part at the quantile that was taken
    is_white: bool  # the dense part is white at every quantile: where it ends is less sure


def read_breadth(side: Side, height_px: Floats, usable: NDArray[np.bool_]) -> Breadth | None:
    """Return by what the velocity of a path is to be multiplied; None with too little tall signal to tell.

    Parameters
    ----------
    side : Side
        The picture.
    height_px : ndarray of shape (column,)
        The path, from the baseline.
    usable : ndarray of shape (column,), bool
        Columns that no click covers and that do not run out of the strip.
    """
    if not usable.any() or height_px[usable].max() <= 0:
        return None
    tall = np.flatnonzero(usable & (height_px >= _TALL_SHARE * np.percentile(height_px[usable], 98)))
    if len(tall) < _FEWEST_COLUMNS:
        return None
    at = np.arange(_FROM, _TO + _STEP / 2, _STEP)
    lined = np.stack([_column(side, int(col), height_px[col] * at) for col in tall])
    best: Breadth | None = None
    for quantile in _QUANTILES:
        found = _fall(at, _profile(lined, quantile), side.ground)
        if found is None:
            continue
        if _DARK <= found.body <= _WHITE:
            return found
        best = best or found
    return best


def _profile(lined: Floats, quantile: float) -> Floats:
    """Return a quantile of the lined-up levels, NaN where most columns have left the strip."""
    known = np.isfinite(lined).sum(axis=0) >= max(_FEWEST_COLUMNS, 0.3 * len(lined))
    out = np.full(lined.shape[1], np.nan)
    out[known] = np.nanquantile(lined[:, known], quantile, axis=0)
    return out


def _column(side: Side, col: int, off_px: Floats) -> Floats:
    rows = np.arange(len(side.levels)) + side.first_px
    return np.interp(off_px, rows, side.levels[:, col], left=np.nan, right=np.nan)


def _fall(at: Floats, profile: Floats, usual_ground: float) -> Breadth | None:
    far = profile[at >= _GROUND_FROM]
    ground = usual_ground if np.isnan(far).all() else float(np.nanmedian(far))
    padded = np.pad(np.nan_to_num(profile, nan=ground), _STILL // 2, mode="edge")
    smooth = np.convolve(padded, np.ones(_STILL) / _STILL, mode="valid")
    body = float(smooth[(at >= _BODY_FROM) & (at <= _BODY_TO)].max())
    share = (smooth - ground) / max(body - ground, 1.0)
    upper, lower = (_last_crossing(at, share, level) for level in (_UPPER, _LOWER))
    if upper is None or lower is None:
        return None
    is_white = body > _WHITE
    back = _BACK_WHITE if is_white else _BACK
    return Breadth(ratio=upper - back * (lower - upper), fall_share=lower - upper, body=body, is_white=is_white)


def _last_crossing(at: Floats, share: Floats, level: float) -> float | None:
    """Return where a profile last falls through a level."""
    above = np.flatnonzero(share[:-1] >= level)
    if not len(above):
        return None
    k = int(above[-1])
    drop = share[k] - share[k + 1]
    return float(at[k] + (0.0 if drop <= 0 else (share[k] - level) / drop * (at[k + 1] - at[k])))
