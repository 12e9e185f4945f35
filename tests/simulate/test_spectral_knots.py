"""What it costs that a signal is worked out at knots, and that slow walls on a line are left out: less than noise."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fanlight.simulate.machine.receive import TGC_DB_CM_MHZ
from fanlight.simulate.spectral import spectral_body, spectral_signal
from fanlight.simulate.spectral.spectral_beam import places_of
from fanlight.simulate.spectral.spectral_body import SpectralBody
from fanlight.simulate.spectral.spectral_setting import doppler_hz
from fanlight.simulate.spectral.spectral_signal import Sampling, SignalSource
from fanlight.simulate.spectral.spectrum import filtered, noise_power
from tests.simulate.phantoms import DOWN, state
from tests.simulate.spectral_phantoms import towards_probe
from tests.simulate.test_spectrum import CONSOLE, CONTINUOUS, PROBE, PULSED, TISSUE, tube

LASTS_MS = 300.0
BEAT_MS = 400.0
SWING_MM = 4.0
SHALLOW = replace(PULSED, gate_depth_mm=25.0, scale_cm_s=240.0)


def swing_mm(time_ms):
    return SWING_MM * math.sin(2 * math.pi * time_ms / BEAT_MS)


def swing_cm_s(time_ms):
    return 100 * SWING_MM * 2 * math.pi / BEAT_MS * math.cos(2 * math.pi * time_ms / BEAT_MS)


def beating(cm_s, angle_deg, depth_mm=60.0):
    """Blood that comes and goes in a tube whose wall swings through the gate.

    It flows without eddies: these are drawn anew at each passage, so that the smallest difference would grow.
    """

    def flow_cm_s(time_ms):
        return cm_s * max(math.sin(2 * math.pi * time_ms / BEAT_MS), 0.0)

    middle = (0, 0, depth_mm)
    return tube(
        flow_cm_s, towards_probe(angle_deg), middle_mm=middle, radius_mm=5.0, wall_mm=swing_mm, wall_cm_s=swing_cm_s
    )


def signal_of(body, setting):
    places = places_of(PROBE, CONSOLE, setting, np.random.default_rng(3))
    met = SpectralBody(body.scene(), body.motion, places, setting, state, lambda _: DOWN)
    band = None
    if not setting.is_gated:
        band = (
            doppler_hz(-setting.scale_cm_s, setting.frequency_mhz),
            doppler_hz(setting.scale_cm_s, setting.frequency_mhz),
        )
    sampling = Sampling(
        sample_hz=setting.sample_hz * setting.pulses_kept_one_of, frequency_mhz=setting.frequency_mhz, band_hz=band
    )
    signal = SignalSource(met, sampling, len(places.points_mm), np.random.default_rng(4)).signal(0.0, LASTS_MS)
    return filtered(signal, setting, sampling.sample_hz)[:: setting.pulses_kept_one_of]


def db(signal):
    return 10 * math.log10(np.mean(np.abs(signal) ** 2))


@pytest.mark.parametrize(
    ("setting", "cm_s", "angle_deg"),
    [
        pytest.param(PULSED, 80.0, 45.0, id="pulsed wave"),
        pytest.param(SHALLOW, 230.0, 20.0, id="fast flow in a shallow gate"),
        pytest.param(TISSUE, 80.0, 45.0, id="tissue"),
        pytest.param(CONTINUOUS, 80.0, 45.0, id="slow flow on a line"),
        pytest.param(CONTINUOUS, 600.0, 0.0, id="jet along a line"),
        pytest.param(CONTINUOUS, 600.0, 30.0, id="jet aslant a line"),
    ],
)
def test_knots_cost_less_than_noise(monkeypatch, setting, cm_s, angle_deg):
    """Against a signal that is worked out at every sample."""
    body = beating(cm_s, angle_deg, setting.gate_depth_mm)
    told = signal_of(body, setting)
    monkeypatch.setattr(spectral_signal, "LEAST_KNOTS_HZ", math.inf)
    monkeypatch.setattr(spectral_signal, "GATED_KNOTS_HZ", math.inf)
    monkeypatch.setattr(spectral_signal, "LINE_KNOTS_HZ", math.inf)
    off = told - signal_of(body, setting)

    assert np.abs(off).max() > 0  # knots are used
    assert db(off) < db(told) - 37


@pytest.mark.parametrize("swing", [1.0, 2.0])
def test_slow_walls_on_a_line_would_not_be_heard(monkeypatch, swing):
    """Walls swing at up to 6.3 cm/s, or 12.6 and pass the limit of 7.5 again and again; the cut-off lies at 30."""
    walls = tube(200.0, towards_probe(45.0), radius_mm=5.0, wall_cm_s=lambda time_ms: swing * swing_cm_s(time_ms))
    told = signal_of(walls, CONTINUOUS)
    monkeypatch.setattr(spectral_body, "WALLS_LEFT_OUT", 0.0)
    off = told - signal_of(walls, CONTINUOUS)

    assert np.abs(off).max() > 0  # there are some
    added_db = 2 * TGC_DB_CM_MHZ * CONTINUOUS.frequency_mhz * CONTINUOUS.gate_depth_mm / 10
    noise_db = 10 * math.log10(noise_power(CONTINUOUS, added_db))
    assert db(off[len(off) // 4 :]) < noise_db - 20  # the filter has settled
