"""R waves in a trace that was read off a screen: the short steep deflections, whatever the size of P and T."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_MAX_GAP_PX = 6  # shorter holes in a line are bridged: the soft edge of a thin line falls under the level
_QRS_PX = 10  # bits of one complex (Q down, R up, S down) lie within this at the usual sweep speeds of a screen


@dataclass(frozen=True, slots=True, kw_only=True)
class RWaves:
    """Where along the trace the R waves stand, and how well they stand out."""

    at_px: tuple[float, ...]
    contrast_ratio: float  # weakest R wave ÷ strongest other deflection, by steepness; 1: they cannot be told apart
    spread_ratio: float  # standard deviation of the R waves' steepness ÷ their mean


NO_WAVES = RWaves(at_px=(), contrast_ratio=0.0, spread_ratio=0.0)


def find_r_waves(top: NDArray[np.float64], bottom: NDArray[np.float64]) -> RWaves:
    """Return the R waves of a trace.

    Parameters
    ----------
    top, bottom : ndarray of shape (N,)
        First and last row of the line in each column, in the order in which it was drawn; NaN: no line.

    Notes
    -----
    What marks a QRS complex is its steepness, not its height: in dogs and cats a T wave may be as tall as R.
    Steepness is how many rows the line takes within one column. At least two complexes must be present for
    the level between them and the rest to be found; a single one is accepted if it is three times steeper than
    anything else.
    """
    if np.isfinite(top).sum() < 20:
        return NO_WAVES
    level = float(np.nanmedian((top + bottom) / 2))
    top, bottom = _bridged(top), _bridged(bottom)
    middle = np.where(np.isfinite(top), (top + bottom) / 2, level)
    tall = np.where(np.isfinite(top), bottom - top, 0.0)
    tall = np.maximum(tall - np.median(tall), 0.0)
    known = np.isfinite(top) & np.isfinite(np.roll(top, 1))
    known[0] = False
    step = np.where(known, abs(np.diff(middle, prepend=middle[0])), 0.0)
    steep = np.maximum(tall, step)
    steep = np.convolve(steep, np.ones(3) / 3, "same")

    ceiling = float(np.partition(steep, -3)[-3])
    if ceiling < 1.0:  # less than a row a column: a curve, not a complex
        return NO_WAVES
    groups = _groups(steep, 0.33 * ceiling)
    peaks = np.asarray([steep[a:b].max() for a, b in groups])
    limit = 0.45 * float(np.percentile(peaks, 90))
    kept = [(group, peak) for group, peak in zip(groups, peaks, strict=True) if peak >= limit]
    kept = _apart(kept)
    if not kept:
        return NO_WAVES
    away = np.where(
        np.isfinite(top), np.where(abs(top - level) > abs(bottom - level), level - top, level - bottom), 0.0
    )
    reached = [_extreme(away, group) for group, _ in kept]
    up = np.median([value for _, value in reached]) >= 0
    at = tuple(_extreme(away if up else -away, group, one_sided=True)[0] for group, _ in kept)

    rest = steep.copy()
    for (a, b), _ in kept:
        rest[max(a - _QRS_PX, 0) : b + _QRS_PX] = 0.0
    strengths = np.asarray([peak for _, peak in kept])
    other = max(float(rest.max()), 0.05 * ceiling)
    contrast = float(strengths.min() / other)
    if len(kept) == 1 and contrast < 3.0:
        return NO_WAVES
    return RWaves(at_px=at, contrast_ratio=contrast, spread_ratio=float(strengths.std() / strengths.mean()))


def _bridged(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fill short holes by straight lines."""
    known = np.flatnonzero(np.isfinite(rows))
    filled = np.interp(np.arange(len(rows)), known, rows[known])
    distance = np.full(len(rows), np.inf)
    distance[known] = 0.0
    for gap in np.split(np.flatnonzero(distance > 0), np.flatnonzero(np.diff(np.flatnonzero(distance > 0)) > 1) + 1):
        if len(gap) > _MAX_GAP_PX or (len(gap) and (gap[0] == 0 or gap[-1] == len(rows) - 1)):
            filled[gap] = np.nan
    return filled


def _groups(steep: NDArray[np.float64], limit: float) -> list[tuple[int, int]]:
    """Stretches above the limit, joined where they belong to one complex."""
    above = np.flatnonzero(steep >= limit)
    cuts = np.flatnonzero(np.diff(above) > _QRS_PX)
    starts, ends = np.append(above[0], above[cuts + 1]), np.append(above[cuts], above[-1])
    return [(int(a), int(b) + 1) for a, b in zip(starts, ends, strict=True)]


def _apart(kept: list[tuple[tuple[int, int], float]]) -> list[tuple[tuple[int, int], float]]:
    """Drop the weaker of two that stand closer than a third of the usual distance (a T wave, an artefact)."""
    while len(kept) >= 3:
        centres = np.asarray([(a + b) / 2 for (a, b), _ in kept])
        gaps = np.diff(centres)
        usual = float(np.percentile(gaps, 75))
        closest = int(gaps.argmin())
        if gaps[closest] >= 0.33 * usual:
            break
        pair = (kept[closest], kept[closest + 1])
        kept = [item for item in kept if item is not min(pair, key=lambda p: p[1])]
    return kept


def _extreme(away: NDArray[np.float64], group: tuple[int, int], *, one_sided: bool = False) -> tuple[float, float]:
    """Column and value of the largest deflection in and beside a group."""
    a, b = max(group[0] - 3, 0), group[1] + 3
    part = away[a:b]
    best = int((part if one_sided else abs(part)).argmax())
    return float(a + best), float(part[best])
