"""Values of a jet through a leaking valve: the speed of the highest whole envelope, and the gradient that drives it."""

from __future__ import annotations

from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import systolic_waves
from fanlight.measure.doppler.valued import GRADIENT, Asked, angle_note, highest, refused, velocity_error
from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.study import Measurement, Valve

_NAMES = {Valve.MITRAL: ("mr", "Mitral"), Valve.TRICUSPID: ("tr", "Tricuspid")}


def jet_values(read: ReadSpectrum) -> tuple[Measurement, ...]:
    """Return peak velocity and gradient of a systolic leak.

    Notes
    -----
    A mean over beats or windows is never taken: each that is lower shows the jet at a worse angle. The gradient is
    4·v² of the jet alone (simplified Bernoulli, QUINONES2002).
    """
    case = read.case
    vmax, gradient = _asked(case.valve)
    if case.valve not in _NAMES:
        why = "the leak of an outflow valve fades from its onset on: its values are not read from pixels"
        return refused(case, vmax, why), refused(case, gradient, why)
    towards = case.runs_towards_probe
    if why := read.why_aliased(towards=towards):
        return refused(case, vmax, why), refused(case, gradient, why)
    envelope = read.side(towards=towards)
    found = systolic_waves(envelope, read.beats)
    if not found.waves and not found.open_waves:
        return refused(case, vmax, found.reason), refused(case, gradient, found.reason)
    peaks = [wave.peak_cm_s / 100.0 for wave in found.waves]
    opened = [wave.peak_cm_s / 100.0 for wave in found.open_waves]
    if not peaks or max(opened, default=0.0) > max(peaks):
        best = max(opened)
        why = f"the envelope is open: at least {best:.2f} m/s, {pressure_gradient_mmhg(best):.0f} mmHg"
        return refused(case, vmax, why), refused(case, gradient, why)
    share = velocity_error(case, envelope).share_at(100.0 * max(peaks))
    gradients = [pressure_gradient_mmhg(v) for v in peaks]
    return (
        highest(case, vmax, peaks, share, notes=[angle_note(case)]),
        highest(case, gradient, gradients, share, power=2, notes=[angle_note(case, "gradient")]),
    )


def _asked(valve: Valve) -> tuple[Asked, Asked]:
    key, word = _NAMES.get(valve, ("ar", "Aortic") if valve is Valve.AORTIC else ("pr", "Pulmonic"))
    return (
        Asked(name=f"{key}_vmax", label=f"{word} regurgitation peak velocity", unit="m/s"),
        Asked(name=f"{key}_peak_gradient", label=f"{word} regurgitation peak gradient", unit="mmHg", how=GRADIENT),
    )
