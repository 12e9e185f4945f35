"""Faults of spectra: gate, angle, scale, baseline, sweep, filter, gain, a wrong signal, a strip without its picture.

Grades: 1 just there, 3 plain to an eye that knows, 5 gross. Where a trade limit is known it stands beside the grade;
all else is engineering judgement, marked so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Vector
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.doppler_setting import DopplerClip, Sought
from fanlight.simulate.clip.spectral_clip import gate_at
from fanlight.simulate.faults.fault import Fault, either_sign
from fanlight.simulate.faults.fault_doppler import (
    BLOOD,
    GATED,
    PULSED,
    SPECTRA,
    Change,
    DopplerFaultKind,
    DopplerGroup,
)
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.spectral.spectral_beam import on_cursor_mm
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.steady.doppler_aim import ModelFlow
from fanlight.simulate.steady.steady_doppler import spectral_at
from fanlight.study import Mode, Valve

_GROUP = DopplerGroup.SPECTRUM
_LEAST_DEPTH_MM, _RIM_MM, _FILTER_BELOW = 4.0, 3.0, 0.85
# Whose flow lies next in the same window, and is taken for the one that is looked for (common practice, no source).
NEXT_VALVES = {
    Valve.MITRAL: (Valve.AORTIC, Valve.TRICUSPID),
    Valve.AORTIC: (Valve.MITRAL, Valve.PULMONIC),
    Valve.TRICUSPID: (Valve.MITRAL, Valve.PULMONIC, Valve.AORTIC),
    Valve.PULMONIC: (Valve.AORTIC, Valve.TRICUSPID),
}
_SIGNAL_CM_S = 30.0  # slower than this nobody takes a flow for the one that is looked for (engineering judgement)


def _on_spectrum(change: Callable[[DopplerClip, Fault], SpectralSetting]) -> Change:
    def apply(clip: DopplerClip, _: ModelFlow, fault: Fault) -> DopplerClip:
        return with_spectrum(clip, change(clip, fault))

    return apply


def with_spectrum(clip: DopplerClip, spectral: SpectralSetting) -> DopplerClip:
    """Return the clip with another setting of its spectrum."""
    return replace(clip, doppler=replace(clip.doppler, machine=spectral))


def with_gate(spectral: SpectralSetting, *, cursor_deg: float, depth_mm: float) -> SpectralSetting:
    """Return the setting with its gate elsewhere; the scale falls where the gate comes to lie too deep for it."""
    scale = spectral.scale_cm_s
    if spectral.is_gated:
        scale = min(scale, highest_scale_cm_s(depth_mm, spectral.gate_mm, spectral.frequency_mhz))
    return replace(spectral, cursor_deg=cursor_deg, gate_depth_mm=depth_mm, scale_cm_s=scale)


def _gate(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    deepest = clip.clip.console.depth_mm - spectral.gate_mm / 2 - _RIM_MM
    depth = spectral.gate_depth_mm + fault.amount * fault.parameter("sign")
    if not _LEAST_DEPTH_MM < depth < deepest:  # no room that way: the other
        depth = spectral.gate_depth_mm - fault.amount * fault.parameter("sign")
    return with_gate(spectral, cursor_deg=spectral.cursor_deg, depth_mm=float(np.clip(depth, _LEAST_DEPTH_MM, deepest)))


def _aslant(clip: DopplerClip, flow: ModelFlow, fault: Fault) -> DopplerClip:
    """Slide the probe along the skin, the way that makes the angle wider; the gate stays on its place in the heart."""
    setting, spectral = clip.clip, clip.doppler.spectral
    place = _patient_mm(setting, spectral)
    lines = line_geometry(setting.probe, setting.console)
    found: list[tuple[float, DopplerClip]] = []
    for sign in (-1.0, 1.0):
        try:
            pose = moved(flow.animal, setting.pose, Movement.SLIDE, sign * fault.amount, aim_mm=place)
            cursor, depth = gate_at(lines, pose, place)
            there = with_spectrum(
                replace(clip, clip=replace(setting, pose=pose)), with_gate(spectral, cursor_deg=cursor, depth_mm=depth)
            )
        except ValueError:
            continue  # no skin that way, or the place is out of the picture
        found.append((flow.aslant_deg(there.clip, cursor, clip.doppler.valve, clip.doppler.sought), there))
    if not found:
        raise ValueError("the probe cannot slide either way: the skin ends")
    return max(found, key=lambda pair: pair[0])[1]


def _patient_mm(setting: ClipSetting, spectral: SpectralSetting) -> Vector:
    point = on_cursor_mm(setting.probe, spectral.cursor_deg, np.asarray(spectral.gate_depth_mm))
    return setting.pose.to_patient(np.asarray(point, np.float64))


def _corrected(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    return replace(clip.doppler.spectral, corrected_deg=fault.amount * fault.parameter("sign"))


def _baseline(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    above = spectral.baseline_fraction
    return replace(spectral, baseline_fraction=fault.amount * above if above > 0.5 else 1 - fault.amount * (1 - above))


def _low_scale(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    scale = max(spectral.scale_cm_s * fault.amount, 4.0)
    # The filter's knob stays, as far as the machine lets it.
    return replace(spectral, scale_cm_s=scale, wall_filter_cm_s=min(spectral.wall_filter_cm_s, _FILTER_BELOW * scale))


def _high_scale(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    return replace(spectral, scale_cm_s=min(spectral.scale_cm_s * fault.amount, _most(spectral)))


def _most(spectral: SpectralSetting) -> float:
    if not spectral.is_gated:
        return 1000.0
    return highest_scale_cm_s(spectral.gate_depth_mm, spectral.gate_mm, spectral.frequency_mhz)


def _can_be_higher(clip: DopplerClip) -> bool:
    return _most(clip.doppler.spectral) > 2.0 * clip.doppler.spectral.scale_cm_s


def _sweep(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    return replace(clip.doppler.spectral, sweep_mm_s=fault.amount)


def _filter(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    return replace(spectral, wall_filter_cm_s=fault.amount * spectral.scale_cm_s)


def _no_filter(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    return replace(spectral, wall_filter_cm_s=max(spectral.wall_filter_cm_s * fault.amount, 0.1))


def _gain(clip: DopplerClip, fault: Fault) -> SpectralSetting:
    spectral = clip.doppler.spectral
    return replace(spectral, gain_db=float(np.clip(spectral.gain_db + fault.amount, -60.0, 60.0)))


def _wrong(clip: DopplerClip, flow: ModelFlow, _: Fault) -> DopplerClip:
    """Lay gate or line on the flow of the next valve; scale and baseline follow it, as those of a hand would."""
    for other in NEXT_VALVES[clip.doppler.valve]:
        try:  # as far about the valve as a line searches: a hand that errs does not aim well
            peak = flow.fastest(clip.clip, other, Sought.FORWARD, Mode.CONTINUOUS_WAVE)
        except ValueError:
            continue  # not in this picture
        if abs(peak.along_cm_s) >= _SIGNAL_CM_S:
            spectral = spectral_at(clip.clip, clip.doppler.mode, peak, body_scale(flow.animal))
            return replace(clip, doppler=replace(clip.doppler, signal_valve=other, machine=spectral))
    raise ValueError("no flow of another valve is met in this picture")


def _no_guide(clip: DopplerClip, _: ModelFlow, __: Fault) -> DopplerClip:
    return replace(clip, doppler=replace(clip.doppler, has_guide=False))


def _is_blood_flow(clip: DopplerClip) -> bool:
    return clip.doppler.sought is not Sought.ANNULUS


SPECTRUM_FAULTS = (
    DopplerFaultKind(
        key="gate_misplaced", title="gate off its place", group=_GROUP, knob="gate", modes=GATED, unit="mm",
        steps=(4.0, 6.5, 9.0, 12.0, 16.0), change=_on_spectrum(_gate), draw=either_sign, grows_with_body=True,
        why="along the cursor: leaflets of a dog of 10 kg are some 8 mm long, so grade 3 lies at the ring or deep in "
        "the ventricle (engineering judgement)",
    ),
    DopplerFaultKind(
        key="beam_aslant", title="beam at a wide angle to the flow", group=_GROUP, knob="angle", modes=BLOOD,
        unit="mm", steps=(9.0, 14.0, 19.0, 24.0, 28.0), change=_aslant, grows_with_body=True,
        why="slide off the window; from the apex 28 mm make some 22° of 2° (measured on the model). 20° cost 6 % of "
        "velocity and are the usual limit (cosine; physics); beyond lies lung",
    ),
    DopplerFaultKind(
        key="angle_corrected", title="angle correction inside the heart", group=_GROUP, knob="correction", modes=PULSED,
        unit="deg", steps=(15.0, 25.0, 35.0, 45.0, 55.0), change=_on_spectrum(_corrected), draw=either_sign,
        why="never used inside the heart (common practice, no source): 15° read 4 % too high, 55° 74 % (physics)",
    ),
    DopplerFaultKind(
        key="baseline_misplaced", title="baseline leaves no room for the flow", group=_GROUP, knob="baseline",
        modes=BLOOD, unit="1", steps=(0.66, 0.56, 0.45, 0.34, 0.22), change=_on_spectrum(_baseline),
        why="times the height that a steady hand leaves to the side of the flow, of which its peak needs two thirds",
    ),
    DopplerFaultKind(
        key="spectral_scale_low", title="scale of the spectrum too low", group=_GROUP, knob="spectral scale",
        modes=BLOOD, unit="1", steps=(0.62, 0.52, 0.43, 0.35, 0.27), change=_on_spectrum(_low_scale),
        why="times a steady scale, at which the peak takes two thirds of its room: it runs out from grade 1 on",
    ),
    DopplerFaultKind(
        key="spectral_scale_high", title="scale of the spectrum too high", group=_GROUP, knob="spectral scale",
        modes=SPECTRA, unit="1", steps=(1.5, 2.0, 2.7, 3.6, 4.8), change=_on_spectrum(_high_scale),
        fits_clip=_can_be_higher,
        why="times a steady scale: the peak stands below 0.42 of its room (common practice) from grade 2 on; a gate "
        "ends at what its depth allows",
    ),
    DopplerFaultKind(
        key="spectral_sweep_slow", title="sweep of the spectrum too slow", group=_GROUP, knob="spectral sweep",
        modes=SPECTRA, unit="mm/s", steps=(66.0, 50.0, 40.0, 33.0, 25.0), change=_on_spectrum(_sweep),
        why="100 mm/s are common practice for times; 25 press four times as many beats onto the strip",
    ),
    DopplerFaultKind(
        key="spectral_filter_high", title="wall filter too high", group=_GROUP, knob="spectral filter", modes=BLOOD,
        unit="1", steps=(0.22, 0.32, 0.42, 0.54, 0.68), change=_on_spectrum(_filter),
        why="of the scale: the gap at the baseline passes 20 cm/s (house setting) at grade 1 where the scale is 90",
    ),
    DopplerFaultKind(
        key="spectral_filter_low", title="wall filter too low", group=_GROUP, knob="spectral filter", modes=BLOOD,
        unit="1", steps=(0.55, 0.4, 0.28, 0.18, 0.1), change=_on_spectrum(_no_filter),
        why="times a steady filter: walls, some 30 dB louder than blood, stand at the baseline (engineering judgement)",
    ),
    DopplerFaultKind(
        key="spectral_gain_high", title="spectral gain too high: blooming", group=_GROUP, knob="spectral gain",
        modes=SPECTRA, unit="dB", steps=(8.0, 12.0, 17.0, 22.0, 28.0), change=_on_spectrum(_gain),
        why="engineering judgement: blood lies some 30 dB over the noise; at grade 3 the ground is grey",
    ),
    DopplerFaultKind(
        key="spectral_gain_low", title="spectral gain too low: envelope open", group=_GROUP, knob="spectral gain",
        modes=SPECTRA, unit="dB", steps=(-8.0, -12.0, -16.0, -20.0, -25.0), change=_on_spectrum(_gain),
        why="engineering judgement: of 40 dB on the display; the thin edge at the peak goes first",
    ),
    DopplerFaultKind(
        key="wrong_signal", title="gate or cursor on the flow of another valve", group=_GROUP, knob="gate",
        modes=BLOOD, unit="1", steps=(1.0, 1.0, 1.0, 1.0, 1.0), change=_wrong, fits_clip=_is_blood_flow,
        why="a flow is the right one or another: all grades are the same",
    ),
    DopplerFaultKind(
        key="no_guide", title="spectrum stored without its picture", group=_GROUP, knob="guide", modes=SPECTRA,
        unit="1", steps=(1.0, 1.0, 1.0, 1.0, 1.0), change=_no_guide,
        why="the picture is there or not: all grades are the same",
    ),
)  # fmt: skip
