"""The phantom is what the other tests stand on, so its physics is checked against formulas from outside."""

import math

import numpy as np
import pytest

from tests.critique.speckle_phantom import Setting, _blur_lateral, _white, beam_width_mm, make


def test_log_compressed_speckle_spreads_by_5_57_db() -> None:
    """The SD of 20 log10 of a Rayleigh envelope is 5.57 dB: pi / sqrt(24) * 20 / ln 10."""
    rng = np.random.default_rng(1)
    field = _blur_lateral(_white(rng, 300, 320), np.full(300, 4.0))

    spread_db = float(np.std(20 * np.log10(np.abs(field))))

    assert math.pi / math.sqrt(24) * 20 / math.log(10) == pytest.approx(5.57, abs=0.005)
    assert spread_db == pytest.approx(5.57, abs=0.15)


def test_envelope_of_speckle_has_the_rayleigh_ratio() -> None:
    """Mean over SD of a Rayleigh envelope is sqrt(pi / (4 - pi)) = 1.913, whatever the beam width."""
    rng = np.random.default_rng(2)
    for width in (2.0, 6.0):
        envelope = np.abs(_blur_lateral(_white(rng, 300, 320), np.full(300, width)))

        assert float(envelope.mean() / envelope.std()) == pytest.approx(1.913, abs=0.06)


@pytest.mark.parametrize("fwhm_beams", [4.0, 8.0, 16.0])
def test_speckle_is_as_wide_as_the_point_spread_says(fwhm_beams: float) -> None:
    """A Gaussian spread of width F gives a field whose autocorrelation is F sqrt 2 wide at half height."""
    field = _blur_lateral(_white(np.random.default_rng(8), 400, 320), np.full(400, fwhm_beams))
    power = np.mean(np.abs(np.fft.fft(field, axis=1)) ** 2, axis=0)
    correlation = np.fft.ifft(power).real
    half = float(np.interp(-0.5, -correlation[:60] / correlation[0], np.arange(60)))

    assert 2 * half == pytest.approx(fwhm_beams * math.sqrt(2), rel=0.06)


@pytest.mark.parametrize("focus_mm", [25.0, 50.0, 75.0])
def test_width_is_smallest_in_angle_at_the_focus(focus_mm: float) -> None:
    """Physics: lambda z / D is a fixed angle, and the spread of the aperture vanishes at the focus."""
    z_mm = np.linspace(5, 90, 171)
    width_mm = beam_width_mm(z_mm, Setting(focus_mm=focus_mm))

    assert z_mm[int(np.argmin(width_mm / z_mm))] == pytest.approx(focus_mm, abs=0.5)
    # 5 MHz and an aperture of 14 mm: lambda z / D, lambda = 1.54 / 5 mm
    assert width_mm.min() <= 1.54 / 5 * focus_mm / 14 * 1.001


def test_same_seed_paints_the_same_frames() -> None:
    first = make(Setting(n_frames=2), np.random.default_rng(3))
    second = make(Setting(n_frames=2), np.random.default_rng(3))

    assert np.array_equal(first.frames, second.frames)
    assert first.frames.any()
