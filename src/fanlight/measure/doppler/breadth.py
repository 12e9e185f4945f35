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
_STEADY_SHARE = 0.05  # change over a column that broadens no band: half of the least one, either way (the same)
_FROM, _TO, _STEP = 0.55, 1.45, 0.01  # of the path, that are looked at
_STILL = 5  # steps, over which the profile is averaged
_GROUND_FROM = 1.28  # beyond it lies the ground
_BODY_FROM, _BODY_TO = 0.85, 1.0  # the dense part next to the edge: further in, a spectrum is hollow or denser still
# Levels of the fall, from ground (0) to body (1), and how far back from the upper one the middle of the band lies, in
# lengths between both. By the formula of a bell that is sqrt(0.2) / (sqrt(0.65) - sqrt(0.2)) = 1.25, and about 0 where
# streams of all velocities fill the spectrum; between them, nearer to the bell since one stream fills most gates, and
# further back where the body is white, set on ring A.
_UPPER, _LOWER, _BACK, _BACK_WHITE = 0.8, 0.35, 1.0, 1.3
# Of the speckle that is lined up, the share below which a level lies. Those count whose body is neither white nor
# black, the first of them most: speckle only shifts the levels, so all tell the same.
_QUANTILES = (0.5, 0.65, 0.35, 0.8, 0.2)
# Grey levels between which a body comes to count as white, and as seen at all: nothing may leap when a gain is turned
# by a hair. Engineering judgement, held against ring A.
_WHITENS, _IS_SEEN = (225.0, 250.0), (50.0, 70.0)
# Share of the edge's velocity that can be the blood's own: bands are broad by 3 to 15 %, of slow walls by more; what
# lies outside is a fall that was misread (engineering judgement).
_LEAST_RATIO, _MOST_RATIO = 0.75, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Breadth:
    """How the edge stands to the velocity."""

    ratio: float  # true velocity over that of the path
    white_share: float  # 0 to 1: how much of it was read where the dense part is white and its end less sure


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fall:
    """The same as one quantile of the speckle tells it."""

    ratio: float
    whiteness: float
    weight: float  # 0 to 1: how far its dense part is neither white nor black


def read_breadth(
    side: Side, height_px: Floats, usable: NDArray[np.bool_], changes: Floats
) -> Breadth | None:  # fmt: skip
    """Return by what the velocity of a path is to be multiplied; None with too little tall signal to tell.

    Parameters
    ----------
    side : Side
        The picture.
    height_px : ndarray of shape (column,)
        The path, from the baseline.
    usable : ndarray of shape (column,), bool
        Columns that no click covers and that do not run out of the strip.
    changes : ndarray of shape (column,)
        Share of its velocity by which the path changes over the length of a column: on a flank a column sums up many
        velocities, and its band is broader than that of one. Steady columns count, or the steadiest where few are.
    """
    if not usable.any() or height_px[usable].max() <= 0:
        return None
    is_tall = usable & (height_px >= _TALL_SHARE * np.percentile(height_px[usable], 98))
    if is_tall.sum() < _FEWEST_COLUMNS:
        return None
    most = max(_STEADY_SHARE, float(np.sort(changes[is_tall])[_FEWEST_COLUMNS - 1]))
    tall = np.flatnonzero(is_tall & (changes <= most))
    at = np.arange(_FROM, _TO + _STEP / 2, _STEP)
    lined = np.stack([_column(side, int(col), height_px[col] * at) for col in tall])
    falls = [_fall(at, _profile(lined, quantile), side.ground) for quantile in _QUANTILES]
    return _joined([fall for fall in falls if fall is not None])


def _joined(falls: list[_Fall]) -> Breadth | None:
    """Return what all quantiles tell together: each takes its weight of what those before it have left."""
    if not falls:
        return None
    left, ratio, white = 1.0, 0.0, 0.0
    for fall in falls:
        part, left = left * fall.weight, left * (1 - fall.weight)
        ratio, white = ratio + part * fall.ratio, white + part * fall.whiteness
    first = falls[0]
    ratio, white = ratio + left * first.ratio, white + left * first.whiteness
    return Breadth(ratio=float(np.clip(ratio, _LEAST_RATIO, _MOST_RATIO)), white_share=white)


def _profile(lined: Floats, quantile: float) -> Floats:
    """Return a quantile of the lined-up levels, NaN where most columns have left the strip."""
    known = np.isfinite(lined).sum(axis=0) >= max(_FEWEST_COLUMNS, 0.3 * len(lined))
    out = np.full(lined.shape[1], np.nan)
    out[known] = np.nanquantile(lined[:, known], quantile, axis=0)
    return out


def _column(side: Side, col: int, off_px: Floats) -> Floats:
    rows = np.arange(len(side.levels)) + side.first_px
    return np.interp(off_px, rows, side.levels[:, col], left=np.nan, right=np.nan)


def _fall(at: Floats, profile: Floats, usual_ground: float) -> _Fall | None:
    far = profile[at >= _GROUND_FROM]
    ground = usual_ground if np.isnan(far).all() else float(np.nanmedian(far))
    padded = np.pad(np.nan_to_num(profile, nan=ground), _STILL // 2, mode="edge")
    smooth = np.convolve(padded, np.ones(_STILL) / _STILL, mode="valid")
    body = float(smooth[(at >= _BODY_FROM) & (at <= _BODY_TO)].max())
    share = (smooth - ground) / max(body - ground, 1.0)
    upper, lower = (_last_crossing(at, share, level) for level in (_UPPER, _LOWER))
    if upper is None or lower is None:
        return None
    whiteness, seen = (float(np.interp(body, ramp, (0.0, 1.0))) for ramp in (_WHITENS, _IS_SEEN))
    back = _BACK + whiteness * (_BACK_WHITE - _BACK)
    return _Fall(ratio=upper - back * (lower - upper), whiteness=whiteness, weight=(1 - whiteness) * seen)


def _last_crossing(at: Floats, share: Floats, level: float) -> float | None:
    """Return where a profile last falls through a level."""
    above = np.flatnonzero(share[:-1] >= level)
    if not len(above):
        return None
    k = int(above[-1])
    drop = share[k] - share[k + 1]
    return float(at[k] + (0.0 if drop <= 0 else (share[k] - level) / drop * (at[k + 1] - at[k])))
