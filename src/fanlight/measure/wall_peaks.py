"""By how much of the beat septum and free wall reach their inmost places apart, from the borders of a strip."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from fanlight.measure.m_mode import Border, MModeReading, MModeStrip, Seen
from fanlight.measure.m_mode.beats import Beat
from fanlight.measure.m_mode.spread import combined, mean_of_beats
from fanlight.study import ENGINE, Measurement

WALL_PEAKS = "inmost place of the free wall behind that of the septum, share of the beat"
METHOD = "M-mode, inmost place of the septum's left side and of the free wall's endocardium/1"
Series = NDArray[np.float64]

_EVEN_MS = 8.0  # shorter than any phase of a beat
_WITHIN_SHARES = (0.15, 0.85)  # of a beat: later the walls have gone back (common practice, no source)
_LEAST_SWING_MM = 0.4  # of each border: less is not told from noise
_PEAK_TIMING_MS = 20.0  # of each: a wall is slow at its inmost place (engineering judgement, as of the smallest cavity)
_USUAL_PERCENT = 3.0  # of the beat, by which beats differ (engineering judgement)


def measure_wall_peaks(reading: MModeReading, strip: MModeStrip, seen: Seen) -> Measurement:
    """Return how long after the septum the free wall is inmost, in percent of the beat, or why that is not told.

    Parameters
    ----------
    reading : MModeReading
        Borders and beats of a strip of the left ventricle.
    strip : MModeStrip
        The strip they were read off.
    seen : Seen
        Where the strip was seen.

    Notes
    -----
    Below 0 the free wall comes first. Taken beat by beat between 15 and 85 % of it; the mean of the beats. A cursor
    aslant, or the heart's own motion along it, puts the two apart as well: `validity.by_cursor` gives the number only
    beside a cursor that was seen to lie square to the septum.
    """
    if reading.borders is None or reading.beats is None:
        return _told(None, None, "without borders and beats there are no peaks", seen)
    even = max(_EVEN_MS / strip.ms_per_col, 0.3)
    rows = reading.borders.rows * strip.mm_per_row
    septum = gaussian_filter1d(rows[Border.SEPTUM_END], even, mode="nearest")
    wall = gaussian_filter1d(rows[Border.ENDOCARDIUM], even, mode="nearest")
    found: list[tuple[float, float]] = []  # share of the beat in percent, and its length
    for beat in reading.beats.measured:
        inmost = _inmost_col(septum, beat, strip), _inmost_col(-wall, beat, strip)
        if inmost[0] is not None and inmost[1] is not None:
            found.append((100.0 * (inmost[1] - inmost[0]) * strip.ms_per_col / beat.length_ms, beat.length_ms))
    if not found:
        return _told(None, None, "in no beat have both septum and free wall an inmost place", seen)
    mean = mean_of_beats([share for share, _ in found], _USUAL_PERCENT)
    of_timing = 100.0 * math.sqrt(2.0) * _PEAK_TIMING_MS / float(np.mean([length for _, length in found]))
    return _told(mean.value, combined(mean.error, of_timing), "", seen)


def _inmost_col(inwards_mm: Series, beat: Beat, strip: MModeStrip) -> int | None:
    """Return the column in which a border has come farthest inwards within its beat; None where it does not come."""
    length = beat.length_ms / strip.ms_per_col
    low, high = (round(beat.diastole_col + share * length) for share in _WITHIN_SHARES)
    if high >= len(inwards_mm):
        return None
    peak = low + int(inwards_mm[low : high + 1].argmax())
    swing = inwards_mm[peak] - inwards_mm[beat.diastole_col]
    return None if peak in (low, high) or swing < _LEAST_SWING_MM else peak


def _told(value: float | None, error: float | None, reason: str, seen: Seen) -> Measurement:
    return Measurement(
        name="", label=WALL_PEAKS, value=value, unit="%", uncertainty=error, clip=seen.clip, frames=(seen.frame,),
        method=METHOD, given_by=ENGINE, reason=reason,
    )  # fmt: skip
