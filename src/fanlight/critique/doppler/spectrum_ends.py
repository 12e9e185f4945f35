"""The two ends of a strip: where signal leaves it, where it comes in at the other end, and which columns are clicks.

In a pulsed spectrum both ends are one velocity: what leaves one end comes in at the other in the same column. Three
things stand there that are no wrap: noise, clicks of valves, which fill a column from end to end for a moment, and
flow that comes near to an end. Noise is weighed at the ends themselves, against their own quiet columns; a click has no
dark stretch in its column, while flow that crosses an end leaves one behind it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes

Floats = NDArray[np.float64]
Columns = NDArray[np.bool_]

# All numbers below: engineering judgement, set on simulated strips of ring A.
_BAND_SHARE, _FEWEST_BAND_PX = 0.03, 4  # of the height: an end
_SMOOTH_MS = 7.0  # in time
# Noise of an end, from its quiet columns: of normal noise the 5th and 25th percentile lie 0.97 deviations apart, and
# the median 0.674 above the latter (identity).
_QUIET_PERCENTILES, _APART, _TO_MEDIAN = (5.0, 25.0), 0.97, 0.674
_LIT_DEVIATIONS, _LIT_LEVELS = 4.0, (18.0, 50.0)  # above the noise, within these grey levels
_SIDE_DEVIATIONS, _SIDE_LEVELS = 2.5, (14.0, 40.0)  # of either end, where both together are lit
_DARK_DEVIATIONS, _DARK_LEVELS = 2.0, (10.0, 35.0)
_LINE_SHARE = 0.06  # of the height, about the baseline: wall filter and drawn line
_EVER_PERCENTILE = 96.0  # of the columns: rows by the baseline that are dark in all of them lie in the wall filter
_DARK_SHARE = 0.2  # of the rows: so long a dark stretch no click has
_SHORTEST_MS, _LONGEST_CLICK_MS = 8.0, 80.0  # clicks follow each other where a leaflet lies in the gate
_BEAT_MS = 14.0  # of a beat: what crosses an end for less is the flank of a click


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripEnds:
    """What stands at the ends of a strip.

    Attributes
    ----------
    top, bottom : ndarray of shape (column,), bool
        Signal at this end.
    through : ndarray of shape (column,), bool
        Signal at both ends at once.
    dark_share : ndarray of shape (column,)
        Longest dark stretch of a column over the rows that are lit at any time.
    """

    top: Columns
    bottom: Columns
    through: Columns
    dark_share: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Noise:
    median: float
    deviation: float

    def above(self, deviations: float, levels: tuple[float, float]) -> float:
        return self.median + float(np.clip(deviations * self.deviation, *levels))


def read_ends(grey: NDArray[np.uint8], axes: SpectralAxes) -> StripEnds:
    """Return what stands at the ends of a strip.

    Parameters
    ----------
    grey : ndarray of shape (row, col)
        The whole screen; the strip is cut out of it.
    axes : SpectralAxes
        Where it lies.
    """
    strip = grey[axes.box.row0 : axes.box.row1, axes.box.col0 : axes.box.col1].astype(np.float32)
    band = max(round(_BAND_SHARE * len(strip)), _FEWEST_BAND_PX)
    strip = cv2.blur(strip, (max(round(_SMOOTH_MS / axes.ms_per_px), 1), 1)).astype(np.float32)
    sides = np.stack([strip[:band].mean(axis=0), strip[-band:].mean(axis=0)])
    both = sides.mean(axis=0)
    noise = _noise_of(both)
    lit = both >= noise.above(_LIT_DEVIATIONS, _LIT_LEVELS)
    top, bottom = (side >= _noise_of(side).above(_LIT_DEVIATIONS, _LIT_LEVELS) for side in sides)
    smooth = cv2.blur(strip, (1, band))
    side_level = noise.above(_SIDE_DEVIATIONS, _SIDE_LEVELS)
    shown = _beyond_filter(np.percentile(smooth, _EVER_PERCENTILE, axis=1) >= side_level, axes)
    dark = smooth[shown] < noise.above(_DARK_DEVIATIONS, _DARK_LEVELS)
    return StripEnds(
        top=_lasting(top, axes), bottom=_lasting(bottom, axes),
        through=_lasting(lit & (sides >= side_level).all(axis=0), axes),
        dark_share=_longest_dark(dark) / max(int(shown.sum()), 1),
    )  # fmt: skip


def _noise_of(levels: NDArray[np.floating[Any]]) -> _Noise:
    low, high = np.percentile(levels, _QUIET_PERCENTILES)
    deviation = float(high - low) / _APART
    return _Noise(median=float(high) + _TO_MEDIAN * deviation, deviation=deviation)


def _beyond_filter(lit: NDArray[np.bool_], axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the rows outside the wall filter: from the nearest to the baseline that is lit at any time, both ways."""
    offset = np.abs(np.arange(len(lit)) + 0.5 - (axes.baseline_row_px - axes.box.row0))
    near = offset[lit & (offset > _LINE_SHARE * len(lit))]
    return np.asarray(offset >= near.min()) if len(near) else np.zeros(len(lit), np.bool_)


