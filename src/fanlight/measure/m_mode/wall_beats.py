"""Beats of a strip without an ECG: each time that the free wall moves inwards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, minimum_filter1d
from scipy.signal import find_peaks

from fanlight.measure.m_mode.strip import MModeStrip

Series = NDArray[np.float64]

_EVEN_MS = 8.0  # shorter than any phase of a beat
_SHORTEST_BEAT_MS, _LONGEST_BEAT_MS = 180.0, 1600.0  # 330 and 38 beats a minute
_LEAST_REPEAT = 0.3  # correlation of the wall's course with itself a beat later
_AS_GOOD_SHARE = 0.8  # of the best correlation: the first lag that is as good is the beat, not two of them
_LEAST_SWING_MM = 0.4  # between diastole and systole: less is not told from noise
# Of the swing about a moment: the wall is outside, halfway, and inside (engineering judgement).
_OUTSIDE, _HALFWAY, _INSIDE = 0.7, 0.5, 0.3
_UNLIKE_SHARE = 0.2  # by which the usual interval may differ from the lag at which the course repeats itself


@dataclass(frozen=True, slots=True, kw_only=True)
class WallBeats:
    """When the wall moves inwards, columns between pixels."""

    inward_cols: tuple[float, ...]
    period_cols: float


def find_wall_beats(strip: MModeStrip, wall_mm: Series) -> WallBeats | str:
    """Return when the free wall is halfway inwards in each beat, or why that cannot be told.

    Parameters
    ----------
    wall_mm : ndarray of shape (column,)
        Depth of the endocardium of the free wall.

    Notes
    -----
    The inward motion is the fastest of a beat, so that its middle is timed to a few ms, where the smallest and the
    largest diameter are flat and err by tens of them. Halfway is between the deepest and the shallowest place within a
    beat to either side: breath moves both.
    """
    course = gaussian_filter1d(wall_mm, max(_EVEN_MS / strip.ms_per_col, 0.3), mode="nearest")
    swing = float(np.percentile(course, 95) - np.percentile(course, 5))
    if swing < _LEAST_SWING_MM:
        return "there is no ECG, and the free wall does not move"
    period = _period_cols(course, strip)
    if period is None:
        return "there is no ECG, and the free wall's motion does not repeat itself"
    inward = _inward_cols(course, period)
    if len(inward) > 1 and abs(float(np.median(np.diff(inward))) - period) > _UNLIKE_SHARE * period:
        return "there is no ECG, and the free wall does not move inwards once a beat"
    return WallBeats(inward_cols=tuple(inward), period_cols=period)


def _inward_cols(course: Series, period: float) -> list[float]:
    size = 2 * round(period) + 1
    deepest, shallowest = maximum_filter1d(course, size), minimum_filter1d(course, size)
    share = (course - shallowest) / np.maximum(deepest - shallowest, _LEAST_SWING_MM)
    found: list[float] = []
    was_outside, halfway = False, 0.0
    for col in range(1, len(share)):
        before, here = float(share[col - 1]), float(share[col])
        was_outside = was_outside or before >= _OUTSIDE
        if before > _HALFWAY >= here:
            halfway = col - 1 + (before - _HALFWAY) / (before - here)
        if was_outside and here <= _INSIDE:
            found.append(halfway)
            was_outside = False
    return found


def _period_cols(course: Series, strip: MModeStrip) -> float | None:
    """Return after how many columns the course repeats itself."""
    even = course - gaussian_filter1d(course, _LONGEST_BEAT_MS / strip.ms_per_col, mode="nearest")
    n = len(even)
    longest = min(int(_LONGEST_BEAT_MS / strip.ms_per_col), n // 2)
    lags = np.arange(int(_SHORTEST_BEAT_MS / strip.ms_per_col), longest + 1)
    if len(lags) < 3 or lags[0] < 2:
        return None
    alike = np.array([np.corrcoef(even[:-lag], even[lag:])[0, 1] for lag in lags])
    peaks, _ = find_peaks(alike)
    good = [k for k in peaks if alike[k] >= max(_LEAST_REPEAT, _AS_GOOD_SHARE * alike[peaks].max())]
    return float(lags[good[0]]) if good else None
