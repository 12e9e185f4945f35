"""Colour Doppler against what was put into the phantom, against formulae, and against itself at other settings."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.pose import Pose
from fanlight.heart.tissue import Tissue
from fanlight.simulate.colour.colour_estimate import correlate, cut_off_m_s, filter_response_db, wall_filter
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.colour.colour_setting import ColourBox, default_colour
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.scene import Scene
from fanlight.study import Species
from tests.simulate.flow_phantoms import at_rest, pushed_block, tube
from tests.simulate.phantoms import DOWN, even, slab, state

PROBE = PROBES["phased medium"]
# The grey picture plays no part in the estimate: few lines make the tests quick.
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0), n_lines=16, n_samples=96)
BOX = ColourBox(left_deg=-20.0, right_deg=20.0, near_mm=32.0, far_mm=72.0)
PLAIN = replace(default_colour(CONSOLE, BOX), persistence_fraction=0.0)


def seen(scene, moves, setting, frames=2, seed=5, pose=DOWN, **others):
    states = [state(40.0 * k) for k in range(frames)]
    return render_colour(scene, moves, pose, PROBE, CONSOLE, setting, states, np.random.default_rng(seed), **others)


def cells(beams):
    """Places (x, z) and beam directions of all cells, each (depth, line)."""
    angle = np.radians(beams.geometry.angles_deg)[None, :]
    depth = beams.geometry.depths_mm[:, None]
    return depth * np.sin(angle), depth * np.cos(angle), np.sin(angle), np.cos(angle)


def true_velocity(beams, angle_deg, radius_mm, depth_mm, peak_m_s, plug=False):
    """Velocity towards the probe of a tube's flow, and the distance from its axis as a share of the radius."""
    x, z, beam_x, beam_z = cells(beams)
    angle = math.radians(angle_deg)
    ax, az = math.sin(angle), -math.cos(angle)
    share = np.abs(x * az - (z - depth_mm) * ax) / radius_mm
    speed = np.where(share < 1, peak_m_s * (1.0 if plug else 1 - share**2), 0.0)
    return -speed * (ax * beam_x + az * beam_z), share


@pytest.mark.parametrize("scale_m_s", [0.4, 0.8])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 50.0])
def test_velocity_is_that_of_the_flow_times_the_cosine(angle_deg, scale_m_s):
    """Parabolic flow: mean over the core against field · beam direction, within 3 % of the scale's pass band."""
    peak = 0.75 * scale_m_s / math.cos(math.radians(angle_deg))
    setting = replace(PLAIN, scale_m_s=scale_m_s)
    beams = seen(*tube(angle_deg, 9.0, 52.0, 1000 * peak), setting, frames=3)
    truth, share = true_velocity(beams, angle_deg, 9.0, 52.0, peak)
    core = (share < 0.45) & (np.abs(truth) < 0.9 * scale_m_s)
    core &= np.abs(truth) > 2 * cut_off_m_s(setting.ensemble, setting.wall_filter_order, scale_m_s)

    estimated = beams.velocity_m_s[:, core].mean()

    assert core.sum() > 50
    assert estimated == pytest.approx(truth[core].mean(), rel=0.03)


def test_flow_away_is_negative_and_flow_across_is_not_seen():
    away = seen(*tube(0.0, 9.0, 52.0, -500.0), PLAIN)
    middle = np.abs(away.geometry.angles_deg) < 4

    assert away.velocity_m_s[:, :, middle].mean() == pytest.approx(-0.46, abs=0.05)

    across = seen(*tube(90.0, 9.0, 52.0, 300.0, plug=True), PLAIN)
    truth, share = true_velocity(across, 90.0, 9.0, 52.0, 0.3, plug=True)
    still = (np.abs(truth) < 0.02) & (share < 0.5)

    assert not across.is_flow[:, still].any()


@pytest.mark.parametrize("beyond", [1.2, 1.5])
def test_faster_flow_wraps_by_twice_the_scale(beyond):
    """v - 2 · scale, the formula of aliasing; a shifted baseline shows the same flow unwrapped."""
    true = beyond * PLAIN.scale_m_s
    scene, moves = tube(0.0, 12.0, 52.0, 1000 * true, plug=True)
    beams = seen(scene, moves, PLAIN)
    middle = np.abs(beams.geometry.angles_deg) < 5
    shifted = seen(scene, moves, replace(PLAIN, baseline_shift_fraction=0.8))

    wrapped = beams.velocity_m_s[:, :, middle].mean()

    assert wrapped == pytest.approx(true - 2 * PLAIN.scale_m_s, abs=0.02)
    assert shifted.velocity_m_s[:, :, middle].mean() == pytest.approx(true, abs=0.02)


