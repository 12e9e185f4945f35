"""How much blood passes each opening of the heart at each moment of a recording.

The left ventricle's volume is what is drawn; flow is its slope: what leaves it passes the aortic valve, less what leaks
back, and what fills it passes the mitral valve. The right heart passes the same stroke in its own time: over many beats
both sides must (conservation of mass).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.beat_timing import Timing, time_beat
from fanlight.heart.blood.bernoulli import jet_m_s
from fanlight.heart.blood.circulation import Circulation, Leak, Narrowing
from fanlight.heart.blood.volumes import left_atrium_mm3, left_ventricle_mm3, resting_left_atrium_mm3
from fanlight.heart.cycle import state_at
from fanlight.heart.rhythm import Beat

Floats = NDArray[np.float64]

STEP_MS = 2.0  # of the table; waves rise over 30 ms and more
# The veins between lung and atrium give and take, so that their flow is smoother than the atrium's own change
# (engineering judgement; with it the waves in systole and early diastole are of like height, as textbooks draw them).
_VEIN_SMOOTH_MS = 140.0
_ISOVOLUMIC_SHARE = 0.70  # of the highest pressure drop at which the arterial valve opens (engineering judgement)
RING_SHARE = 0.86  # diameter of a great vessel's ring over that of its sinuses, as both are drawn
_TRACE_MS = 70.0  # a whiff behind shut leaflets is over after this (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowTable:
    """Flow (mm³/s, above 0 the way blood should go) and jets (mm/s) at evenly spaced times of one recording.

    All arrays have the shape of `times_ms`.
    """

    times_ms: Floats
    mitral: Floats
    aortic: Floats
    tricuspid: Floats
    pulmonic: Floats
    pulmonary_veins: Floats  # all together; below 0 while the atrium contracts
    venae_cavae: Floats
    mitral_jet: Floats  # speed of the leak's jet at its orifice
    tricuspid_jet: Floats
    mitral_leak_mm2: float  # orifice of the leak, 0: shut
    tricuspid_leak_mm2: float
    subaortic_mm2: float  # narrowest cross-section of the way out, where it is narrowed; else 0
    pulmonic_mm2: float

    def at(self, name: str, time_ms: float) -> float:
        """Return one of the arrays at a moment, between the table's times by a straight line."""
        return float(np.interp(time_ms, self.times_ms, getattr(self, name)))


def flow_table(
    animal: Animal, circulation: Circulation, beats: Sequence[Beat], start_ms: float, end_ms: float
) -> FlowTable:
    """Return the flows of a recording.

    Parameters
    ----------
    animal : Animal
        Whose heart.
    circulation : Circulation
        Its pressures and lesions.
    beats : sequence of Beat
        That cover the time.
    start_ms, end_ms : float
        Times of the rhythm between which flows are asked for; those before and behind are cut to them.

    Raises
    ------
    ValueError
        If no time is left between start and end.
    """
    if not end_ms > start_ms:
        raise ValueError(f"flows are asked for from {start_ms:g} to {end_ms:g} ms: the end must come later")
    # whole beats: the stroke of a beat that is cut short would be a part of it
    touched = [b for b in beats if b.end_ms > start_ms - _VEIN_SMOOTH_MS and b.onset_ms < end_ms + _VEIN_SMOOTH_MS]
    if not touched:
        raise ValueError(f"no beat covers {start_ms:g} to {end_ms:g} ms; ask for beats of a longer duration")
    times = np.arange(touched[0].onset_ms, touched[-1].end_ms, STEP_MS)
    left = _left_volumes(animal, beats, times)
    change = np.gradient(left, STEP_MS / 1000.0)
    timings = [time_beat(animal.rhythm, beat) for beat in beats]
    index = np.clip(np.searchsorted([beat.onset_ms for beat in beats], times, side="right") - 1, 0, len(beats) - 1)
    into = times - np.asarray([beats[i].onset_ms for i in index])
    ejects = np.asarray([into[k] < timings[i].aortic.end_ms for k, i in enumerate(index)])
    out = np.where(ejects, np.maximum(-change, 0.0), 0.0)
    mitral = np.where(ejects, 0.0, np.maximum(change, 0.0))
    leaks = circulation.mitral_leak, circulation.tricuspid_leak
    drops = circulation.mitral_drop_mmhg, circulation.tricuspid_drop_mmhg
    jets = [
        _jets(leak, drop, timings, index, into, right)
        for leak, drop, right in zip(leaks, drops, (False, True), strict=True)
    ]
    # Over a whole beat the balance is right. While all valves are shut the drawn ventricle keeps its volume, although
    # its leak runs: what it loses then is taken off ejection.
    aortic = out * (1.0 - _lost(leaks[0]))
    strokes = float(out.sum()), float(aortic.sum()) / (1.0 - _lost(leaks[1]))
    areas = [_orifice_mm2(leak, jet, stroke) for leak, jet, stroke in zip(leaks, jets, strokes, strict=True)]
    forward = _strokes(aortic, index)
    right = _right_waves(timings, index, into, forward, circulation.tricuspid_leak)
    veins = _veins(animal, beats, times, mitral - areas[0] * jets[0])
    return FlowTable(
        times_ms=times, mitral=mitral, aortic=aortic, tricuspid=right[0], pulmonic=right[1],
        pulmonary_veins=veins, venae_cavae=_smoothed(right[0] - areas[1] * jets[1]),
        mitral_jet=jets[0], tricuspid_jet=jets[1], mitral_leak_mm2=areas[0], tricuspid_leak_mm2=areas[1],
        subaortic_mm2=_narrow_mm2(circulation.subaortic, aortic, animal.anatomy.sizes.aorta_mm),
        pulmonic_mm2=_narrow_mm2(
            circulation.pulmonic, right[1], animal.anatomy.sizes.aorta_mm * animal.anatomy.sizes.pulmonary_ao_ratio
        ),
    )  # fmt: skip


