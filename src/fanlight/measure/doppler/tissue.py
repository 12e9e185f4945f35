"""Values of a ring that moves, by tissue Doppler: S' towards the apex in systole, E' and A' away from it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fanlight.measure.doppler.filling import RIDING, Filling, are_fused, fillings, read_waves, why_none
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import LEAST_RING_CM_S, is_faster, systolic_waves
from fanlight.measure.doppler.valued import Asked, angle_note, averaged, common_notes, refused, velocity_error
from fanlight.measure.doppler.wave import Wave
from fanlight.measure.doppler.wrap import RING_PASSES
from fanlight.study import Measurement

_LEAST_MS = 45.0  # shorter is the jerk of a valve that shuts (engineering judgement)
# A column sums up 25 ms at most: what is above half its peak for no longer is not shown as high as it is, and swings as
# a leaflet does. In the model a leaflet of ring A shuts within 20 to 25 ms, a ring's A' takes 28 to 38.
_LEAST_HALF_MS = 26.0
# Part of a beat after R that lies in systole at rates from 60 to 240 a minute, after the late wave and the jerk that
# shuts the valve; and by how much more must run away there than towards the probe (engineering judgement).
_EJECTS_FROM, _EJECTS_TO, _CLEARLY_MORE = 0.2, 0.32, 2.0
WRONG_WAY = (
    "in systole the signal runs away from the probe: perhaps the display is turned over, or the gate does not lie on "
    "the ring"
)
NOT_TOLD = "only one wave a beat runs away from the probe: which wave is systole's is not known"
_NO_WAVE = "no whole systolic wave lies on the strip"
NOT_SEEN = "the edge fades or is torn before its peak: how fast the ring moves cannot be read"
JERK = f"it lasts less than {_LEAST_MS:.0f} ms: the jerk of a valve that shuts"
LEAFLET = (
    f"the wave stays above half of its peak for {_LEAST_HALF_MS:.0f} ms at most, as a leaflet swings and no wall does: "
    "put the gate on the wall at the ring"
)


def tissue_values(read: ReadSpectrum) -> tuple[Measurement, ...]:
    """Return S', E' and A' of a mitral or tricuspid ring, seen from the apex."""
    case = read.case
    key, word = case.valve.value, case.valve.value.capitalize()
    asked = {
        part: Asked(name=f"{key}_annulus_{part}", label=f"{word} annulus {part.upper()}'", unit="cm/s")
        for part in ("s", "e", "a")
    }
    if not case.is_inflow:
        return tuple(refused(case, item, "asked of the mitral and tricuspid rings") for item in asked.values())
    if _runs_wrong_way(read):
        return tuple(refused(case, item, WRONG_WAY) for item in asked.values())
    found = fillings(read.side(towards=not case.runs_towards_probe), read.beats, LEAST_RING_CM_S)
    if not read.beats.has_r_waves and (isinstance(found, str) or are_fused(found)):
        why = found if isinstance(found, str) else f"{read.beats.without_r}, and {NOT_TOLD}"
        return tuple(refused(case, item, why) for item in asked.values())
    return (_systolic(read, asked["s"]), *_diastolic(read, asked["e"], asked["a"], found))


def _runs_wrong_way(read: ReadSpectrum) -> bool:
    """Whether in the systole of most beats clearly more runs away from the probe than towards it."""
    up, down = (read.side(towards=towards) for towards in (True, False))
    wrong = 0
    for beat in read.beats.beats:
        share = (up.times_ms - beat.start_ms) / beat.rr_ms
        inside = (share > _EJECTS_FROM) & (share < _EJECTS_TO)
        wrong += bool(down.velocity_cm_s[inside].sum() > _CLEARLY_MORE * up.velocity_cm_s[inside].sum())
    return 2 * wrong > len(read.beats.beats)


def _systolic(read: ReadSpectrum, asked: Asked) -> Measurement:
    towards = read.case.runs_towards_probe
    found = systolic_waves(read.side(towards=towards), read.beats, LEAST_RING_CM_S)
    waves, opened = ([wave for wave in part if not is_jerk(wave)] for part in (found.waves, found.open_waves))
    why = found.reason or _NO_WAVE
    if opened and (not waves or is_faster(opened, waves)):
        waves, why = [], NOT_SEEN if found.stays_within else RING_PASSES
    return _value(read, asked, waves, towards, why)


def _diastolic(
    read: ReadSpectrum, early: Asked, late: Asked, found: Sequence[Filling] | str
) -> tuple[Measurement, Measurement]:
    case, towards = read.case, not read.case.runs_towards_probe
    why = found if isinstance(found, str) else "early and late wave are fused" if are_fused(found) else ""
    if read.why_aliased(towards=towards):
        return refused(case, early, RING_PASSES), refused(case, late, RING_PASSES)
    if isinstance(found, str) or why:
        return refused(case, early, why), refused(case, late, why)
    envelope = read.side(towards=towards)
    beats = [item for item in found if not item.is_one]
    apart = [item for item in beats if not item.is_riding]
    riding = RIDING if beats and not apart else ""
    first = read_waves([item.early for item in beats], envelope)
    second = read_waves([item.late for item in apart], envelope)
    long_first, long_second = of_walls(first), of_walls(second)
    why_first = LEAFLET if first and not long_first else why_none(beats, "early", "cm/s")
    why_second = LEAFLET if second and not long_second else riding or why_none(apart, "late", "cm/s")
    if _pass(beats, "early", long_first):
        long_first, why_first = [], RING_PASSES
    if _pass(apart, "late", long_second):
        long_second, why_second = [], RING_PASSES
    return (
        _value(read, early, long_first, towards, why_first), _value(read, late, long_second, towards, why_second),
    )  # fmt: skip


def is_jerk(wave: Wave) -> bool:
    """Whether a wave towards the probe is too short for a systole."""
    return wave.length_ms < _LEAST_MS


def of_walls(waves: Sequence[Wave]) -> list[Wave]:
    """Return the waves that a wall can make, or none where most are a leaflet's."""
    long = [wave for wave in waves if wave.half_length_ms > _LEAST_HALF_MS]
    return long if 2 * len(long) > len(waves) else []


def _pass(found: Sequence[Filling], part: str, whole: Sequence[Wave]) -> bool:
    """Whether "early" or "late" waves run out of the scale beyond all whole ones, which tell of weaker beats only."""
    opened = [wave for item in found if (wave := getattr(item, part)) is not None and wave.is_open]
    return bool(opened) and (not whole or is_faster(opened, whole))


def _value(read: ReadSpectrum, asked: Asked, waves: list[Wave], towards: bool, why: str) -> Measurement:
    case = read.case
    if read.why_aliased(towards=towards):
        return refused(case, asked, RING_PASSES)
    if not waves:
        return refused(case, asked, why)
    speeds = [wave.peak_cm_s for wave in waves]
    share = velocity_error(case, read.side(towards=towards)).share_at(max(speeds))
    notes = [angle_note(case), *common_notes(read, towards=towards)]
    return averaged(case, asked, speeds, share * float(np.mean(speeds)), notes=notes)