def test_longer_packets_scatter_less():
    """The variance of the mean of n unlike pairs falls as 1/n (statistics): 7 pairs of 8 pulses, 15 of 16."""
    rng = np.random.default_rng(8)
    scatter = {}
    for pulses in (8, 16):
        turn = rng.normal(1.0, 0.7, (24, 60, 60))  # a wide spectrum: 24 scatterers a cell
        echo = np.exp(1j * (turn * np.arange(pulses)[:, None, None, None] + rng.uniform(0, 2 * np.pi, turn.shape)))
        lag, _, _ = correlate(echo.sum(axis=1).astype(np.complex64), 0, 0)
        scatter[pulses] = np.angle(lag * np.exp(-1j)).var()

    assert scatter[8] / scatter[16] == pytest.approx(15 / 7, rel=0.25)


def test_variance_tells_disturbed_flow():
    """1 - |R1|/R0 of a Gaussian spectrum is 1 - exp(-(pi · sigma / scale)² / 2), Kasai 1985."""
    calm = seen(*tube(0.0, 12.0, 52.0, 400.0, plug=True), PLAIN)
    wild = seen(*tube(0.0, 12.0, 52.0, 400.0, plug=True, unsteady=0.7), PLAIN)
    middle = np.abs(calm.geometry.angles_deg) < 5
    within = 0.28 * math.sqrt(0.5)  # half of the power is spread within the cells, half moves them as a whole

    assert calm.variance[:, :, middle].mean() < 0.1
    at_least = 1 - math.exp(-((math.pi * within / PLAIN.scale_m_s) ** 2) / 2)
    assert wild.variance[:, :, middle].mean() > 0.75 * at_least


def test_still_tissue_stays_grey_at_proper_gain_and_specks_at_high_gain():
    """Colour specks are looked for in still tissue: below 1 % of the cells, common practice (no source)."""
    calm = seen(even(np), at_rest(), PLAIN, frames=4)
    loud = seen(even(np), at_rest(), replace(PLAIN, gain_db=6.0), frames=4)

    assert calm.is_flow.mean() < 0.01
    assert loud.is_flow.mean() > 0.5


def test_low_gain_leaves_holes_in_the_flow():
    scene, moves = tube(40.0, 8.0, 52.0, 500.0)
    proper, low = (seen(scene, moves, replace(PLAIN, gain_db=gain)) for gain in (0.0, -15.0))
    _, share = true_velocity(proper, 40.0, 8.0, 52.0, 0.5)
    core = share < 0.5

    assert proper.is_flow[:, core].mean() > 0.97
    assert 0.05 < low.is_flow[:, core].mean() < 0.8


def test_moving_tissue_flashes_through_a_low_filter_and_not_through_a_high_one():
    """Muscle at 4 cm/s: below the cut-off of each filter, but 50 dB above noise."""
    scene, moves = pushed_block(40.0)
    loose = replace(PLAIN, suppresses_tissue=False)
    low, high = (seen(scene, moves, replace(loose, wall_filter_order=order)) for order in (0, 3))

    assert low.is_flow.mean() > 0.95
    assert low.velocity_m_s.mean() == pytest.approx(0.04, abs=0.02)  # it has the tissue's own colour
    assert high.is_flow.mean() < 0.02


def test_tissue_that_moves_is_told_from_slow_blood():
    """Muscle at 4 cm/s is left strong and slow by the filter and taken out; blood at 20 cm/s in still muscle stays."""
    setting = replace(PLAIN, wall_filter_order=1)
    scene, moves = pushed_block(40.0)
    loose = seen(scene, moves, replace(setting, suppresses_tissue=False))
    flow = seen(*tube(0.0, 12.0, 52.0, 200.0, plug=True), setting)
    middle = np.abs(flow.geometry.angles_deg) < 5

    assert loose.is_flow.mean() > 0.95
    assert seen(scene, moves, setting).is_flow.mean() < 0.02
    assert flow.is_flow[:, :, middle].mean() > 0.98


def test_a_hand_that_moves_makes_tissue_flash():
    def sinking(time_ms):
        return Pose(origin_mm=np.array([0.0, 0.0, 0.2 * time_ms]), axes=np.eye(3))  # 20 cm/s into the animal

    beams = seen(even(np), at_rest(), PLAIN, pose=sinking)

    assert beams.is_flow.mean() > 0.9
    assert np.median(beams.velocity_m_s) == pytest.approx(0.2, abs=0.05)  # what the probe runs towards comes towards it


def test_specks_come_from_below():
    """Depth gain holds the near field back: noise passes at the far end of the box first."""
    beams = seen(even(np), at_rest(), replace(PLAIN, gain_db=3.5), frames=4)
    by_depth = beams.is_flow.mean(axis=(0, 2))

    assert by_depth[-20:].mean() > 0.05
    assert by_depth[-20:].mean() > 3 * by_depth[:20].mean()


