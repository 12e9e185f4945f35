"""What a spectrum should give, from how fast the blood truly runs: peaks, integrals and times of each whole beat.

Taken from the model's curve by plain sums and thresholds, not by the code that is measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from fanlight.measure.doppler.case import Signal
from fanlight.study import Mode, Valve
from measure._spectral_truth import STEP_MS, TrueFlow

Floats = NDArray[np.float64]

FOOT_SHARE = 0.03  # of a peak: a wave begins and ends there
SYSTOLE_SHARE = 0.62  # of a beat, within which outflow and leaks of inflow valves peak
STEADY_SHARE = 0.7  # of the highest beat: lower ones show that breath took the beam out of the flow
LATE_SHARE, LATE_MS = 0.15, 70.0  # after R, until when the wave of the atrium may last
RIDING_SHARE = 0.5  # height of the valley over the lower wave, from which both are fused in part
APART_MS, PROMINENT, HIGH = 35.0, 0.04, 0.25
FALL_FROM, FALL_TO, LEAST_FALL = 0.85, 0.35, 0.25  # where A cuts it, what is left tells no slope
HEARD_MS = 100.0  # before and after a relaxation, in which outflow and inflow peak
LEAST_FLOW_CM_S = 25.0  # of both flows at the relaxation: slower is what is left of them


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """A spectrum and what is true of it."""

    flow: TrueFlow
    r_times_ms: tuple[float, ...]  # as the times of the flow, in the strip and about it
    valve: Valve
    signal: Signal
    mode: Mode
    relaxations: tuple[tuple[float, float], ...] = ()  # of the left ventricle, from when to when; the same times


def expected_values(asked: Asked) -> dict[str, float]:
    """Return the true values by name; one that a beat does not have is missing."""
    if asked.signal is Signal.ANNULUS:
        return _ring(asked)
    if asked.signal is Signal.LEAK:
        return _leak(asked)
    flow = _inflow(asked) if _fills(asked.valve) else _outflow(asked)
    return flow | _relaxation(asked) if asked.valve in (Valve.MITRAL, Valve.AORTIC) else flow


def _fills(valve: Valve) -> bool:
    return valve in (Valve.MITRAL, Valve.TRICUSPID)


def _beats(asked: Asked, *, begun: bool) -> list[tuple[float, float]]:
    """Return whole beats on the strip, and with `begun` the last one, whose systole may lie on it."""
    first, last = asked.flow.times_ms[0] - STEP_MS, asked.flow.times_ms[-1] + STEP_MS
    times = asked.r_times_ms
    usual = float(np.median(np.diff(times)))
    whole = [(a, b) for a, b in pairwise(times) if a >= first and b <= last]
    inside = [a for a in times if first <= a < last]
    if begun and inside and inside[-1] + usual > last:
        whole.append((inside[-1], inside[-1] + usual))
    return whole


def _side(asked: Asked, *, towards: bool) -> Floats:
    return asked.flow.towards_cm_s if towards else asked.flow.away_cm_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _True:
    times: Floats
    v: Floats
    top: int

    @property
    def peak(self) -> float:
        return float(self.v[self.top])

    @property
    def length_ms(self) -> float:
        return float(self.times[-1] - self.times[0]) + STEP_MS


def _wave(times: Floats, v: Floats, top: int, least: int = 0, most: int | None = None) -> _True | None:
    """Return the wave about a peak down to its feet; None where the strip cuts it."""
    end = len(v) - 1 if most is None else most
    first = last = top
    while first > least and v[first - 1] > FOOT_SHARE * v[top]:
        first -= 1
    while last < end and v[last + 1] > FOOT_SHARE * v[top]:
        last += 1
    if first == 0 or last == len(v) - 1:
        return None
    return _True(times=times[first : last + 1], v=v[first : last + 1], top=top - first)


def _systolic(asked: Asked, *, towards: bool) -> list[_True]:
    times, v = asked.flow.times_ms, _side(asked, towards=towards)
    found = []
    for start, end in _beats(asked, begun=True):
        inside = np.flatnonzero((times >= start) & (times < start + SYSTOLE_SHARE * (end - start)))
        if len(inside) and v[inside].max() > 0:
            wave = _wave(times, v, int(inside[np.argmax(v[inside])]))
            if wave is not None:
                found.append(wave)
    best = max((wave.peak for wave in found), default=0.0)
    return [wave for wave in found if wave.peak >= STEADY_SHARE * best]


def _outflow(asked: Asked) -> dict[str, float]:
    waves = _systolic(asked, towards=False)
    if not waves:
        return {}
    key, short = ("aortic", "aortic") if asked.valve is Valve.AORTIC else ("pulmonary", "pa")
    peaks = [wave.peak / 100 for wave in waves]
    top = max(peaks) if max(peaks) >= 2.0 else float(np.mean(peaks))
    squares = [4 * np.trapezoid((w.v / 100) ** 2, w.times) / w.length_ms for w in waves]
    rises = [float(w.times[w.top] - w.times[0]) + STEP_MS / 2 for w in waves]
    lengths = [w.length_ms for w in waves]
    return {
        f"{key}_vmax": top, f"{key}_peak_gradient": 4 * top**2, f"{key}_mean_gradient": float(np.mean(squares)),
        f"{key}_vti": float(np.mean([np.trapezoid(w.v, w.times) / 1000 for w in waves])),
        f"{short}_acceleration_time": float(np.mean(rises)), f"{short}_ejection_time": float(np.mean(lengths)),
        f"{short}_at_et": float(np.mean(rises) / np.mean(lengths)),
    }  # fmt: skip


def _leak(asked: Asked) -> dict[str, float]:
    waves = _systolic(asked, towards=False)
    if not waves:
        return {}
    key, top = "mr" if asked.valve is Valve.MITRAL else "tr", max(wave.peak for wave in waves) / 100
    return {f"{key}_vmax": top, f"{key}_peak_gradient": 4 * top**2}


def _pairs(asked: Asked, *, towards: bool) -> list[tuple[_True | None, _True | None, float]]:
    """Return early and late wave of each beat, and how high the valley between them is; late None: one wave."""
    times, v = asked.flow.times_ms, _side(asked, towards=towards)
    found: list[tuple[_True | None, _True | None, float]] = []
    for start, end in _beats(asked, begun=False):
        late = min(LATE_SHARE * (end - start), LATE_MS)
        inside = np.flatnonzero((times >= start + late) & (times < end + late))
        if not len(inside) or v[inside].max() <= 0:
            continue
        most = float(v[inside].max())
        peaks, _ = find_peaks(
            v[inside], height=HIGH * most, prominence=PROMINENT * most, distance=round(APART_MS / STEP_MS)
        )
        tops = [int(inside[p]) for p in peaks]
        if len(tops) == 1:
            found.append((_wave(times, v, tops[0]), None, 1.0))
        elif len(tops) > 1:
            valley = tops[0] + int(np.argmin(v[tops[0] : tops[-1] + 1]))
            share = float(v[valley] / min(v[tops[0]], v[tops[-1]]))
            found.append((_wave(times, v, tops[0], 0, valley), _wave(times, v, tops[-1], valley), share))
    return found


def _inflow(asked: Asked) -> dict[str, float]:
    pairs = [pair for pair in _pairs(asked, towards=True) if pair[1] is not None]
    early = [a for a, _, _ in pairs if a is not None]
    apart = [(a, b) for a, b, share in pairs if a is not None and b is not None and share <= RIDING_SHARE]
    key, out = asked.valve.value, {}
    if early:
        out[f"{key}_e"] = float(np.mean([wave.peak for wave in early])) / 100
    falls = [fall for a in early if (fall := _fall_ms(a)) is not None]
    if falls:
        out[f"{key}_e_deceleration_time"] = float(np.mean(falls))
    if apart:
        out[f"{key}_a"] = float(np.mean([b.peak for _, b in apart])) / 100
        out[f"{key}_e_a"] = float(np.mean([a.peak / b.peak for a, b in apart]))
        if asked.mode is Mode.PULSED_WAVE:  # other flow on a whole line hides where the wave begins and ends
            out[f"{key}_a_duration"] = float(np.mean([b.length_ms for _, b in apart]))
    return out


def _fall_ms(wave: _True) -> float | None:
    t, v = wave.times[wave.top :], wave.v[wave.top :]
    used = (v <= FALL_FROM * wave.peak) & (v >= FALL_TO * wave.peak)
    if used.sum() < 3 or v[used].max() - v[used].min() < LEAST_FALL * wave.peak:
        return None
    slope, level = np.polyfit(t[used], v[used], 1)
    return float(-level / slope - wave.times[wave.top])


def _relaxation(asked: Asked) -> dict[str, float]:
    """Return the mean time of the heart itself, of the beats on the strip whose outflow and inflow the beam hears.

    What a beam hears in between is not asked: a leak, which runs until the valve opens, ends later than ejection.
    """
    flow, found = asked.flow, []
    for shuts_ms, opens_ms in asked.relaxations:
        ejects = (flow.times_ms > shuts_ms - HEARD_MS) & (flow.times_ms < shuts_ms)
        fills = (flow.times_ms > opens_ms) & (flow.times_ms < opens_ms + HEARD_MS)
        if shuts_ms - HEARD_MS < flow.times_ms[0] or opens_ms + HEARD_MS > flow.times_ms[-1]:
            continue
        if min(flow.away_cm_s[ejects].max(), flow.towards_cm_s[fills].max()) >= LEAST_FLOW_CM_S:
            found.append(opens_ms - shuts_ms)
    return {"ivrt": float(np.mean(found))} if found else {}


def _ring(asked: Asked) -> dict[str, float]:
    key, out = f"{asked.valve.value}_annulus", {}
    systole = _systolic(asked, towards=True)
    if systole:
        out[f"{key}_s"] = float(np.mean([wave.peak for wave in systole]))
    pairs = [(a, b) for a, b, _ in _pairs(asked, towards=False) if a is not None and b is not None]
    if pairs:
        out[f"{key}_e"] = float(np.mean([a.peak for a, _ in pairs]))
        out[f"{key}_a"] = float(np.mean([b.peak for _, b in pairs]))
    return out
