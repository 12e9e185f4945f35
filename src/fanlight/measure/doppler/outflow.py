"""Values of flow out of a ventricle: peak, gradients, velocity-time integral, acceleration and ejection time."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanlight.measure.doppler.case import SpectrumCase
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import SystolicWaves, systolic_waves
from fanlight.measure.doppler.valued import (
    GRADIENT,
    Asked,
    angle_note,
    averaged,
    highest,
    refused,
    velocity_share,
)
from fanlight.measure.doppler.wave import Wave
from fanlight.measure.doppler.wrap import ALIASED, agree
from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.study import Measurement, Mode, Valve

# From here on an outflow is taken for the jet of a narrowing, of which the highest envelope counts: the start of the
# mild band of BOXERAS2006 (89 Boxers).
JET_FROM_M_S = 2.0
_CLEARLY = 1.05  # more than beats of one rhythm differ by breathing and speckle (engineering judgement)
# How sure times are, one standard deviation: where a flank meets the baseline, and where a blunt top has its peak.
# Engineering judgement, held against ring A.
_FOOT_MS, _PEAK_MS = 5.0, 9.0
_CLICKED_SHARE = 0.25  # of a wave's columns: with more under clicks, only its peak is read (engineering judgement)
# Of the integral, one standard deviation: what the length of a column leaves unsure at the feet; and, times the height
# from which the feet are drawn on, what the wall filter hides.
_INTEGRAL_SHARE, _STEP_SHARE = 0.025, 0.12


def asked_of(valve: Valve) -> dict[str, Asked]:
    """Return names and labels of a valve's outflow values."""
    key, word = ("aortic", "Aortic") if valve is Valve.AORTIC else ("pulmonary", "Pulmonary")
    short = "aortic" if valve is Valve.AORTIC else "pa"
    return {
        "vmax": Asked(name=f"{key}_vmax", label=f"{word} peak velocity", unit="m/s"),
        "peak": Asked(name=f"{key}_peak_gradient", label=f"{word} peak gradient", unit="mmHg", how=GRADIENT),
        "mean": Asked(
            name=f"{key}_mean_gradient", label=f"{word} mean gradient", unit="mmHg",
            how="mean of 4·v² over ejection (QUINONES2002)",
        ),
        "vti": Asked(name=f"{key}_vti", label=f"{word} velocity-time integral", unit="cm"),
        "at": Asked(
            name=f"{short}_acceleration_time", label=f"{word} acceleration time", unit="ms", how="from onset to peak"
        ),
        "et": Asked(name=f"{short}_ejection_time", label=f"{word} ejection time", unit="ms", how="from onset to end"),
        "at_et": Asked(name=f"{short}_at_et", label=f"{word} acceleration to ejection time", unit="1"),
    }  # fmt: skip


def outflow_values(read: ReadSpectrum) -> tuple[Measurement, ...]:
    """Return all values of an outflow, each with its uncertainty or the reason why there is none."""
    case, asked = read.case, asked_of(read.case.valve)
    towards = case.runs_towards_probe
    envelope = read.side(towards=towards)
    found = systolic_waves(envelope, read.beats)
    why = read.why_aliased(towards=towards)
    if why and len(found.open_waves) >= len(found.waves):
        return tuple(refused(case, item, why) for item in asked.values())
    waves = found.waves
    if not waves or _is_faster(found.open_waves, waves):
        return _without_whole(case, asked, found)
    peaks = [wave.peak_cm_s / 100.0 for wave in waves]
    if read.is_unwrapped(towards=towards) and not agree(peaks):
        return tuple(refused(case, item, ALIASED) for item in asked.values())
    common = velocity_share(case, envelope, 100.0 * max(peaks))
    notes = [angle_note(case)]
    if read.is_unwrapped(towards=towards):
        notes.append("unwrapped within one span of the scale")
    notes += read.beats.notes
    if found.n_strayed:
        notes.append(f"{found.n_strayed} beats left out in which the beam left the flow")
    return (*_speeds(case, asked, peaks, common, notes), *_over_beats(case, asked, waves, common, notes))


