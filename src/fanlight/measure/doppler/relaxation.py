"""Isovolumic relaxation time: from the end of aortic outflow to the onset of mitral inflow on one strip."""

from __future__ import annotations

import math

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
_LEAST_CM_S = 25.0  # of both flows: slower is what is left of them at the rim of the gate (engineering judgement)
# Otherwise a wave is missing in between; a leak of the inflow valve lasts until it opens, so that no pause is left
# (engineering judgement).
_SHORTEST_MS, _LONGEST_MS = 20.0, 150.0
_FOOT_MS = 6.0  # one standard deviation of an end and of an onset (engineering judgement, held against ring A)


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
    ejection = [w for w in systolic_waves(read.away, read.beats).waves if w.peak_cm_s >= _LEAST_CM_S]
    found = fillings(read.towards, read.beats)
    inflow = [] if isinstance(found, str) else [item.early for item in found if item.early is not None]
    inflow = [wave for wave in inflow if wave.peak_cm_s >= _LEAST_CM_S]
    if not ejection or not inflow:
        return refused(case, _ASKED, "the strip does not hold outflow and inflow of one and the same beat")
    onsets = np.asarray([wave.onset_ms for wave in inflow])
    pauses = [float(later[0] - wave.end_ms) for wave in ejection if len(later := onsets[onsets > wave.peak_ms])]
    gaps = [pause for pause in pauses if _SHORTEST_MS <= pause <= _LONGEST_MS]
    short = sum(pause < _SHORTEST_MS for pause in pauses)
    if short and 2 * short >= len(pauses):
        return refused(case, _ASKED, "what runs away lasts until the inflow begins: it may be a leak, no outflow")
    if not gaps:
        return refused(case, _ASKED, "no inflow follows an outflow of the same beat")
    common = math.sqrt(2) * math.hypot(_FOOT_MS, case.axes.ms_per_px)
    of_scale = case.axis_error.time_share * float(np.mean(gaps))
    return averaged(case, _ASKED, gaps, math.hypot(common, of_scale), each=_FOOT_MS)
