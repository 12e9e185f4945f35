"""Velocities, pressures and flow."""

from __future__ import annotations

import math

from fanlight.reference.formulas.domain import BeamAngleError, not_negative, positive

SOUND_M_S = 1540.0  # soft tissue, as the Doppler guideline uses it (QUINONES2002)


def pressure_gradient_mmhg(velocity_m_s: float, upstream_m_s: float = 0.0) -> float:
    """Return the pressure drop that drives a jet, 4·(V₂² − V₁²).

    Parameters
    ----------
    velocity_m_s : float
        Peak velocity of the jet; its sign is only the direction.
    upstream_m_s : float
        Velocity before the narrowing; matters above about 1.5 m/s.

    Raises
    ------
    VelocityError
        If the jet is slower than the flow before it.

    Examples
    --------
    >>> round(pressure_gradient_mmhg(5.3), 2)
    112.36
    """
    jet, before = abs(velocity_m_s), abs(upstream_m_s)
    not_negative("velocity of the jet above the flow before it", jet - before, "check which is the jet")
    return 4 * (jet**2 - before**2)


def velocity_of_gradient_m_s(gradient_mmhg: float) -> float:
    """Return the jet velocity that belongs to a pressure drop; VelocityError below 0."""
    return math.sqrt(not_negative("pressure drop", gradient_mmhg) / 4)


def systolic_pulmonary_pressure_mmhg(tricuspid_jet_m_s: float, right_atrium_mmhg: float) -> float:
    """Return systolic pulmonary artery pressure from a tricuspid jet and the right atrial pressure.

    Notes
    -----
    Not valid when the right outflow is obstructed. Right atrial pressure is taken as 5 mmHg with a normal atrium,
    10 with a dilated one, 15 with right heart failure (CSAIM2020 page 149).
    """
    return pressure_gradient_mmhg(tricuspid_jet_m_s) + not_negative("right atrial pressure", right_atrium_mmhg)


def left_atrial_pressure_mmhg(systolic_blood_pressure_mmhg: float, mitral_jet_m_s: float) -> float:
    """Return left atrial pressure in systole, systolic blood pressure less the drop across the mitral jet.

    Notes
    -----
    A difference of two large numbers: an error of 0.2 m/s in the jet is 7 mmHg here. Not valid with subaortic or
    aortic stenosis.
    """
    return positive("systolic blood pressure", systolic_blood_pressure_mmhg) - pressure_gradient_mmhg(mitral_jet_m_s)


def cross_section_cm2(diameter_cm: float) -> float:
    """Return the area of a round vessel; SizeError when the diameter is not above 0."""
    return math.pi * (positive("diameter", diameter_cm) / 2) ** 2


def stroke_volume_ml(diameter_cm: float, velocity_time_integral_cm: float) -> float:
    """Return the volume that passes a round vessel in a beat; 5 % error of the diameter is 10 % of the volume."""
    return cross_section_cm2(diameter_cm) * positive("velocity-time integral", velocity_time_integral_cm)


def cardiac_output_l_min(stroke_volume_ml_: float, heart_rate_bpm: float) -> float:
    """Return the flow in litres a minute; SizeError outside above 0."""
    return positive("stroke volume", stroke_volume_ml_) * positive("heart rate", heart_rate_bpm) / 1000


def half_sine_integral_cm(peak_m_s: float, duration_ms: float) -> float:
    """Return the velocity-time integral of an envelope that is half a sine, 2·V·T/π."""
    return 2 * positive("peak velocity", peak_m_s) * 100 * positive("duration", duration_ms) / 1000 / math.pi


def half_sine_mean_gradient_mmhg(peak_m_s: float) -> float:
    """Return the mean gradient of an envelope that is half a sine: half of its peak gradient."""
    return pressure_gradient_mmhg(peak_m_s) / 2


def e_to_ivrt(e_m_s: float, ivrt_ms: float) -> float:
    """Return mitral E over isovolumic relaxation time, in cm/s for each ms (SCHOBER2010)."""
    return positive("E", e_m_s) * 100 / positive("isovolumic relaxation time", ivrt_ms)


