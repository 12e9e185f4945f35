"""The distances between borders in each beat, and which beats bear them out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.beats import Beat, Beats
from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.borders import Borders
from fanlight.measure.m_mode.doubts import find_doubts
from fanlight.measure.m_mode.spread import combined
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.reference.m_mode import MModeSettings

_HALF_WINDOW_MS = 8.0  # about a moment, over which a distance is averaged: shorter than any phase of a beat
# How well a border is placed, as a share of the distance from the middle of its rise to its crest (simulated strips of
# ring A, seeds 300 to 319). In systole the cavity is small and trabeculae and chords lie on its walls; on the septum's
# right side lies the tricuspid valve.
_PLACEMENT_SHARE = 0.25
_PLACEMENT_SHARE_IN_SYSTOLE = 0.4
_PLACEMENT_SHARE_UNDER_VALVE = 0.5
# Of the smallest diameter: the cavity is small for a while (ring A, seeds 300 to 339).
_SYSTOLE_TIMING_MS = 20.0
_PIXEL_SHARE = 1 / math.sqrt(12)  # a border lies anywhere within its pixel


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """What is measured between which borders, and when."""

    name: str  # quantity key of the reference tables
    label: str
    upper: Border
    lower: Border
    in_systole: bool

    def col(self, beat: Beat) -> int:
        """Return the moment of a beat at which it is taken."""
        return beat.systole_col if self.in_systole else beat.diastole_col


_CAVITY = {"upper": Border.SEPTUM_END, "lower": Border.ENDOCARDIUM}
_SEPTUM = {"upper": Border.SEPTUM_START, "lower": Border.SEPTUM_END}
_FREE_WALL = {"upper": Border.ENDOCARDIUM, "lower": Border.EPICARDIUM}

LVIDD = Distance(name="lvidd", label="LVIDd", **_CAVITY, in_systole=False)
LVIDS = Distance(name="lvids", label="LVIDs", **_CAVITY, in_systole=True)
DISTANCES = (
    LVIDD,
    LVIDS,
    Distance(name="ivsd", label="IVSd", **_SEPTUM, in_systole=False),
    Distance(name="ivss", label="IVSs", **_SEPTUM, in_systole=True),
    Distance(name="lvwd", label="LVWd", **_FREE_WALL, in_systole=False),
    Distance(name="lvws", label="LVWs", **_FREE_WALL, in_systole=True),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatDistances:
    """One distance in the beats that bear it out, or why there are too few.

    Attributes
    ----------
    mm : dict of int to float
        By number of the beat.
    asked : int
        Beats that were to be measured.
    placement_mm : float
        Error of a distance by pixels, by how well both borders are placed, and by when it is taken.
    reason : str
        Why there is no value, "" where there is one.
    """

    mm: dict[int, float]
    asked: int
    placement_mm: float
    reason: str


def measure_distance(
    distance: Distance, strip: MModeStrip, borders: Borders, beats: Beats, settings: MModeSettings
) -> BeatDistances:
    """Return a distance in each beat.

    Notes
    -----
    A beat counts where both borders are borne out by their contrast and have not jumped to something that lies on
    them. Where fewer than `least_believed_share` of the beats count, none does: whatever lies on a border in most beats
    may lie on it in the others too.
    """
    doubts = find_doubts(strip, borders.rows) | ~borders.seen
    thick_mm = (borders.rows[distance.lower] - borders.rows[distance.upper]) * strip.mm_per_row
    in_doubt = doubts[distance.upper] | doubts[distance.lower]
    half = round(_HALF_WINDOW_MS / strip.ms_per_col)
    mm: dict[int, float] = {}
    for beat in beats.measured:
        col = distance.col(beat)
        about = slice(max(col - half, 0), col + half + 1)
        if not in_doubt[about].any():
            mm[beat.number] = float(thick_mm[about].mean())
    asked = sum(1 for beat in beats.beats if not beat.is_ectopic)
    return BeatDistances(
        mm=mm,
        asked=asked,
        placement_mm=combined(
            _placement_mm(distance, strip, borders), _timing_mm(distance, strip, thick_mm, beats, tuple(mm))
        ),
        reason=_reason(distance, borders, len(mm), asked, settings),
    )


def _placement_mm(distance: Distance, strip: MModeStrip, borders: Borders) -> float:
    """Return the error of a distance by its two borders."""
    blur_mm = float(np.median(borders.blur_mm[: Border.EPICARDIUM]))
    usual = _PLACEMENT_SHARE_IN_SYSTOLE if distance.in_systole else _PLACEMENT_SHARE
    upper = _PLACEMENT_SHARE_UNDER_VALVE if distance.upper is Border.SEPTUM_START else usual
    # Before fluid the epicardium blurs more than the others; the pericardium's line rises fast but is placed no better.
    own_mm = float(borders.blur_mm[Border.EPICARDIUM])
    lower_mm = max(blur_mm, own_mm) if distance.lower is Border.EPICARDIUM else blur_mm
    pixels_mm = math.sqrt(2) * _PIXEL_SHARE * strip.mm_per_row
    return combined(upper * blur_mm, usual * lower_mm, pixels_mm)


def _timing_mm(
    distance: Distance, strip: MModeStrip, thick_mm: NDArray[np.float64], beats: Beats, numbers: tuple[int, ...]
) -> float:
    """Return how much a distance changes within the error of its moment; beats err alike, so that more do not help."""
    timing_ms = _SYSTOLE_TIMING_MS if distance.in_systole else beats.diastole_timing_ms
    half = round(math.sqrt(3) * timing_ms / strip.ms_per_col)  # as wide as an even distribution of that SD (GUM 4.3.7)
    cols = [distance.col(beat) for beat in beats.beats if beat.number in numbers]
    changes = [thick_mm[max(col - half, 0) : col + half + 1] - thick_mm[col] for col in cols]
    return float(np.median([np.sqrt(np.mean(change**2)) for change in changes])) if changes else 0.0


def _reason(distance: Distance, borders: Borders, counted: int, asked: int, settings: MModeSettings) -> str:
    for border in (distance.upper, distance.lower):
        if borders.confidence(border) < settings.least_seen_share:
            return f"the {border.words} is too faint to follow"
    if asked == 0:
        return "no beat of the strip can be measured"
    if counted < settings.least_believed_share * asked or counted == 0:
        upper, lower = distance.upper.words, distance.lower.words
        return f"the {upper} and the {lower} are both borne out in only {counted} of {asked} beats"
    return ""