def _longest_dark(dark: Columns) -> Floats:
    """Return the length of the longest dark stretch of each column, rows."""
    now, longest = np.zeros(dark.shape[1]), np.zeros(dark.shape[1])
    for row in dark:
        now = np.where(row, now + 1.0, 0.0)
        longest = np.maximum(longest, now)
    return longest


def _runs(columns: Columns) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], columns.astype(np.int8), [0]])))
    return [(int(first), int(stop)) for first, stop in zip(edges[::2], edges[1::2], strict=True)]


def _lasting(columns: Columns, axes: SpectralAxes) -> Columns:
    """Return the columns that lie in a stretch that is long enough to be no speck."""
    out = np.zeros(len(columns), np.bool_)
    for first, stop in _runs(columns):
        if (stop - first) * axes.ms_per_px >= _SHORTEST_MS:
            out[first:stop] = True
    return out


def end_to_end(ends: StripEnds, axes: SpectralAxes) -> Columns:
    """Return the columns of valve clicks: filled from end to end, for some milliseconds only."""
    filled = ends.through & (ends.dark_share <= _DARK_SHARE)
    clicks = np.zeros(len(filled), np.bool_)
    for first, stop in _runs(filled):
        if (stop - first) * axes.ms_per_px < _LONGEST_CLICK_MS:
            clicks[max(first - 2, 0) : stop + 2] = True  # its flanks fade over two columns
    return clicks


def crossing(ends: StripEnds) -> Columns:
    """Return the columns in which flow leaves the strip at one end and comes in at the other."""
    return np.asarray(ends.through & (ends.dark_share > _DARK_SHARE))


def wrapped_beats(ends: StripEnds, axes: SpectralAxes, beat_px: float) -> Columns:
    """Return of each beat whether signal leaves the strip at one end and comes in at the other."""
    crosses = crossing(ends)
    return np.asarray(
        [
            crosses[part].sum() * axes.ms_per_px >= _BEAT_MS
            or max((stop - first for first, stop in _runs(ends.through[part])), default=0) * axes.ms_per_px
            >= _LONGEST_CLICK_MS
            for part in beat_parts(len(crosses), beat_px)
        ]
    )


def cut_beats(cut: Columns, axes: SpectralAxes, beat_px: float) -> Columns:
    """Return of each beat whether signal ends at an end of the strip."""
    return np.asarray([cut[part].sum() * axes.ms_per_px >= _BEAT_MS for part in beat_parts(len(cut), beat_px)])


def beat_parts(n_columns: int, beat_px: float) -> list[slice]:
    """Return stretches of the strip as long as a beat, or as near to it as a whole number of them allows."""
    n = max(round(n_columns / max(beat_px, 1.0)), 1)
    borders = np.linspace(0, n_columns, n + 1).round().astype(int)
    return [slice(int(a), int(b)) for a, b in pairwise(borders)]
