"""What a strip through aorta and left atrium measures: both diameters and their ratio, in the convention of M-mode."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import uniform_filter1d

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.m_mode.spread import combined
from fanlight.measure.root_strip.walls import BEHIND, FAR, NEAR, RootWalls, find_root_walls
from fanlight.measure.valve_strip.strip_beats import StripBeat, StripBeats, tissue_and_beats
from fanlight.measure.valve_strip.told import PIXEL_SHARE, Value, no_value, tell
from fanlight.study import Measurement

METHOD = "M-mode of aorta and left atrium, leading edge to leading edge/1"
AORTA, ATRIUM, RATIO = "aortic_root", "left_atrium", "la_ao_m_mode"
_LABELS = {AORTA: "Ao", ATRIUM: "LA", RATIO: "LA:Ao (M-mode)"}
_WHEN = {AORTA: "end-diastole", ATRIUM: "largest, about end-systole"}

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 315).
# Of the way from the middle of a rise to its crest: the least tenth at which the numbers of strips of ring A that the
# places were not set on (seeds 400 to 409) all hold their 95 % bands; on those they were set on 0.5 did.
_PLACEMENT_SHARE = 0.8
_USUAL_SHARE = 0.04  # beats and breath
_LEAST_SHARE = 0.5  # of the beats; fewer may be chance
_APART_SHARE, _APART_MM = 0.25, 1.5  # of the mean: beats that differ by more were not all seen rightly
_ABOUT_MS = 8.0  # about a moment
_LARGEST_SHARES, _LARGEST_MS = (0.2, 0.85), 450.0  # of a beat: when the atrium is largest
_EVEN_MS = 24.0  # the atrium fills and empties slower
_SEEN_SHARE = 0.7  # of the columns about a moment
_NOT_SEEN = ("the near wall of the aorta", "the far wall of the aorta", "the far wall of the atrium")


@dataclass(frozen=True, slots=True, kw_only=True)
class RootBeat:
    """Both diameters in one beat, and at which columns; None and the reason where one is not seen."""

    number: int
    diastole_col: int
    systole_col: int
    aorta_mm: float | None
    atrium_mm: float | None
    aorta_reason: str = ""
    atrium_reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RootReading:
    """Everything that was read off a strip."""

    walls: RootWalls | None
    beats: tuple[RootBeat, ...]
    measurements: tuple[Measurement, ...]


def measure_root(strip: MModeStrip, seen: Seen | None = None) -> RootReading:
    """Return diameters of aorta and left atrium and their ratio, or why there are none.

    Parameters
    ----------
    strip : MModeStrip
        From the right through the root of the aorta and the left atrium behind it, with its R waves.
    seen : Seen or None
        Where the strip was seen.

    Notes
    -----
    Aorta: at the R wave, from the leading edge of its near wall to that of its far wall. Atrium: at its largest about
    end-systole, from the leading edge of the aorta's far wall to that of its own far wall (the convention of M-mode
    that CORNELL2004 gives intervals for). Their ratio is no LA:Ao of a 2-D short axis: the cursor may miss the body of
    the atrium (WARE6), and it is never mixed with it.
    """
    seen = seen or Seen()
    ready = tissue_and_beats(strip)
    if isinstance(ready, str):
        return _refused(ready, seen)
    tissue, beats = ready
    walls = find_root_walls(strip, tissue, beats.beats)
    if isinstance(walls, str):
        return _refused(walls, seen)
    read = tuple(_of_beat(strip, walls, beat) for beat in beats.counted)
    aorta = {beat.number: beat.aorta_mm for beat in read if beat.aorta_mm is not None}
    atrium = {beat.number: beat.atrium_mm for beat in read if beat.atrium_mm is not None}
    ao = _told(AORTA, aorta, {beat.number: beat.aorta_reason for beat in read}, walls, beats, strip, seen)
    la = _told(ATRIUM, atrium, {beat.number: beat.atrium_reason for beat in read}, walls, beats, strip, seen)
    # Both stand on the wall between them: where one is in doubt, that wall may be another.
    if why := next((item.reason for item in (ao, la) if item.value is None), ""):
        return RootReading(walls=walls, beats=read, measurements=_refused(why, seen).measurements)
    shared_mm = _PLACEMENT_SHARE * walls.blur_mm[FAR]
    return RootReading(walls=walls, beats=read, measurements=(ao, la, _ratio(ao, la, shared_mm, strip, seen)))


def _of_beat(strip: MModeStrip, walls: RootWalls, beat: StripBeat) -> RootBeat:
    mm = walls.rows * strip.mm_per_row
    wide = uniform_filter1d(mm[BEHIND] - mm[FAR], max(round(_EVEN_MS / strip.ms_per_col), 1), mode="nearest")
    at = round(beat.start_ms / strip.ms_per_col)
    low = at + round(_LARGEST_SHARES[0] * beat.length_ms / strip.ms_per_col)
    high = at + round(min(_LARGEST_SHARES[1] * beat.length_ms, _LARGEST_MS) / strip.ms_per_col)
    high = min(max(high, low), mm.shape[1] - 1)
    largest = low + int(wide[low : high + 1].argmax())
    about = _about(at, strip)
    no_aorta = _unseen(walls, (NEAR, FAR), about)
    no_atrium = _unseen(walls, (FAR, BEHIND), _about(largest, strip))
    return RootBeat(
        number=beat.number, diastole_col=at, systole_col=largest, aorta_reason=no_aorta, atrium_reason=no_atrium,
        aorta_mm=None if no_aorta else float((mm[FAR] - mm[NEAR])[about].mean()),
        atrium_mm=None if no_atrium else float(wide[largest]),
    )  # fmt: skip


def _about(col: int, strip: MModeStrip) -> slice:
    half = round(_ABOUT_MS / strip.ms_per_col)
    return slice(max(col - half, 0), col + half + 1)


def _unseen(walls: RootWalls, which: tuple[int, ...], about: slice) -> str:
    """Return which wall is not seen about a moment, "" where all are."""
    for wall in which:
        if walls.seen[wall][about].mean() < _SEEN_SHARE:
            return f"{_NOT_SEEN[wall]} is not seen"
    return ""


def _told(
    name: str, mm: dict[int, float], reasons: dict[int, str], walls: RootWalls, beats: StripBeats, strip: MModeStrip,
    seen: Seen,
) -> Measurement:  # fmt: skip
    """Return the mean of one diameter over the beats that show it, or why there is none."""
    if why := _unlike(mm):
        return no_value(name, _LABELS[name], METHOD, why, seen)
    refused = {number: reason for number, reason in reasons.items() if reason}
    return tell(_value(name, walls, strip), mm, refused, beats, strip, seen)


def _unlike(mm: dict[int, float]) -> str:
    """Return that beats differ by more than a vessel or an atrium does, "" where they agree or there are none."""
    low, high = min(mm.values(), default=0.0), max(mm.values(), default=0.0)
    if high - low <= max(_APART_SHARE * (low + high) / 2, _APART_MM):
        return ""
    return f"the beats differ too much, {low:.1f} to {high:.1f} mm: a wall is not followed for certain"


def _value(name: str, walls: RootWalls, strip: MModeStrip) -> Value:
    first = NEAR if name == AORTA else FAR
    pixel_mm = PIXEL_SHARE * strip.mm_per_row
    blurs: tuple[float, ...] = walls.blur_mm[first : first + 2]
    return Value(
        name=name, label=_LABELS[name], method=f"{METHOD}; {_WHEN[name]}", usual_share=_USUAL_SHARE,
        placement_mm=combined(*(_PLACEMENT_SHARE * blur for blur in blurs), pixel_mm, pixel_mm),
        least_share=_LEAST_SHARE,
    )  # fmt: skip


def _ratio(aorta: Measurement, atrium: Measurement, shared_mm: float, strip: MModeStrip, seen: Seen) -> Measurement:
    """Return the ratio of both means.

    The depth scale takes itself out of it. The wall between the two does not: put too deep by `shared_mm` it makes the
    aorta larger and the atrium smaller, so its two parts add up (JCGM 100:2008, GUM, 5.2.2).
    """
    none = replace(no_value(RATIO, _LABELS[RATIO], METHOD, "", seen), unit="1")
    ao_mm, la_mm = (item.value or 1.0 for item in (aorta, atrium))
    shares = ((aorta.uncertainty or 0.0) / ao_mm, (atrium.uncertainty or 0.0) / la_mm)
    own = [float(np.sqrt(max(share**2 - strip.mm_share**2, 0.0))) for share in shares]
    wall_mm = combined(shared_mm, PIXEL_SHARE * strip.mm_per_row)
    both = float(np.sqrt(2 * wall_mm**2 / (ao_mm * la_mm)))
    how = f"{METHOD}; atrium at its largest over aorta at end-diastole"
    ratio = la_mm / ao_mm
    return replace(none, value=ratio, uncertainty=ratio * combined(*own, both), method=how, reason=aorta.reason)


def _refused(reason: str, seen: Seen) -> RootReading:
    none = [no_value(name, label, METHOD, reason, seen) for name, label in _LABELS.items()]
    return RootReading(walls=None, beats=(), measurements=(*none[:2], replace(none[2], unit="1")))
