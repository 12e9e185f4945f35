"""End-diastole and end-systole of each whole beat of a strip, from the ECG or from the cavity's own course."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks

from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.reference.m_mode import MModeSettings

Series = NDArray[np.float64]

# Ejection ends at about a third of a slow beat and about half of a very fast one (common practice, no source).
_SYSTOLE_SHARES = (0.15, 0.7)
_EVEN_MS = 8.0  # shorter than any phase of a beat
_SHORTEST_BEAT_MS, _LONGEST_BEAT_MS = 180.0, 1600.0  # 330 and 38 beats a minute
_LEAST_REPEAT = 0.3  # correlation of the cavity's course with itself a beat later
_LEAST_SWING_MM = 0.4  # between diastole and systole: less is not told from noise
_PROMINENCE_SHARE = 0.4  # of the usual swing: what a systole must stand out by
_APART_SHARE = 0.6  # of a beat: two systoles lie no nearer
_R_TIMING_MS = 4.0  # of an R wave read off a screen: a pixel of a usual sweep (engineering judgement)
_OWN_TIMING_MS = 25.0  # of the largest diameter: it is flat at the top (ring A)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One whole beat of the strip, columns from 0; `left_out` says why it is not measured."""

    number: int  # from 1, as they stand on the strip
    diastole_col: int
    systole_col: int
    length_ms: float  # from its end-diastole to the next
    left_out: str = ""
    is_ectopic: bool = False  # or follows one: left out for its rhythm, not for its picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """The whole beats of a strip."""

    beats: tuple[Beat, ...]
    timed_by: str  # "R waves", "the cavity's own course"
    timing_ms: float  # error of each end-diastole

    @property
    def measured(self) -> tuple[Beat, ...]:
        """The beats that count."""
        return tuple(beat for beat in self.beats if not beat.left_out)


def find_beats(strip: MModeStrip, cavity_mm: Series, settings: MModeSettings) -> Beats | str:
    """Return the whole beats, or why there are none.

    Parameters
    ----------
    cavity_mm : ndarray of shape (column,)
        Internal diameter of the left ventricle.

    Notes
    -----
    End-diastole is the column of the R wave, within a few columns of the onset of QRS; without an ECG the largest
    diameter before the cavity shrinks. End-systole is the smallest diameter, between 15 and 70 % of the beat. Beats cut
    by an end of the strip do not count. A beat that comes early (after an interval below `ectopic_share` of the usual
    one, with a pause behind it) and the one after it are left out: filling differs (rule of thumb, engineering
    judgement; a sinus arrhythmia shortens beats in turn, without a pause).
    """
    course = gaussian_filter1d(cavity_mm, max(_EVEN_MS / strip.ms_per_col, 0.3), mode="nearest")
    if strip.r_times_ms:
        starts = [r / strip.ms_per_col for r in strip.r_times_ms]
        timed_by, timing_ms = "R waves", max(strip.ms_per_col, _R_TIMING_MS)
    else:
        own = _own_starts(course, strip)
        if isinstance(own, str):
            return own
        starts, timed_by, timing_ms = own, "the cavity's own course", _OWN_TIMING_MS
    last = len(course) - 1
    inside = [start for start in starts if 0 <= start <= last]
    if len(inside) < 2:
        return "no whole beat lies on the strip"
    early = _ectopic([b - a for a, b in pairwise(inside)], settings)
    beats = [
        _beat(number, start, end, course, strip, early[number - 1])
        for number, (start, end) in enumerate(pairwise(inside), start=1)
    ]
    return Beats(beats=tuple(beats), timed_by=timed_by, timing_ms=timing_ms)


def _beat(number: int, start: float, end: float, course: Series, strip: MModeStrip, ectopic: str) -> Beat:
    left_out = ectopic
    low, high = (round(start + share * (end - start)) for share in _SYSTOLE_SHARES)
    systole = low + int(course[low : high + 1].argmin())
    diastole = round(start)
    if not left_out and systole in (low, high):
        left_out = "the cavity has no smallest size within its systole"
    elif not left_out and course[diastole] - course[systole] < _LEAST_SWING_MM:
        left_out = "the cavity does not shrink"
    return Beat(
        number=number,
        diastole_col=diastole,
        systole_col=systole,
        length_ms=(end - start) * strip.ms_per_col,
        left_out=left_out,
        is_ectopic=bool(ectopic),
    )


def _ectopic(lengths: list[float], settings: MModeSettings) -> list[str]:
    """Return for each beat why its rhythm keeps it from being measured, "" where it does not."""
    out = [""] * len(lengths)
    for k in range(1, len(lengths)):
        usual = float(np.median([length for place, length in enumerate(lengths) if place not in (k - 1, k)] or lengths))
        if lengths[k - 1] < settings.ectopic_share * usual and lengths[k] > settings.pause_share * usual:
            out[k] = "it comes early, and a pause follows: ectopic"
            if k + 1 < len(lengths):
                out[k + 1] = "it follows an ectopic beat"
    return out


def _own_starts(course: Series, strip: MModeStrip) -> list[float] | str:
    """Return the largest diameter before each systole of the course."""
    swing = float(np.percentile(course, 95) - np.percentile(course, 5))
    if swing < _LEAST_SWING_MM:
        return "there is no ECG, and the cavity does not change its size"
    period = _period_cols(course, strip)
    if period is None:
        return "there is no ECG, and the cavity's course does not repeat itself"
    systoles, _ = find_peaks(-course, distance=max(_APART_SHARE * period, 1), prominence=_PROMINENCE_SHARE * swing)
    starts = []
    for systole in systoles:
        first = round(systole - _SYSTOLE_SHARES[1] * period)
        if first >= 0:
            stretch = course[first : systole + 1]
            starts.append(float(first + stretch.argmax()))
    return starts


def _period_cols(course: Series, strip: MModeStrip) -> float | None:
    """Return after how many columns the course repeats itself."""
    even = course - gaussian_filter1d(course, _LONGEST_BEAT_MS / strip.ms_per_col, mode="nearest")
    n = len(even)
    lags = np.arange(
        int(_SHORTEST_BEAT_MS / strip.ms_per_col), min(int(_LONGEST_BEAT_MS / strip.ms_per_col), n // 2) + 1
    )
    if len(lags) < 3 or lags[0] < 2:
        return None
    alike = np.array([np.corrcoef(even[:-lag], even[lag:])[0, 1] for lag in lags])
    peaks, _ = find_peaks(alike)
    good = [k for k in peaks if alike[k] >= max(_LEAST_REPEAT, 0.8 * alike[peaks].max())]
    return float(lags[good[0]]) if good else None
