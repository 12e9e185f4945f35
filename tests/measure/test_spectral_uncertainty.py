"""Stated uncertainties against the spread of many readings, sampled with numpy and none of our formulas."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from fanlight.measure.doppler.envelope import STILL_MS
from fanlight.measure.doppler.propagated import (
    VelocityError,
    integral_common_cm,
    mean_gradient_common_mmhg,
    mean_gradient_jitter_mmhg,
    ratio_share,
)
from fanlight.measure.doppler.side import SMOOTH_MS
from fanlight.measure.doppler.wave import Wave

N = 4000  # readings: a standard deviation is then known within 1.1 % (1/√2N)
AGREES = 0.05  # of a spread; the rest is that 4·v² is not straight
STEP_MS = 2.5
ERROR = VelocityError(scale_share=0.014, edge_share=0.03, shift_cm_s=1.5)


def half_sine(peak_cm_s: float = 120.0, length_ms: float = 180.0, ragged_share: float = 0.02) -> Wave:
    """Return half a sine as a wave would be read of it."""
    times = np.arange(0.0, length_ms + STEP_MS / 2, STEP_MS) + 100.0
    return Wave(
        times_ms=times, velocity_cm_s=peak_cm_s * np.sin(np.pi * (times - 100.0) / length_ms), peak_cm_s=peak_cm_s,
        peak_ms=100.0 + length_ms / 2, onset_ms=100.0, end_ms=100.0 + length_ms, is_open=False, open_reason="",
        is_clicked=False, strength=1.0, step_share=0.1, ragged_share=ragged_share, clicked_share=0.0,
    )  # fmt: skip


def sampled(wave: Wave, rng: np.random.Generator, foot_ms: float = 0.0) -> Wave:
    """Return a wave as it might be read another time: other scale, edge, baseline and feet."""
    share = 1 + rng.normal(0, ERROR.scale_share) + rng.normal(0, ERROR.edge_share)
    velocity = share * wave.velocity_cm_s + rng.normal(0, ERROR.shift_cm_s)
    times = wave.times_ms.copy()
    times[0] += rng.normal(0, foot_ms)
    times[-1] += rng.normal(0, foot_ms)
    return replace(
        wave, velocity_cm_s=velocity, times_ms=times, onset_ms=float(times[0]), end_ms=float(times[-1])
    )  # fmt: skip


def test_mean_gradient_states_the_spread_of_its_readings():
    """Scale, edge, baseline and both feet: the sampled spread of ∫4·v² dt / T is what is stated."""
    rng, wave, foot_ms = np.random.default_rng(5), half_sine(), 6.0

    found = [sampled(wave, rng, foot_ms).mean_gradient_mmhg for _ in range(N)]

    assert mean_gradient_common_mmhg(ERROR, wave, foot_ms) == pytest.approx(np.std(found), rel=AGREES)


def test_integral_states_the_spread_of_its_readings():
    """Scale, edge and baseline: the sampled spread of ∫v dt is what is stated."""
    rng, wave = np.random.default_rng(6), half_sine()

    found = [sampled(wave, rng).integral_cm for _ in range(N)]

    assert integral_common_cm(ERROR, wave) == pytest.approx(np.std(found), rel=AGREES)


@pytest.mark.parametrize(("early", "late"), [(74.7, 48.7), (60.0, 60.0), (110.0, 40.0)])
def test_ratio_states_the_spread_of_its_readings(early, late):
    """E and A share scale and baseline, and each has an edge of its own (E and A: PEREIRA2009, and two limits)."""
    rng = np.random.default_rng(7)
    scale, shift = rng.normal(0, ERROR.scale_share, N), rng.normal(0, ERROR.shift_cm_s, N)
    edges = rng.normal(0, ERROR.edge_share, (2, N))
    above, below = (v * (1 + scale + edge) + shift for v, edge in zip((early, late), edges, strict=True))

    assert ratio_share(ERROR, early, late) == pytest.approx(np.std(above / below) / (early / late), rel=AGREES)


def test_a_scale_that_is_wrong_spoils_no_ratio():
    """Calibration is common to E and A and cancels; what their edges err by does not."""
    exact = VelocityError(scale_share=0.0, edge_share=0.03, shift_cm_s=0.0)

    assert ratio_share(replace(exact, scale_share=0.5), 75, 50) == ratio_share(exact, 75, 50)
    assert ratio_share(exact, 75, 50) == pytest.approx(2**0.5 * 0.03)


def test_jumps_of_the_edge_state_the_spread_of_a_mean_gradient():
    """Noise stilled as the edge is, with the mean distance that a wave states: the sampled spread of ∫4·v² dt / T."""
    rng, wave = np.random.default_rng(8), half_sine(ragged_share=0.04)
    noise = rng.normal(size=(N, len(wave.times_ms) + 40))
    stilled = cv2.GaussianBlur(noise, (0, 0), sigmaX=STILL_MS / STEP_MS, sigmaY=1e-6)[:, 20:-20]
    jumps = stilled / np.mean(np.abs(stilled)) * wave.ragged_share * wave.peak_cm_s

    found = [replace(wave, velocity_cm_s=wave.velocity_cm_s + jump).mean_gradient_mmhg for jump in jumps]

    assert mean_gradient_jitter_mmhg(wave) == pytest.approx(np.std(found), rel=AGREES)


def test_a_ragged_edge_is_not_taken_for_what_an_average_lost():
    """An average with weights of standard deviation s takes s²·∫v'² from ∫v² (Taylor's series, by parts).

    Of a half sine that is (π·s / T)² of it (identity); a saw on the edge has a far larger ∫v'², which nobody lost.
    """
    smooth = half_sine()
    saw = 6.0 * (-1.0) ** np.arange(len(smooth.times_ms))
    saw[[0, -1]] = 0.0
    ragged = replace(smooth, velocity_cm_s=smooth.velocity_cm_s + saw)

    def given_back(wave: Wave) -> float:
        held = 4.0 * np.trapezoid((wave.velocity_cm_s / 100.0) ** 2, wave.times_ms) / wave.length_ms
        return float(wave.mean_gradient_mmhg / held - 1)

    exact = (np.pi / smooth.length_ms) ** 2 * (STILL_MS**2 + SMOOTH_MS**2)
    assert given_back(smooth) == pytest.approx(exact, rel=0.08)  # the steps to the baseline are left out
    assert exact < given_back(ragged) <= 3.0 * exact + 1e-9
