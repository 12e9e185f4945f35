"""Values of flow out of a ventricle: peak, gradients, velocity-time integral, acceleration and ejection time."""

from __future__ import annotations

import math

import numpy as np

from fanlight.measure.doppler.case import SpectrumCase
from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.doppler.propagated import (
    VelocityError,
    integral_common_cm,
    mean_gradient_common_mmhg,
    mean_gradient_jitter_mmhg,
)
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import SystolicWaves, is_faster, systolic_waves, weak_notes
from fanlight.measure.doppler.valued import (
    GRADIENT,
    ONE_BEAT_SHARE,
    Asked,
    angle_note,
    averaged,
    common_notes,
    highest,
    refused,
    velocity_error,
)
from fanlight.measure.doppler.wave import Wave, modal_integral_cm
from fanlight.measure.doppler.wrap import ALIASED, agree
from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.study import Measurement, Mode, Valve

# From here on an outflow is taken for the jet of a narrowing, of which the highest envelope counts: the start of the
# mild band of BOXERAS2006 (89 Boxers).
JET_FROM_M_S = 2.0
# How sure times are, one standard deviation: where a flank meets the baseline, and where a blunt top has its peak.
# Engineering judgement, held against ring A.
_FOOT_MS, _PEAK_MS = 2.5, 6.0
_CLICKED_SHARE = 0.25  # of a wave's columns: with more under clicks, only its peak is read (engineering judgement)
# Of the integral, one standard deviation: what the length of a column leaves unsure at the feet; and, times the height
# from which the feet are drawn on, what the wall filter hides.
_INTEGRAL_SHARE, _STEP_SHARE = 0.025, 0.12
# Of the integral along the brightest line, one standard deviation; and how much of the dense signal may be white
# (engineering judgement).
_MODAL_SHARE, _WHITE_SHARE = 0.05, 0.5


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
        "modal": Asked(
            name=f"{key}_modal_vti", label=f"{word} modal velocity-time integral", unit="cm",
            how="along the brightest line of the spectrum",
        ),
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
    if not waves or is_faster(found.open_waves, waves):
        return _without_whole(case, asked, found)
    peaks = [wave.peak_cm_s / 100.0 for wave in waves]
    if read.is_unwrapped(towards=towards) and not agree(peaks):
        return tuple(refused(case, item, ALIASED) for item in asked.values())
    error = velocity_error(case, envelope)
    notes = common_notes(read, towards=towards)
    notes += weak_notes(found.n_weak)
    timed = waves
    if max(peaks) >= JET_FROM_M_S:  # of a jet the highest envelope counts, for what is taken over the beat as well
        timed = (waves[peaks.index(max(peaks))],)
    return (
        *_speeds(case, asked, peaks, error.share_at(100.0 * max(peaks)), notes),
        *_over_beats(case, asked, timed, error, notes), _modal(case, asked["modal"], timed, envelope, notes),
    )  # fmt: skip


def _speeds(
    case: SpectrumCase, asked: dict[str, Asked], peaks: list[float], common: float, notes: list[str]
) -> tuple[Measurement, Measurement]:
    """Return peak velocity and gradient: of a jet the highest, else the mean of the beats."""
    gradients = [pressure_gradient_mmhg(v) for v in peaks]
    of_speed, of_gradient = [angle_note(case), *notes], [angle_note(case, "gradient"), *notes]
    if max(peaks) >= JET_FROM_M_S:
        return (
            highest(case, asked["vmax"], peaks, common, notes=of_speed),
            highest(case, asked["peak"], gradients, common, power=2, notes=of_gradient),
        )
    mean = sum(peaks) / len(peaks)
    gradient = sum(gradients) / len(gradients)
    return (
        averaged(case, asked["vmax"], peaks, common * mean, notes=of_speed),
        averaged(
            case,
            asked["peak"],
            gradients,
            2 * common * gradient,
            notes=of_gradient,
            each=2 * ONE_BEAT_SHARE * gradient,
        ),
    )