def _is_faster(opened: Sequence[Wave], whole: Sequence[Wave]) -> bool:
    """Whether an open envelope reaches clearly beyond every whole one: then whole ones tell of weaker beats only."""
    return max((wave.peak_cm_s for wave in opened), default=0.0) > _CLEARLY * max(wave.peak_cm_s for wave in whole)


def _speeds(
    case: SpectrumCase, asked: dict[str, Asked], peaks: list[float], common: float, notes: list[str]
) -> tuple[Measurement, Measurement]:
    """Return peak velocity and gradient: of a jet the highest, else the mean of the beats."""
    gradients = [pressure_gradient_mmhg(v) for v in peaks]
    if max(peaks) >= JET_FROM_M_S:
        return (
            highest(case, asked["vmax"], peaks, common, notes=notes),
            highest(case, asked["peak"], gradients, common, power=2, notes=notes),
        )
    mean = sum(peaks) / len(peaks)
    gradient = sum(gradients) / len(gradients)
    return (
        averaged(case, asked["vmax"], peaks, common * mean, notes=notes),
        averaged(case, asked["peak"], gradients, 2 * common * gradient, notes=notes, each=0.08 * gradient),
    )


def _over_beats(
    case: SpectrumCase, asked: dict[str, Asked], waves: tuple[Wave, ...], common: float, notes: list[str]
) -> tuple[Measurement, ...]:
    waves = tuple(wave for wave in waves if wave.clicked_share <= _CLICKED_SHARE)
    if not waves:
        why = "clicks cover a flank of each beat"
        return tuple(refused(case, asked[key], why) for key in ("mean", "vti", "at", "et", "at_et"))
    integrals = [wave.integral_cm for wave in waves]
    gradients = [wave.mean_gradient_mmhg for wave in waves]
    rises = [wave.balanced_peak_ms - wave.onset_ms for wave in waves]
    lengths = [wave.length_ms for wave in waves]
    hidden = _STEP_SHARE * max(wave.step_share for wave in waves)
    share = math.sqrt(common**2 + _INTEGRAL_SHARE**2 + hidden**2 + case.axis_error.time_share**2)
    foot = math.hypot(_FOOT_MS, case.axes.ms_per_px) * (1 + hidden / _STEP_SHARE)
    time_share = case.axis_error.time_share
    n = len(waves)
    at, et = sum(rises) / n, sum(lengths) / n
    ratio = at / et
    return (
        averaged(case, asked["mean"], gradients, 2 * common * sum(gradients) / n, notes=notes),
        averaged(case, asked["vti"], integrals, share * sum(integrals) / n, notes=notes),
        averaged(case, asked["at"], rises, math.hypot(foot, _PEAK_MS, time_share * at), each=_FOOT_MS),
        averaged(case, asked["et"], lengths, math.hypot(math.sqrt(2) * foot, time_share * et), each=_FOOT_MS),
        averaged(
            case, asked["at_et"], [a / b for a, b in zip(rises, lengths, strict=True)],
            ratio * math.hypot(foot / at, _PEAK_MS / at, math.sqrt(2) * foot / et), each=ratio * _FOOT_MS / at,
        ),
    )  # fmt: skip


def _without_whole(case: SpectrumCase, asked: dict[str, Asked], found: SystolicWaves) -> tuple[Measurement, ...]:
    """Return what can be said where no envelope is whole: how fast the flow is at least, and nothing else."""
    opened, reason = found.open_waves, found.reason
    if opened and found.stays_within:
        reason = "the edge fades or is torn before its peak: how fast the flow is cannot be read"
    elif opened and case.mode is not Mode.CONTINUOUS_WAVE:
        reason = ALIASED
    elif opened:
        best, why = max(wave.peak_cm_s for wave in opened) / 100.0, opened[0].open_reason or "the envelope is open"
        reason = f"{why}: at least {best:.2f} m/s, {pressure_gradient_mmhg(best):.0f} mmHg"
    return tuple(refused(case, item, reason) for item in asked.values())
