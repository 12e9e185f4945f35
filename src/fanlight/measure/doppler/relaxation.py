"""Isovolumic relaxation time: from the end of aortic outflow to the onset of mitral inflow on one strip."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.filling import fillings
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import systolic_waves
from fanlight.measure.doppler.valued import Asked, averaged, refused
from fanlight.study import Measurement, Mode, Valve

_ASKED = Asked(
    name="ivrt", label="Isovolumic relaxation time", unit="ms", how="from the end of outflow to the onset of inflow"
)
_LEAST_CM_S = 25.0  # of the inflow: slower is what is left of it at the rim of the gate (engineering judgement)
# Of the outflow: in the tract it runs at 60 cm/s and more (common practice, no source). What runs away more slowly
# beside the mitral valve may as well be blood that gathers before its leak, which runs on until the valve opens. On
# ring A it ends 19 to 54 ms after the aortic valve has shut where the valve leaks (27 to 53 cm/s, 4 animals) and mostly
# 2 to 9 ms where it does not (34 to 44 cm/s, 2 animals): speed does not tell them apart, and a band that holds both is
# as wide as the time. Where the valve leaks the time would be too short, which would pass for a high filling pressure.
_LEAST_OUT_CM_S = 60.0
_FASTEST_OUT_CM_S = 250.0  # a leak's jet, or a narrow outflow that is not told from it (engineering judgement)
# Otherwise a wave is missing in between; a leak of the inflow valve lasts until it opens, so that no pause is left
# (engineering judgement).
_SHORTEST_MS, _LONGEST_MS = 20.0, 150.0
_FOOT_MS = 6.0  # one standard deviation of an end and of an onset (engineering judgement, held against ring A)
SLOW = (
    f"what runs away is slower than {_LEAST_OUT_CM_S:.0f} cm/s and may be blood that gathers before a leak: put the "
    "gate or the line between outflow tract and mitral valve"
)
FAST = (
    f"what runs away is faster than {_FASTEST_OUT_CM_S / 100:.1f} m/s: the end of an outflow that is narrowed or "
    "obstructed is not told from that of a leak's jet, which lasts until the inflow begins. Where the outflow is known "
    "to be free, put the gate or the line between outflow tract and mitral valve"
)


def relaxation_value(read: ReadSpectrum) -> Measurement | None:
    """Return the isovolumic relaxation time, a refusal, or None where it is not asked: only the left heart has it."""
    case = read.case
    if case.valve not in (Valve.MITRAL, Valve.AORTIC) or case.signal is not Signal.FORWARD:
        return None
    if case.mode is Mode.TISSUE_DOPPLER:
        return None
    for towards, flow in ((False, "outflow"), (True, "inflow")):
        if read.why_aliased(towards=towards) or read.is_unwrapped(towards=towards):
            return refused(case, _ASKED, f"the {flow} wraps: when it begins and ends is not seen")
    away = systolic_waves(read.away, read.beats)
    if max((w.peak_cm_s for w in (*away.waves, *away.open_waves)), default=0.0) > _FASTEST_OUT_CM_S:
        return refused(case, _ASKED, FAST)
    ejection = [w for w in away.waves if w.peak_cm_s >= _LEAST_CM_S]
    found = fillings(read.towards, read.beats)
    inflow = [] if isinstance(found, str) else [item.early for item in found if item.early is not None]
    inflow = [wave for wave in inflow if wave.peak_cm_s >= _LEAST_CM_S]
    if not ejection or not inflow:
        return refused(case, _ASKED, "the strip does not hold outflow and inflow of one and the same beat")
    ejection = [w for w in ejection if w.peak_cm_s >= _LEAST_OUT_CM_S]
    if not ejection:
        return refused(case, _ASKED, SLOW)
    onsets = np.asarray([wave.onset_ms for wave in inflow])
    pauses = [float(later[0] - wave.end_ms) for wave in ejection if len(later := onsets[onsets > wave.peak_ms])]
    gaps = [pause for pause in pauses if _SHORTEST_MS <= pause <= _LONGEST_MS]
    hidden_ms = [_hidden_ms(wave.drawn_on_ms[1] for wave in ejection), _hidden_ms(w.drawn_on_ms[0] for w in inflow)]
    short = sum(pause < _SHORTEST_MS for pause in pauses)
    if short and 2 * short >= len(pauses):
        return refused(case, _ASKED, "what runs away lasts until the inflow begins: it may be a leak, no outflow")
    if not gaps:
        return refused(case, _ASKED, "no inflow follows an outflow of the same beat")
    common = math.hypot(math.sqrt(2) * math.hypot(_FOOT_MS, case.axes.ms_per_px), *hidden_ms)
    of_scale = case.axis_error.time_share * float(np.mean(gaps))
    return averaged(case, _ASKED, gaps, math.hypot(common, of_scale), each=_FOOT_MS)


def _hidden_ms(drawn_on_ms: Iterable[float]) -> float:
    """Return one standard deviation of a foot by what the wall filter hides of it.

    The flow may begin or end where it is first or last seen, and as far beyond the foot that was drawn on: a uniform
    distribution about the foot whose half width is the whole of what was drawn on (JCGM 100:2008, 4.3.7).
    """
    return float(np.median(list(drawn_on_ms))) / math.sqrt(3)
