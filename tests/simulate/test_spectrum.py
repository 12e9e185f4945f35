"""Spectra of flow that is known, against the Doppler and Nyquist formulae."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.spectral.spectral_beam import places_of
from fanlight.simulate.spectral.spectral_setting import (
    SpectralSetting,
    doppler_hz,
    highest_pulse_hz,
    highest_scale_cm_s,
    nyquist_cm_s,
)
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.simulate.spectral.spectrum import resolution_cm_s
from fanlight.study import Mode, Species
from tests.simulate.phantoms import DOWN, even, state
from tests.simulate.spectral_phantoms import Tube, joined, leaflet_that_flips, towards_probe

PROBE = PROBES["phased medium"]
CONSOLE = default_console(PROBE, Species.DOG, 12.0)
PULSED = SpectralSetting(mode=Mode.PULSED_WAVE, frequency_mhz=4.0, scale_cm_s=100.0, gate_depth_mm=60.0)
CONTINUOUS = SpectralSetting(
    mode=Mode.CONTINUOUS_WAVE, frequency_mhz=4.0, scale_cm_s=650.0, gate_depth_mm=60.0, wall_filter_cm_s=30.0
)
TISSUE = replace(PULSED, mode=Mode.TISSUE_DOPPLER, scale_cm_s=20.0)
COLUMN_MS = 2.5


def tube(cm_s, axis=(0.0, 0.0, -1.0), **more):
    """A wide tube about the gate; by default the flow comes straight towards the probe."""
    course = cm_s if callable(cm_s) else (lambda _: cm_s)
    return Tube(**{"middle_mm": (0, 0, 60.0), "axis": axis, "radius_mm": 9.0, "peak_cm_s": course} | more)


def strip(body, setting=PULSED, n_columns=120, seed=1, rows=240, **more):
    scene, motion = (body.scene(), body.motion) if isinstance(body, Tube) else body
    return render_spectrum(
        scene, motion, DOWN, PROBE, CONSOLE, setting, lambda t: state(t), np.random.default_rng(seed), rows=rows,
        n_columns=n_columns, column_ms=COLUMN_MS, **more,
    )  # fmt: skip


def modal_cm_s(seen):
    """Velocity of the strongest row over the whole strip."""
    return seen.velocities_cm_s[np.argmax(seen.density.mean(axis=1))]


def edges_cm_s(density, velocities, db=-6.0):
    """Lowest and highest velocity at which a density is within some dB of its highest."""
    within = np.flatnonzero(density >= density.max() * 10 ** (db / 10))
    return velocities[within].min(), velocities[within].max()


def intrinsic_cm_s(speed_cm_s, angle_deg, setting):
    """How far one steady velocity spreads to either side, -6 dB.

    A raised cosine of duration T spreads to ±1/T (identity). One is the window of the transform, the other the transit
    through the beam; independent spreads add in squares.
    """
    transit = places_of(PROBE, CONSOLE, setting, np.random.default_rng(0)).transit_mm[0]
    angle = math.radians(angle_deg)
    across, along = 10 * speed_cm_s * math.sin(angle), 10 * speed_cm_s * math.cos(angle)
    per_s = math.hypot(across / transit[0], along / transit[2])
    return math.hypot(per_s / doppler_hz(1.0, setting.frequency_mhz), resolution_cm_s(setting))


@pytest.mark.parametrize(
    ("depth_cm", "frequency_mhz", "pulses", "m_s"),
    [
        (3, 2.0, 25_667, 4.94), (3, 7.0, 25_667, 1.41), (5, 2.5, 15_400, 2.37), (7, 3.3, 11_000, 1.28),
        (10, 5.0, 7_700, 0.59), (15, 2.0, 5_133, 0.99), (15, 7.0, 5_133, 0.28),
    ],
)  # fmt: skip
def test_highest_scale_is_that_of_the_formula(depth_cm, frequency_mhz, pulses, m_s):
    """PRF = c/2d and v = c·PRF/(4·f), worked out by hand for c = 1540 m/s."""
    assert highest_pulse_hz(10 * depth_cm) == pytest.approx(pulses, abs=1)
    assert nyquist_cm_s(highest_pulse_hz(10 * depth_cm), frequency_mhz) == pytest.approx(100 * m_s, abs=0.6)


def test_scale_beyond_the_depth_of_the_gate_is_refused():
    limit = highest_scale_cm_s(60.0, 2.0, 4.0)

    assert replace(PULSED, scale_cm_s=limit).sample_hz == pytest.approx(highest_pulse_hz(61.0))
    with pytest.raises(ValueError, match=f"a scale of {limit:.1f} cm/s"):
        replace(PULSED, scale_cm_s=1.05 * limit)
    replace(CONTINUOUS, scale_cm_s=5 * limit)  # a continuous wave has no such limit


@pytest.mark.parametrize("turn_deg", [0.0, 90.0])
@pytest.mark.parametrize("angle_deg", [0.0, 20.0, 30.0, 60.0])
def test_velocity_is_that_along_the_beam(angle_deg, turn_deg):
    """v·cos of the angle in space, in the image plane or across it: 6.0 % less at 20 degrees, 13.4 % at 30."""
    seen = strip(tube(80.0, towards_probe(angle_deg, turn_deg)))

    assert modal_cm_s(seen) == pytest.approx(80 * math.cos(math.radians(angle_deg)), rel=0.03, abs=seen.cm_s_per_px)


@pytest.mark.parametrize(("scale", "cm_s"), [(100.0, 80.0), (60.0, 50.0), (60.0, -35.0), (120.0, 105.0)])
def test_edge_lies_where_transit_and_window_put_it(scale, cm_s):
    seen = strip(tube(cm_s), replace(PULSED, scale_cm_s=scale), n_columns=320)
    low, high = edges_cm_s(seen.density.mean(axis=1), seen.velocities_cm_s)
    spread = intrinsic_cm_s(abs(cm_s), 0.0, PULSED)

    assert high == pytest.approx(cm_s + spread, abs=0.04 * abs(cm_s))
    assert low == pytest.approx(cm_s - spread, abs=0.04 * abs(cm_s))


def test_parabolic_flow_fills_the_spectrum_up_to_its_peak():
    """A long gate over a narrow tube hears all speeds from the wall to the middle."""
    seen = strip(tube(80.0, plug=False, radius_mm=1.5), replace(PULSED, gate_mm=10.0, scale_cm_s=110.0), n_columns=320)
    low, high = edges_cm_s(seen.density.mean(axis=1), seen.velocities_cm_s, -12.0)

    assert high == pytest.approx(80.0 + intrinsic_cm_s(80.0, 0.0, replace(PULSED, gate_mm=10.0)), rel=0.05)
    assert low < 35.0


def test_plug_flow_leaves_a_window_under_its_edge():
    seen = strip(tube(80.0), n_columns=320)
    mean, v = seen.density.mean(axis=1), seen.velocities_cm_s

    window = mean[(v > 25) & (v < 60)].mean()
    assert window < 0.01 * mean.max()


def test_too_fast_flow_wraps_by_twice_the_scale_and_a_moved_baseline_unwraps_it():
    fast = tube(130.0)
    wrapped, moved = strip(fast), strip(fast, replace(PULSED, baseline_fraction=0.8))

    assert modal_cm_s(wrapped) == pytest.approx(130.0 - 200.0, abs=3.0)
    assert modal_cm_s(moved) == pytest.approx(130.0, abs=3.0)
    assert moved.baseline_px == 192


def test_inverted_shows_flow_away_upwards():
    away = strip(tube(-60.0), replace(PULSED, is_inverted=True))
    upper = away.density[: away.baseline_px].sum()

    assert upper > 10 * away.density[away.baseline_px :].sum()
    assert modal_cm_s(away) == pytest.approx(-60.0, abs=2.0)


def test_time_integral_times_area_is_the_volume_that_passed():
    """Of a pulsatile plug: the mode of each column summed over time, times the area of the tube."""
    course = lambda t: 90 * math.sin(math.pi * (t % 500) / 250) if t % 500 < 250 else 0.0  # noqa: E731
    seen = strip(tube(course), replace(PULSED, wall_filter_cm_s=3.0), n_columns=200)
    peak = seen.velocities_cm_s[np.argmax(seen.density, axis=0)]
    loud = seen.density.max(axis=0) > 0.01 * seen.density.max()
    cm = float(np.where(loud, peak, 0).sum() * COLUMN_MS / 1000)
    area_cm2 = math.pi * 0.9**2

    passed_ml = area_cm2 * 90 * 0.25 * 2 / math.pi  # a half sine has 2/pi of its peak as mean
    assert cm * area_cm2 == pytest.approx(passed_ml, rel=0.05)


@pytest.mark.parametrize("cut_cm_s", [10.0, 25.0])
def test_gap_about_the_baseline_is_the_wall_filter(cut_cm_s):
    """Noise is even over all velocities: what the filter halves lies at its cut-off (Butterworth: -3 dB; identity)."""
    nothing = even(np, Tissue.OUTSIDE), tube(0.0).motion
    seen = strip(nothing, replace(PULSED, wall_filter_cm_s=cut_cm_s), n_columns=1200)
    mean = seen.density.mean(axis=1)
    floor = np.median(mean[np.abs(seen.velocities_cm_s) > 60])
    gap = np.abs(seen.velocities_cm_s[mean < 0.5 * floor]).max()

    assert gap == pytest.approx(cut_cm_s, abs=2.5)  # the window blurs by two


def test_still_walls_do_not_pass_the_filter_and_moving_ones_do():
    narrow = {"radius_mm": 1.5}
    swing = lambda t: 20 * math.sin(2 * math.pi * t / 400)  # noqa: E731
    place = lambda t: -200 * 0.4 / (2 * math.pi) * math.cos(2 * math.pi * t / 400)  # noqa: E731
    still = strip(tube(60.0, **narrow), n_columns=320)
    moving = strip(tube(60.0, wall_cm_s=swing, wall_mm=place, **narrow), n_columns=320)
    slow = (np.abs(still.velocities_cm_s) < 25) & (np.abs(still.velocities_cm_s) > 5)

    assert moving.density[slow].mean() > 1000 * still.density[slow].mean()
    assert moving.density[slow].mean() > moving.density[~slow].max(axis=0).mean()  # tissue outshines blood


def test_continuous_wave_shows_five_metres_a_second_where_pulses_wrap():
    fast = tube(-500.0)
    pulsed = strip(fast, replace(PULSED, scale_cm_s=120.0))
    continuous = strip(fast, CONTINUOUS)

    assert modal_cm_s(continuous) == pytest.approx(-500.0, rel=0.02)
    assert modal_cm_s(pulsed) == pytest.approx(-500.0 + 2 * 240.0, abs=12.0)


def test_continuous_wave_does_not_wrap_what_is_beyond_its_scale():
    seen = strip(tube(-500.0), replace(CONTINUOUS, scale_cm_s=300.0))
    whole = strip(tube(-500.0), CONTINUOUS)

    assert seen.density.max() < 0.001 * whole.density.max()


def _two_depths():
    near, far = tube(40.0, middle_mm=(0, 0, 40.0)), tube(-70.0, middle_mm=(0, 0, 70.0))
    return joined((lambda x, y, z: z < 55, near.scene(), near.motion), (None, far.scene(), far.motion))


@pytest.mark.parametrize(("depth_mm", "cm_s"), [(40.0, 40.0), (70.0, -70.0)])
def test_gate_sees_its_own_depth(depth_mm, cm_s):
    body = _two_depths()
    assert modal_cm_s(strip(body, replace(PULSED, gate_depth_mm=depth_mm, scale_cm_s=90.0))) == pytest.approx(
        cm_s, abs=3
    )


def test_continuous_wave_shows_all_jets_of_its_line():
    seen = strip(_two_depths(), replace(CONTINUOUS, scale_cm_s=120.0, wall_filter_cm_s=15.0), n_columns=320)
    mean, v = seen.density.mean(axis=1), seen.velocities_cm_s

    for cm_s in (40.0, -70.0):
        near = np.abs(v - cm_s) < 6
        assert mean[near].max() > 0.01 * mean.max()
        assert mean[near].max() > 10 * mean[np.abs(v - cm_s - 25) < 6].mean()


def test_tissue_doppler_shows_the_wall_and_not_the_blood():
    """A wall that beats with 8 cm/s beside blood of 60 cm/s in one gate; the blood would wrap at this scale."""
    peak = 8.0
    swing = lambda t: peak * math.sin(2 * math.pi * t / 400)  # noqa: E731
    place = lambda t: -10 * peak * 0.4 / (2 * math.pi) * math.cos(2 * math.pi * t / 400)  # noqa: E731
    body = tube(60.0, radius_mm=1.5, wall_cm_s=swing, wall_mm=place)
    seen = strip(body, TISSUE, n_columns=320)
    found = seen.velocities_cm_s[np.argmax(seen.density, axis=0)]
    at = np.asarray(seen.times_ms)
    beyond = seen.levels[np.abs(seen.velocities_cm_s) > peak + 4]

    assert np.abs(found - [-swing(t) for t in at]).max() < 1.5  # away from the probe is downwards
    assert (beyond > 60).mean() < 0.01


def test_leaflet_that_passes_the_gate_clicks():
    """It crosses the gate at 150 ms with 50 cm/s: a streak at its own velocity, there and nowhere else.

    Its echo comes and goes through a Gaussian pulse of 5 cycles at 4 MHz (-6 dB over 0.96 mm), 0.8 ms at this speed.
    The transform of such an edge is 60 dB down 14 cm/s aside, side lobes of a Hann window of 12 ms 80 dB down 30 cm/s
    aside (both identities).
    """
    body = leaflet_that_flips(tube(50.0), cross_ms=150.0, lasts_ms=20.0)
    seen = strip(body, n_columns=160)
    at, off = np.asarray(seen.times_ms), seen.velocities_cm_s + 50  # away from the probe
    own = np.median(seen.levels[np.abs(off) < 4].astype(float), axis=0)
    click = seen.density[:, np.abs(at - 150) < 10].max(axis=1)
    aside = click[(np.abs(off) > 30) & (seen.velocities_cm_s < 20)]  # and not where the flow is

    assert own[np.abs(at - 150) < 10].max() > 200
    assert own[np.abs(at - 150) > 30].max() < 100  # noise
    assert 10 * np.log10(click[np.abs(off) < 4].max() / aside.max()) > 60


@pytest.mark.parametrize("setting", [PULSED, replace(CONTINUOUS, scale_cm_s=150.0)], ids=["pulsed", "continuous"])
@pytest.mark.parametrize(("layer", "low", "high"), [(Tissue.LUNG, 30.0, 200.0), (Tissue.CARTILAGE, 17.8, 21.8)])
def test_what_lies_before_the_flow_dims_it(setting, layer, low, high):
    """10 mm of cartilage take 2 · 4 MHz · 1 cm · (3.0 - 0.52) dB/cm/MHz more than muscle; air, all but noise."""
    flow = tube(120.0, towards_probe(60.0))  # crosses the beam from 50 to 70 mm only
    before = even(np, layer), tube(0.0).motion
    body = joined((lambda x, y, z: (z > 20) & (z < 30), *before), (None, flow.scene(), flow.motion))
    mode = np.abs(strip(flow, setting).velocities_cm_s - 60.0) < 4
    free, behind = (strip(b, setting, n_columns=320).density[mode].mean() for b in (flow, body))

    assert low < 10 * math.log10(free / behind) < high


def test_more_gain_shows_noise_and_a_thicker_edge():
    usual, high = (strip(tube(80.0), replace(PULSED, gain_db=g), n_columns=320) for g in (0.0, 20.0))
    v = usual.velocities_cm_s
    empty = v < -30

    assert (usual.levels[empty] > 64).mean() < 0.05
    assert (high.levels[empty] > 64).mean() > 0.5
    tops = [v[np.flatnonzero(np.median(s.levels, axis=1) > 128)].max() for s in (usual, high)]
    assert 1.02 * tops[0] < tops[1] < 1.25 * tops[0]


def test_display_opens_downwards_with_range_and_reject_blackens():
    wide, rejected = (
        strip(tube(80.0), setting)
        for setting in (replace(PULSED, dynamic_range_db=60.0), replace(PULSED, reject_fraction=0.5))
    )
    usual = strip(tube(80.0))

    assert wide.levels.mean() > usual.levels.mean() > rejected.levels.mean()
    assert not ((rejected.levels > 0) & (rejected.levels < 60)).any()


def test_speckle_of_the_spectrum_is_that_of_noise():
    """Power of a sum of many scatterers is exponential: deviation and mean are alike in one row of steady flow."""
    seen = strip(tube(80.0, plug=False, radius_mm=30.0, unsteady_cm_s=15.0), n_columns=1600)
    row = seen.density[np.argmax(seen.density.mean(axis=1))][::6]  # columns that share no sample

    assert row.std() / row.mean() == pytest.approx(1.0, abs=0.15)


def test_same_seed_same_strip():
    assert np.array_equal(strip(tube(50.0), seed=4).levels, strip(tube(50.0), seed=4).levels)
    assert not np.array_equal(strip(tube(50.0), seed=4).levels, strip(tube(50.0), seed=5).levels)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"cursor_deg": 55.0}, "must lie in the sector"),
        ({"gate_depth_mm": 150.0, "scale_cm_s": 40.0}, "below the depth"),
    ],
)  # fmt: skip
def test_gate_off_the_picture_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        strip(tube(20.0), replace(PULSED, **change))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"mode": Mode.COLOUR}, "not colour"), ({"gate_mm": 0.1}, "gate_mm must lie between"),
        ({"wall_filter_cm_s": 95.0}, "nine tenths"),
    ],
)  # fmt: skip
def test_settings_that_no_machine_has_are_refused(change, message):
    with pytest.raises(ValueError, match=message):
        replace(PULSED, **change)


@pytest.mark.parametrize("setting", [PULSED, CONTINUOUS], ids=["pulsed", "continuous"])
def test_a_beam_that_meets_nothing_shows_noise(setting):
    """Common practice, no source: a probe in the air gives a strip without a signal, and no error."""

    def nothing(state, x, y, z):
        far = np.full(np.shape(x), 1e3, np.float32)
        return Sampled(tissue=np.full(np.shape(x), int(Tissue.OUTSIDE), np.uint8), edge_mm=far, material_mm=(x, y, z))

    seen = strip((Scene(moving=nothing), tube(0.0).motion), setting, n_columns=40)

    assert np.isfinite(seen.density).all()