def _over_beats(
    case: SpectrumCase, asked: dict[str, Asked], waves: tuple[Wave, ...], error: VelocityError, notes: list[str]
) -> tuple[Measurement, ...]:
    waves = tuple(wave for wave in waves if wave.clicked_share <= _CLICKED_SHARE)
    if not waves:
        why = "clicks cover a flank of each beat"
        return tuple(refused(case, asked[key], why) for key in ("mean", "vti", "at", "et", "at_et"))
    step = max(wave.step_share for wave in waves)
    foot = math.hypot(_FOOT_MS, case.axes.ms_per_px) * (1 + step)
    return (
        _mean_gradient(case, asked["mean"], waves, error, foot, notes),
        _integral(case, asked["vti"], waves, error, step, notes),
        *_times(case, asked, waves, foot),
    )


def _mean_gradient(
    case: SpectrumCase, asked: Asked, waves: tuple[Wave, ...], error: VelocityError, foot_ms: float, notes: list[str]
) -> Measurement:
    gradients = [wave.mean_gradient_mmhg for wave in waves]
    mean = float(np.mean(gradients))
    common = float(np.mean([mean_gradient_common_mmhg(error, wave, foot_ms) for wave in waves]))
    jitter = float(np.mean([mean_gradient_jitter_mmhg(wave) for wave in waves]))
    each = math.hypot(2 * ONE_BEAT_SHARE * mean, jitter)
    return averaged(case, asked, gradients, common, notes=[angle_note(case, "gradient"), *notes], each=each)


def _integral(
    case: SpectrumCase, asked: Asked, waves: tuple[Wave, ...], error: VelocityError, step: float, notes: list[str]
) -> Measurement:
    integrals = [wave.integral_cm for wave in waves]
    of_velocity = float(np.mean([integral_common_cm(error, wave) for wave in waves]))
    of_time = math.hypot(_INTEGRAL_SHARE, _STEP_SHARE * step, case.axis_error.time_share) * float(np.mean(integrals))
    return averaged(
        case, asked, integrals, math.hypot(of_velocity, of_time), notes=[angle_note(case, "integral"), *notes]
    )


def _times(
    case: SpectrumCase, asked: dict[str, Asked], waves: tuple[Wave, ...], foot: float
) -> tuple[Measurement, ...]:  # fmt: skip
    rises = [wave.balanced_peak_ms - wave.onset_ms for wave in waves]
    lengths = [wave.length_ms for wave in waves]
    at, et = float(np.mean(rises)), float(np.mean(lengths))
    ratio, time_share = at / et, case.axis_error.time_share
    return (
        averaged(case, asked["at"], rises, math.hypot(foot, _PEAK_MS, time_share * at), each=_FOOT_MS),
        averaged(case, asked["et"], lengths, math.hypot(math.sqrt(2) * foot, time_share * et), each=_FOOT_MS),
        averaged(
            case, asked["at_et"], [a / b for a, b in zip(rises, lengths, strict=True)],
            ratio * math.hypot(foot / at, _PEAK_MS / at, math.sqrt(2) * foot / et), each=ratio * _FOOT_MS / at,
        ),
    )  # fmt: skip


def _modal(
    case: SpectrumCase, asked: Asked, waves: tuple[Wave, ...], envelope: Envelope, notes: list[str]
) -> Measurement:
    """Return the integral along the brightest line; a whole line of continuous wave has no such line."""
    if case.mode is not Mode.PULSED_WAVE:
        return refused(case, asked, "continuous wave hears the whole line at once: no velocity is the usual one")
    if envelope.breadth is None or envelope.breadth.white_share > _WHITE_SHARE:
        return refused(case, asked, "the dense signal is white: where it is brightest is not seen")
    waves = tuple(wave for wave in waves if wave.clicked_share <= _CLICKED_SHARE)
    if not waves:
        return refused(case, asked, "clicks cover a flank of each beat")
    integrals = [modal_integral_cm(envelope, wave) for wave in waves]
    mean, error = float(np.mean(integrals)), velocity_error(case, envelope)
    shift = float(np.mean([error.shift_cm_s * wave.length_ms / 1000.0 for wave in waves]))
    share = math.hypot(_MODAL_SHARE, error.scale_share, case.axis_error.time_share)
    return averaged(
        case, asked, integrals, math.hypot(share * mean, shift), notes=[angle_note(case, "integral"), *notes]
    )


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
