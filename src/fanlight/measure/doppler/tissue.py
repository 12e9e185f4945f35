"""Values of a ring that moves, by tissue Doppler: S' towards the apex in systole, E' and A' away from it."""

from __future__ import annotations

import numpy as np

from fanlight.measure.doppler.case import SpectrumCase
from fanlight.measure.doppler.filling import fillings
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import LEAST_RING_CM_S, is_open, systolic_waves
from fanlight.measure.doppler.valued import Asked, angle_note, averaged, refused, velocity_share
from fanlight.measure.doppler.wave import Wave
from fanlight.study import Measurement

_LEAST_MS = 45.0  # shorter is the jerk of a valve that shuts (engineering judgement)


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
    up, down = case.runs_towards_probe, not case.runs_towards_probe
    systole = [
        w for w in systolic_waves(read.side(towards=up), read.beats, LEAST_RING_CM_S).waves if w.length_ms >= _LEAST_MS
    ]
    found = fillings(read.side(towards=down), read.beats, LEAST_RING_CM_S)
    out = [_value(read, asked["s"], systole, up, "no whole systolic wave lies on the strip")]
    if isinstance(found, str):
        return (*out, refused(case, asked["e"], found), refused(case, asked["a"], found))
    if sum(item.is_one for item in found) * 2 > len(found):
        why = "early and late wave are fused"
        return (*out, refused(case, asked["e"], why), refused(case, asked["a"], why))
    apart = [item for item in found if not item.is_one]
    early = [item.early for item in apart if item.early is not None and not is_open(item.early)]
    late = [item.late for item in apart if item.late is not None and not is_open(item.late)]
    out.append(_value(read, asked["e"], early, down, "no whole early wave lies on the strip"))
    out.append(_value(read, asked["a"], late, down, "no late wave stands apart"))
    return tuple(out)


def _value(read: ReadSpectrum, asked: Asked, waves: list[Wave], towards: bool, why: str) -> Measurement:
    case: SpectrumCase = read.case
    if alias := read.why_aliased(towards=towards):
        return refused(case, asked, alias)
    if not waves:
        return refused(case, asked, why)
    speeds = [wave.peak_cm_s for wave in waves]
    share = velocity_share(case, read.side(towards=towards), max(speeds))
    return averaged(case, asked, speeds, share * float(np.mean(speeds)), notes=[angle_note(case), *read.beats.notes])