def measured_share(beam_angle_deg: float) -> float:
    """Return which share of the true velocity Doppler sees at this angle, the cosine.

    Raises
    ------
    BeamAngleError
        Outside 0 to 90 degrees.

    Notes
    -----
    The angle that is read in the image plane is a lower bound of the true one. Beyond 20° align again, do not correct.

    Examples
    --------
    >>> round(measured_share(20.0), 3)
    0.94
    """
    if not 0 <= beam_angle_deg <= 90:
        raise BeamAngleError("beam angle", "0 to 90 degrees", beam_angle_deg, "measure the smaller angle to the flow")
    return math.cos(math.radians(beam_angle_deg))


def pulse_rate_hz(depth_mm: float) -> float:
    """Return the highest pulse repetition frequency at a depth: each pulse waits for the deepest echo."""
    return SOUND_M_S / (2 * positive("depth", depth_mm) / 1000)


def attainable_scale_cm_s(depth_mm: float, frequency_mhz: float) -> float:
    """Return the highest velocity that is shown without aliasing at this depth and Doppler frequency.

    Parameters
    ----------
    depth_mm : float
        Depth that the pulses reach.
    frequency_mhz : float
        Doppler frequency, which is lower than the imaging frequency by 20 to 50 % (common practice, no source).

    Returns
    -------
    float
        c²/(8·f·d) in cm/s, with the baseline in the middle.

    Notes
    -----
    The beam is taken to lie along the flow. A machine may send less often than it could: this is the ceiling. A scale
    below a house band may be physics in a deep chest, not the hand on the console.

    Examples
    --------
    >>> round(attainable_scale_cm_s(150.0, 2.5))
    79
    """
    return 100 * SOUND_M_S * pulse_rate_hz(depth_mm) / (4 * positive("Doppler frequency", frequency_mhz) * 1e6)


def unwrapped_velocity(shown: float, nyquist: float) -> float:
    """Return the velocity of a flow that has wrapped once: what is shown, two scales away from its side."""
    positive("scale", nyquist)
    return shown + (2 * nyquist if shown < 0 else -2 * nyquist)


def pressure_half_time_ms(deceleration_time_ms: float) -> float:
    """Return the time in which the pressure drop halves, 0.29 times the deceleration time."""
    return 0.29 * positive("deceleration time", deceleration_time_ms)


def convergence_flow_ml_s(radius_cm: float, aliasing_cm_s: float) -> float:
    """Return the flow through a half-sphere of converging flow, 2·π·r²·Vₐ (PISA)."""
    return 2 * math.pi * positive("radius", radius_cm) ** 2 * positive("aliasing velocity", aliasing_cm_s)


def regurgitant_orifice_cm2(flow_ml_s: float, peak_cm_s: float) -> float:
    """Return the effective regurgitant orifice area, flow over peak velocity."""
    return positive("flow", flow_ml_s) / positive("peak velocity", peak_cm_s)


def regurgitant_volume_ml(orifice_cm2: float, velocity_time_integral_cm: float) -> float:
    """Return the regurgitant volume of a beat, orifice times velocity-time integral."""
    return positive("orifice", orifice_cm2) * positive("velocity-time integral", velocity_time_integral_cm)


def regurgitant_fraction_percent(ventricle_ml: float, forward_ml: float) -> float:
    """Return which share of the ventricle's stroke volume leaks back, in percent."""
    ventricle, forward = (
        positive("stroke volume of the ventricle", ventricle_ml),
        positive("forward volume", forward_ml),
    )
    not_negative("stroke volume of the ventricle above the forward one", ventricle - forward, "check both volumes")
    return 100 * (ventricle - forward) / ventricle


def pressure_rise_mmhg_s(one_to_three_m_s_ms: float) -> float:
    """Return how fast the ventricle's pressure rises: the mitral jet from 1 to 3 m/s is a rise of 32 mmHg."""
    return 32 / (positive("time from 1 to 3 m/s", one_to_three_m_s_ms) / 1000)
