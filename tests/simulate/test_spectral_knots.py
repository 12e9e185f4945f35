"""What it costs that a signal is worked out at knots, and that slow walls on a line are left out: less than noise."""

from __future__ import annotations

import math

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


def swing_mm(time_ms):
    return SWING_MM * math.sin(2 * math.pi * time_ms / BEAT_MS)


def swing_cm_s(time_ms):
    return 100 * SWING_MM * 2 * math.pi / BEAT_MS * math.cos(2 * math.pi * time_ms / BEAT_MS)


def beating():
    """Blood that comes and goes in a tube whose wall swings through the gate."""

    def swing_mm(time_ms):
        return 4 * math.sin(2 * math.pi * time_ms / BEAT_MS)

    def swing_cm_s(time_ms):
        return 0.4 * 2 * math.pi / BEAT_MS * 1000 * math.cos(2 * math.pi * time_ms / BEAT_MS)

    def flow_cm_s(time_ms):
        return 80 * max(math.sin(2 * math.pi * time_ms / BEAT_MS), 0.0)

    # without eddies: these are drawn anew at each passage, so that the smallest difference would grow
    return tube(flow_cm_s, towards_probe(45.0), radius_mm=5.0, wall_mm=swing_mm, wall_cm_s=swing_cm_s)


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


@pytest.mark.parametrize("setting", [PULSED, TISSUE, CONTINUOUS], ids=lambda setting: setting.mode.value)
def test_knots_are_as_good_as_every_sample(monkeypatch, setting):
    told = signal_of(beating(), setting)
    monkeypatch.setattr(spectral_signal, "LEAST_KNOTS_HZ", math.inf)
    monkeypatch.setattr(spectral_signal, "GATED_KNOTS_HZ", math.inf)
    monkeypatch.setattr(spectral_signal, "LINE_KNOTS_HZ", math.inf)
    off = told - signal_of(beating(), setting)

    assert np.abs(off).max() > 0  # knots are used
    assert db(off) < db(told) - 38


def test_slow_walls_on_a_line_would_not_be_heard(monkeypatch):
    """Walls swing at up to 6.3 cm/s; the cut-off lies at 30."""
    walls = tube(200.0, towards_probe(45.0), radius_mm=5.0, wall_cm_s=swing_cm_s)
    told = signal_of(walls, CONTINUOUS)
    monkeypatch.setattr(spectral_body, "WALLS_LEFT_OUT", 0.0)
    off = told - signal_of(walls, CONTINUOUS)

    assert np.abs(off).max() > 0  # there are some
    added_db = 2 * TGC_DB_CM_MHZ * CONTINUOUS.frequency_mhz * CONTINUOUS.gate_depth_mm / 10
    noise_db = 10 * math.log10(noise_power(CONTINUOUS, added_db))
    assert db(off[len(off) // 4 :]) < noise_db - 20  # the filter has settled
