"""Flow and pressure against identities, limits and other ways to the same number."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from fanlight.reference.formulas.domain import BeamAngleError, SizeError, VelocityError
from fanlight.reference.formulas.flow import (
    attainable_scale_cm_s,
    cross_section_cm2,
    half_sine_integral_cm,
    half_sine_mean_gradient_mmhg,
    measured_share,
    pressure_gradient_mmhg,
    pressure_half_time_ms,
    pulse_rate_hz,
    regurgitant_fraction_percent,
    systolic_pulmonary_pressure_mmhg,
    unwrapped_velocity,
    velocity_of_gradient_m_s,
)


@pytest.mark.parametrize(("gradient", "velocity"), [(50, 3.536), (80, 4.472), (130, 5.701)])
def test_velocity_of_a_gradient_is_the_way_back(gradient: float, velocity: float) -> None:
    """Identity: velocity to gradient to velocity; three values worked by hand."""
    assert velocity_of_gradient_m_s(gradient) == pytest.approx(velocity, abs=0.0005)
    assert pressure_gradient_mmhg(velocity_of_gradient_m_s(gradient)) == pytest.approx(gradient)


def test_half_sine_agrees_with_the_integral() -> None:
    """Integral and mean gradient of half a sine agree with scipy.integrate.quad."""
    integral = integrate.quad(lambda t: 120 * math.sin(math.pi * t / 0.18), 0, 0.18)[0]
    mean = integrate.quad(lambda x: 4 * (1.2 * math.sin(math.pi * x)) ** 2, 0, 1)[0]

    assert half_sine_integral_cm(1.2, 180) == pytest.approx(integral)
    assert half_sine_mean_gradient_mmhg(1.2) == pytest.approx(mean)


# c²/(8·f·d) worked out apart from the code and rounded to 0.01 m/s: depth cm, MHz, m/s (physics, c = 1540 m/s).
NYQUIST = [
    (3, 2.0, 4.94), (3, 3.3, 2.99), (5, 2.5, 2.37), (7, 2.0, 2.12), (7, 5.0, 0.85),
    (10, 2.5, 1.19), (10, 3.3, 0.90), (10, 7.0, 0.42), (15, 2.0, 0.99), (15, 5.0, 0.40),
]  # fmt: skip


@pytest.mark.parametrize(("depth_cm", "mhz", "m_s"), NYQUIST)
def test_attainable_scale_agrees_with_the_table(depth_cm: float, mhz: float, m_s: float) -> None:
    """The ceiling of the scale agrees with the table to its last digit."""
    assert attainable_scale_cm_s(10 * depth_cm, mhz) / 100 == pytest.approx(m_s, abs=0.0051)


def test_the_scale_is_half_a_wavelength_for_each_pulse() -> None:
    """Identity: at the ceiling a target moves a quarter of a wavelength between two pulses."""
    depth_mm, mhz = 80.0, 3.0
    wavelength_mm = 1540 / (mhz * 1e6) * 1000

    moved_mm = attainable_scale_cm_s(depth_mm, mhz) * 10 / pulse_rate_hz(depth_mm)

    assert moved_mm == pytest.approx(wavelength_mm / 4)


def test_unwrapping_undoes_one_wrap() -> None:
    """A velocity between one and three scales that wraps comes back, on either side."""
    nyquist = 0.8
    for true in np.linspace(0.81, 2.39, 12):
        for sign in (1, -1):
            shown = (sign * true + nyquist) % (2 * nyquist) - nyquist
            if shown * sign < 0:  # it lies on the other side: one wrap that can be seen
                assert unwrapped_velocity(shown, nyquist) == pytest.approx(sign * true)


def test_pressure_halves_at_the_root_of_the_velocity() -> None:
    """Identity: on a straight slope the velocity has fallen to V/√2 after (1 - 1/√2) = 0.293 of its time."""
    assert pressure_half_time_ms(200) == pytest.approx(200 * (1 - 1 / math.sqrt(2)), abs=1)


def test_a_round_vessel_and_its_square() -> None:
    """Limit: doubling the diameter makes four times the area."""
    assert cross_section_cm2(2.0) == pytest.approx(4 * cross_section_cm2(1.0)) == pytest.approx(math.pi)


def test_the_sign_of_a_jet_is_its_direction_only() -> None:
    """A jet away from the probe has the same gradient."""
    assert systolic_pulmonary_pressure_mmhg(-3.69, 5) == pytest.approx(systolic_pulmonary_pressure_mmhg(3.69, 5))


def test_impossible_input_is_refused_with_advice() -> None:
    """The messages name limit, value and remedy."""
    with pytest.raises(BeamAngleError, match="0 to 90 degrees, got 95; measure the smaller angle"):
        measured_share(95)
    with pytest.raises(VelocityError, match="check which is the jet"):
        pressure_gradient_mmhg(1.0, 1.5)
    with pytest.raises(SizeError, match="depth must be a number above 0, got -10"):
        attainable_scale_cm_s(-10, 3)
    with pytest.raises(VelocityError, match="check both volumes"):
        regurgitant_fraction_percent(8, 16)