def _left_volumes(animal: Animal, beats: Sequence[Beat], times: Floats) -> Floats:
    volumes = [left_ventricle_mm3(animal.anatomy, state_at(animal.rhythm, beats, float(t))) for t in times]
    return np.asarray(volumes)


def _strokes(flow: Floats, index: NDArray[np.int64]) -> Floats:
    """Return for each time the volume (mm³) that its beat passes with this flow."""
    step_s = STEP_MS / 1000.0
    sums = np.bincount(index, weights=flow * step_s, minlength=int(index.max()) + 1)
    return np.asarray(sums[index], np.float64)


def _drop_share(timing: Timing, t: float, right: bool) -> float:
    """Return the pressure drop from a ventricle to its atrium as a share of its highest; 0 while it fills.

    It rises while all valves are shut, is a dome in ejection and falls while all are shut again.
    """
    out, inlet = (timing.pulmonic, timing.tricuspid) if right else (timing.aortic, timing.mitral)
    opens, shuts, fills = out.start_ms, out.end_ms, inlet.early.start_ms
    if t >= fills or t < 0.0:
        return 0.0
    if t < opens:
        return _ISOVOLUMIC_SHARE * _smooth(t / opens)
    if t < shuts:
        return _ISOVOLUMIC_SHARE + (1.0 - _ISOVOLUMIC_SHARE) * math.sin(math.pi * (t - opens) / (shuts - opens))
    return _ISOVOLUMIC_SHARE * (1.0 - _smooth((t - shuts) / (fills - shuts)))


def _smooth(x: float) -> float:
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


def _jets(
    leak: Leak | None, drop_mmhg: float, timings: Sequence[Timing], index: NDArray[np.int64], into: Floats, right: bool
) -> Floats:
    """Return the speed of a leak's jet, mm/s."""
    speeds = np.zeros(len(into))
    if leak is None:
        return speeds
    for k, (i, t) in enumerate(zip(index, into, strict=True)):
        if leak.is_trace and t > _TRACE_MS:
            continue
        speeds[k] = 1000.0 * jet_m_s(drop_mmhg * _drop_share(timings[i], float(t), right))
    return speeds


def _lost(leak: Leak | None) -> float:
    """Return the share of a ventricle's stroke that goes back."""
    return leak.fraction if leak is not None else 0.0


def _orifice_mm2(leak: Leak | None, jets: Floats, strokes: float) -> float:
    """Return the orifice through which the leak's share of the ventricle's strokes goes back.

    `strokes` is the sum over the table of what the ventricle drives out, both ways.
    """
    if leak is None or not jets.any():
        return 0.0
    return leak.fraction * strokes / float(jets.sum())


def _narrow_mm2(narrow: Narrowing | None, flow: Floats, vessel_mm: float) -> float:
    """Return the cross-section at which the highest flow makes the jet that the gradient asks for (Bernoulli).

    Speed before the narrow place is that in a tract as wide as the vessel's ring.
    """
    if narrow is None:
        return 0.0
    highest = float(flow.max())
    ring_mm2 = math.pi * (RING_SHARE * 0.5 * vessel_mm) ** 2
    return min(highest / (1000.0 * jet_m_s(narrow.gradient_mmhg, highest / ring_mm2 / 1000.0)), ring_mm2)


def _right_waves(
    timings: Sequence[Timing], index: NDArray[np.int64], into: Floats, forward: Floats, leak: Leak | None
) -> tuple[Floats, Floats]:
    """Return tricuspid and pulmonic flow: the left side's forward stroke in the right side's own time."""
    kept = 1.0 - _lost(leak)
    tricuspid, pulmonic = np.zeros(len(into)), np.zeros(len(into))
    for k, (i, t) in enumerate(zip(index, into, strict=True)):
        wave, inlet = timings[i].pulmonic, timings[i].tricuspid
        pulmonic[k] = forward[k] * wave.height(float(t)) / (wave.area_ms / 1000.0)
        share = inlet.early_share * inlet.early.height(float(t)) / inlet.early.area_ms
        if inlet.atrial is not None:
            share += inlet.atrial_share * inlet.atrial.height(float(t)) / inlet.atrial.area_ms
        tricuspid[k] = forward[k] / kept * share * 1000.0
    return tricuspid, pulmonic


def _veins(animal: Animal, beats: Sequence[Beat], times: Floats, leaves: Floats) -> Floats:
    """Return the flow through all lung veins: what the atrium passes on and what it keeps, smoothed by the veins."""
    resting = resting_left_atrium_mm3(animal.anatomy)
    held = np.asarray(
        [left_atrium_mm3(animal.anatomy, state_at(animal.rhythm, beats, float(t)), resting) for t in times]
    )
    return _smoothed(leaves + np.gradient(held, STEP_MS / 1000.0))


def _smoothed(flow: Floats) -> Floats:
    """Return a flow as veins that give and take let it through: the mean over `_VEIN_SMOOTH_MS`."""
    n = max(1, round(_VEIN_SMOOTH_MS / STEP_MS))
    padded = np.pad(flow, n, mode="reflect")
    return np.convolve(padded, np.full(n, 1.0 / n), mode="same")[n:-n]
