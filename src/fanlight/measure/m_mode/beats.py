"""End-diastole and end-systole of each whole beat of a strip, from the ECG or from the free wall's own motion."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.wall_beats import WallBeats, find_wall_beats
from fanlight.measure.rhythm import judge_rhythm

Series = NDArray[np.float64]

# Ejection ends at about a third of a slow beat and about half of a very fast one (common practice, no source).
_SYSTOLE_SHARES = (0.15, 0.7)
_EVEN_MS = 8.0  # shorter than any phase of a beat
_LEAST_SWING_MM = 0.4  # between diastole and systole: less is not told from noise
_R_TIMING_MS = 4.0  # of an R wave read off a screen: a pixel of a usual sweep (engineering judgement)
# Without an ECG (ring A, seeds 300 to 339): the largest diameter is flat at its top, and lies behind the R wave; the
# wall's inward motion repeats to a few ms.
_DIASTOLE_TIMING_MS = 25.0
_WALL_TIMING_MS = 6.0
_DIASTOLE_WITHIN_SHARE = 0.4  # of a beat before the wall is halfway in: by then the ventricle has begun to eject


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One whole beat of the strip, columns from 0; `left_out` says why it is not measured."""

    number: int  # from 1, as they stand on the strip
    diastole_col: int
    systole_col: int
    length_ms: float  # from its end-diastole, or its inward motion, to the next
    left_out: str = ""
    is_ectopic: bool = False  # or beside one: left out for its rhythm, not for its picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """The whole beats of a strip."""

    beats: tuple[Beat, ...]
    timed_by: str  # "R waves", "the free wall's own motion"
    diastole_timing_ms: float  # error of each end-diastole
    length_timing_ms: float  # error of each end of a beat's length
    rhythm_note: str = ""  # what the rhythm asks of a mean

    @property
    def measured(self) -> tuple[Beat, ...]:
        """The beats that count."""
        return tuple(beat for beat in self.beats if not beat.left_out)


def find_beats(strip: MModeStrip, cavity_mm: Series, wall_mm: Series) -> Beats | str:
    """Return the whole beats, or why there are none.

    Parameters
    ----------
    cavity_mm : ndarray of shape (column,)
        Internal diameter of the left ventricle.
    wall_mm : ndarray of shape (column,)
        Depth of the free wall's endocardium.

    Notes
    -----
    End-diastole is the column of the R wave, within a few columns of the onset of QRS. Without an ECG a beat lasts from
    one inward motion of the free wall to the next (`wall_beats`), and its end-diastole is the largest diameter before.
    End-systole is the smallest diameter, between 15 and 70 % of the beat. Beats cut by an end of the strip do not
    count, nor do those that an ectopic beat spoils (`measure.rhythm`).
    """
    course = gaussian_filter1d(cavity_mm, max(_EVEN_MS / strip.ms_per_col, 0.3), mode="nearest")
    if not strip.r_times_ms:
        own = find_wall_beats(strip, wall_mm)
        return own if isinstance(own, str) else _by_wall(own, course, strip)
    last = len(course) - 1
    starts = [start for r in strip.r_times_ms if 0 <= (start := r / strip.ms_per_col) <= last]
    error_ms = max(strip.ms_per_col, _R_TIMING_MS)
    return _beats(starts, starts, course, strip, "R waves", (error_ms, error_ms))


def _by_wall(own: WallBeats, course: Series, strip: MModeStrip) -> Beats | str:
    """Return beats that are as long as from one inward motion to the next, each begun by the largest diameter."""
    within = _DIASTOLE_WITHIN_SHARE * own.period_cols
    starts, inward = [], []
    for col in own.inward_cols:
        first = max(round(col - within), 0)
        start = round(col) - int(course[first : round(col) + 1][::-1].argmax())  # the last of several
        if start > 0:  # else the largest diameter lies before the strip
            starts.append(float(start))
            inward.append(col)
    errors_ms = max(strip.ms_per_col, _DIASTOLE_TIMING_MS), max(strip.ms_per_col, _WALL_TIMING_MS)
    return _beats(starts, inward, course, strip, "the free wall's own motion", errors_ms)


def _beats(
    starts: list[float],
    marks: list[float],
    course: Series,
    strip: MModeStrip,
    timed_by: str,
    errors_ms: tuple[float, float],
) -> Beats | str:
    """Return the beats between starts, as long as from mark to mark."""
    if len(starts) < 2:
        return "no whole beat lies on the strip"
    lengths = [(b - a) * strip.ms_per_col for a, b in pairwise(marks)]
    rhythm = judge_rhythm(lengths)
    beats = [
        _beat(number, (start, end), length, course, ectopic)
        for number, ((start, end), length, ectopic) in enumerate(
            zip(pairwise(starts), lengths, rhythm.left_out, strict=True), start=1
        )
    ]
    return Beats(
        beats=tuple(beats), timed_by=timed_by, diastole_timing_ms=errors_ms[0], length_timing_ms=errors_ms[1],
        rhythm_note=rhythm.note,
    )  # fmt: skip


def _beat(number: int, ends: tuple[float, float], length_ms: float, course: Series, ectopic: str) -> Beat:
    start, end = ends
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
        length_ms=length_ms,
        left_out=left_out,
        is_ectopic=bool(ectopic),
    )
