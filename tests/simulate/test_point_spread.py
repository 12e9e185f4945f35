import numpy as np
import pytest

from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console, default_console
from fanlight.simulate.machine.point_spread import aperture_profile, point_spread, pulse_mm, slice_thickness_mm
from fanlight.simulate.machine.probe import PROBES, wavelength_mm
from fanlight.study import Species
from tests.simulate.phantoms import PLAIN, amplitude, even

PROBE = PROBES["phased medium"]
CONSOLE = Console(depth_mm=100.0, width_deg=75.0, frequency_mhz=5.0, focus_mm=60.0)
OFFSET = np.linspace(0.0, 12.0, 2401)


def width_mm(profile):
    """Full width at half of the highest amplitude: -6 dB."""
    last = int(np.nonzero(profile >= profile.max() / 2)[0][-1])
    return 2 * float(np.interp(-profile.max() / 2, -profile[last : last + 2], OFFSET[last : last + 2]))


def profile(depth_mm, **change):
    setting = {"aperture_mm": 14.0, "focus_mm": depth_mm, "frequency_mhz": 5.0, "cycles": 2.0} | change
    return aperture_profile(OFFSET, depth_mm, **setting)


@pytest.mark.parametrize("depth_mm", [30.0, 60.0, 100.0])
@pytest.mark.parametrize("aperture_mm", [10.0, 15.0, 19.0])
def test_width_at_the_focus_is_wavelength_times_depth_over_aperture(depth_mm, aperture_mm):
    """-6 dB width against wavelength · depth / aperture, the textbook resolution of a focused aperture, within 10 %."""
    expected_mm = wavelength_mm(5.0) * depth_mm / aperture_mm

    assert width_mm(profile(depth_mm, aperture_mm=aperture_mm)) == pytest.approx(expected_mm, rel=0.10)


def test_beam_is_wider_away_from_the_transmit_focus():
    assert width_mm(profile(60.0)) < 0.8 * width_mm(profile(60.0, focus_mm=30.0))
    assert width_mm(profile(60.0)) < 0.8 * width_mm(profile(60.0, focus_mm=120.0))


def test_harmonic_beam_is_narrower_than_that_of_the_frequency_sent_and_has_lower_side_lobes():
    fundamental = profile(60.0, frequency_mhz=2.5)
    harmonic = profile(60.0, frequency_mhz=5.0, is_harmonic=True)
    far = 1.5 * width_mm(fundamental) < OFFSET

    assert width_mm(harmonic) < 0.8 * width_mm(fundamental)
    assert harmonic[far].max() < 0.3 * fundamental[far].max()


@pytest.mark.parametrize("name", list(PROBES))
def test_beam_has_no_second_lobe_anywhere_in_the_sector(name):
    """Deeper than the aperture is wide, the blur far aside stays 35 dB under the main lobe, to both edges."""
    probe = PROBES[name]
    console = default_console(probe, Species.DOG, 10.0)
    lines = line_geometry(probe, console)
    lateral = point_spread(probe, console, lines).lateral
    line = np.arange(lines.n_lines)
    depth = (np.arange(len(lateral)) + 0.5) * 8 * lines.sample_mm
    far_mm = (depth + lines.apex_mm)[:, None, None] * lines.line_rad * np.abs(line[:, None] - line[None, :])
    width = point_spread(probe, console, lines).lateral_mm[4::8, None, None][: len(lateral)]

    is_far = (far_mm > 8 * width) & (depth > probe.aperture_mm)[:, None, None]
    aside = np.where(is_far, lateral / lateral.max(axis=1, keepdims=True), 0.0)

    assert aside.max() < 10 ** (-35 / 20)


def test_axial_width_at_the_face_is_half_the_pulse():
    """Cycles · wavelength / 2: two cycles at 5 MHz give one wavelength, 0.31 mm (physics)."""
    assert pulse_mm(PROBE, CONSOLE) == pytest.approx(0.308, abs=0.001)


def test_spectrum_sinks_with_depth_so_that_pulse_and_beam_grow():
    spread = point_spread(PROBE, CONSOLE, line_geometry(PROBE, CONSOLE))

    assert np.all(np.diff(spread.axial_mm) >= 0)
    assert spread.axial_mm[-1] > 1.1 * spread.axial_mm[0]


def test_slice_is_thinnest_near_the_lens_focus():
    depth = np.linspace(10, 100, 91)
    thickness = slice_thickness_mm(PROBE, CONSOLE, depth)

    assert depth[np.argmin(thickness)] == pytest.approx(PROBE.elevation_focus_mm, abs=0.15 * PROBE.elevation_focus_mm)
    assert thickness[-1] > 1.5 * thickness.min()


def correlation_width(amplitude_rows, axis):
    """Full width at half height of the autocorrelation of speckle, in samples."""
    x = amplitude_rows - amplitude_rows.mean(axis=(0, 2), keepdims=True)
    n = x.shape[axis]
    value = []
    for lag in range(12):
        a, b = np.take(x, range(n - lag), axis), np.take(x, range(lag, n), axis)
        value.append(float((a * b).mean() / np.sqrt((a**2).mean() * (b**2).mean())))
    last = int(np.argmax(np.asarray(value) < 0.5))
    return 2 * (last - 1 + (value[last - 1] - 0.5) / (value[last - 1] - value[last]))


@pytest.mark.parametrize("weight_kg", [4.0, 12.0, 40.0])
def test_speckle_is_as_wide_as_the_point_spread(weight_kg):
    """The amplitude's autocorrelation of fully developed speckle is about the squared autocorrelation of the blur.

    For a Gaussian blur of -6 dB width w it is as wide as w (identity: bell squared, convolved with itself: √2 / √2).
    """
    probe = PROBES[{4.0: "phased small", 12.0: "phased medium", 40.0: "phased large"}[weight_kg]]
    console = default_console(probe, Species.DOG, weight_kg)
    lines = line_geometry(probe, console)
    spread = point_spread(probe, console, lines)
    rows = slice(int(0.55 * lines.n_samples), int(0.65 * lines.n_samples))
    middle = slice(lines.n_lines // 4, -lines.n_lines // 4)
    scene = even(np)
    speckle = np.concatenate(
        [amplitude(scene, probe, console, seed, echoes={Tissue.SEPTUM: PLAIN})[:, rows, middle] for seed in range(4)]
    )
    row = int(0.6 * lines.n_samples)
    line_mm = row * lines.sample_mm * lines.line_rad

    assert correlation_width(speckle, 1) * lines.sample_mm == pytest.approx(float(spread.axial_mm[row]), rel=0.15)
    assert correlation_width(speckle, 2) * line_mm == pytest.approx(float(spread.lateral_mm[row]), rel=0.15)