@pytest.mark.parametrize(
    ("probe", "depth_mm"), [("phased small", 40.0), ("phased large", 160.0), ("curved large", 120.0)]
)
def test_other_probes_and_depths_see_the_same_flow(probe, depth_mm):
    chosen = PROBES[probe]
    console = replace(default_console(chosen, Species.DOG, 20.0, depth_mm), n_lines=16, n_samples=96)
    box = ColourBox(left_deg=-12.0, right_deg=13.0, near_mm=0.4 * depth_mm, far_mm=0.8 * depth_mm)
    setting = replace(default_colour(console, box), persistence_fraction=0.0, n_lines=25, ensemble=13)
    scene, moves = tube(0.0, 0.2 * depth_mm, 0.6 * depth_mm, 400.0, plug=True)
    states = [state(0.0), state(40.0)]
    beams = render_colour(scene, moves, DOWN, chosen, console, setting, states, np.random.default_rng(2))
    middle = np.abs(beams.geometry.angles_deg) < 4

    assert beams.is_flow[:, :, middle].mean() > 0.9
    assert beams.velocity_m_s[:, :, middle].mean() == pytest.approx(0.4, rel=0.03)


@pytest.mark.parametrize("stop", [Tissue.RIB, Tissue.LUNG])
def test_bone_and_air_stop_colour(stop):
    """A plate over one half of the picture: no flow behind it, flow beside it."""
    scene, moves = tube(90.0, 8.0, 55.0, 1500.0)

    def behind(at, x, y, z):
        sampled = scene.moving(at, x, y, z)
        plate = (slab(8.0, 16.0)(x, y, z) < 0) & (x > 0)
        return replace(sampled, tissue=np.where(plate, np.uint8(stop), sampled.tissue))

    beams = seen(Scene(moving=behind), moves, PLAIN)
    truth, share = true_velocity(beams, 90.0, 8.0, 55.0, 1.5)
    lumen = (share < 0.4) & (np.abs(truth) > 0.25)
    right = beams.geometry.angles_deg[None, :] > 6

    assert beams.is_flow[:, lumen & ~right].mean() > 0.9
    assert beams.is_flow[:, lumen & right].mean() < 0.05


def test_persistence_keeps_colour_after_the_flow_has_stopped():
    scene, moves = tube(30.0, 8.0, 52.0, 500.0)

    def stops(time_ms, x, y, z, tissue=None):
        return moves(time_ms, x, y, z) if time_ms < 60 else at_rest()(time_ms, x, y, z)

    counts = {}
    for keep in (0.0, 0.8):
        beams = seen(scene, stops, replace(PLAIN, persistence_fraction=keep), frames=4)
        counts[keep] = beams.is_flow.mean(axis=(1, 2))

    assert counts[0.0][2] < 0.1 * counts[0.0][1]
    assert counts[0.8][2] > 0.8 * counts[0.8][1]


def test_same_seed_same_clip():
    scene, moves = tube(30.0, 8.0, 52.0, 500.0)
    first, second, other = (seen(scene, moves, PLAIN, seed=seed) for seed in (3, 3, 4))

    assert np.array_equal(first.correlation, second.correlation)
    assert not np.array_equal(first.correlation, other.correlation)


@pytest.mark.parametrize("order", [0, 1, 2, 3])
def test_wall_filter_takes_polynomials_off_and_nothing_twice(order):
    matrix = wall_filter(12, order).astype(float)
    time = np.linspace(-1, 1, 12)

    assert np.allclose(matrix @ matrix, matrix, atol=1e-5)  # a projection
    for power in range(order + 1):
        assert np.abs(matrix @ time**power).max() < 1e-5
    assert filter_response_db(12, order, np.array([1.0]))[0] > -1.0  # the end of the scale passes


def test_cut_off_rises_with_the_order_and_falls_with_the_packet():
    by_order = [cut_off_m_s(10, order, 1.0) for order in range(4)]

    assert by_order == sorted(by_order)
    assert cut_off_m_s(16, 2, 1.0) < cut_off_m_s(8, 2, 1.0)
    assert cut_off_m_s(10, 2, 0.5) == pytest.approx(cut_off_m_s(10, 2, 1.0) / 2)


def test_noise_keeps_its_power_through_filter_and_averaging():
    rng = np.random.default_rng(1)
    noise = (rng.standard_normal((10, 80, 80)) + 1j * rng.standard_normal((10, 80, 80))).astype(np.complex64) / 2**0.5
    _, power, whole = correlate(noise, 2, 1)

    assert power.mean() == pytest.approx(1.0, rel=0.02)
    assert whole.mean() == pytest.approx(1.0, rel=0.02)
