"""Spectra of a beating heart, against the velocity that its model has at the gate."""

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks
from fanlight.heart.beat_timing import time_beat
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.layout import layout
from fanlight.heart.movements import turned
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.spectral.spectral_beam import GATE_PLACES, on_cursor_mm, places_of
from fanlight.simulate.spectral.spectral_setting import SpectralSetting
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.study import Landmark, Mode, Species
from tests.heart.blood.bodies import body_of, passed_ml, whole_beat

WEIGHT_KG, VIEW = 12.0, "left_apical_four_chamber"
PROBE = default_probe(WEIGHT_KG)
CONSOLE = default_console(PROBE, Species.DOG, WEIGHT_KG)
START_MS, COLUMN_MS = 200.0, 2.5
PULSED = SpectralSetting(
    mode=Mode.PULSED_WAVE, frequency_mhz=3.0, scale_cm_s=100.0, gate_depth_mm=50.0, baseline_fraction=0.85,
    wall_filter_cm_s=8.0,
)  # fmt: skip


@lru_cache(maxsize=2)
def scanned(heart=HeartClass.NORMAL):
    body = body_of(Species.DOG, WEIGHT_KG, heart)
    return body, scene_of(body.animal), standard_pose(body.animal, VIEW)


def velocities(body, scene, pose, points_mm, cursor_deg, time_ms):
    """Velocity towards the probe (cm/s) and tissue at points of the probe's frame."""
    angle = math.radians(cursor_deg)
    beam = pose.axes @ [math.sin(angle), 0.0, math.cos(angle)]
    x, y, z = pose.to_patient(points_mm).astype(np.float32).T.copy()
    tissue = scene.moving(state_at(body.animal.rhythm, body.beats, time_ms), x, y, z).tissue
    return -np.stack(body(time_ms, x, y, z, tissue).velocity_mm_s, axis=-1) @ beam / 10, tissue


def fastest(chamber, sign, heart=HeartClass.NORMAL):
    """Beam, depth and time at which blood of a chamber streams fastest along the beam."""
    body, scene, pose = scanned(heart)
    depth = np.arange(15.0, CONSOLE.depth_mm - 4, 2.0)
    rr_ms = 60_000 / body.animal.rhythm.rate_bpm
    best = (-1.0, 0.0, 0.0, 0.0)
    for cursor in np.arange(-8.0, 9.0, 4.0):
        for time_ms in START_MS + 60 + np.linspace(0, rr_ms, 16):
            along, tissue = velocities(body, scene, pose, on_cursor_mm(PROBE, cursor, depth), cursor, time_ms)
            speed = np.where(tissue == int(chamber), sign * along, -1.0)
            best = max(best, (float(speed.max()), float(cursor), float(depth[speed.argmax()]), float(time_ms)))
    return best


def strip(setting, n_columns, heart=HeartClass.NORMAL, start_ms=START_MS, seed=1, pose_at=None):
    body, scene, pose = scanned(heart)
    return render_spectrum(
        scene, body, pose_at or pose, PROBE, CONSOLE, setting, lambda t: state_at(body.animal.rhythm, body.beats, t),
        np.random.default_rng(seed), rows=240, n_columns=n_columns, column_ms=COLUMN_MS, start_ms=start_ms,
    )  # fmt: skip


def test_pulsed_wave_in_the_inflow_shows_the_velocity_of_the_field():
    """At the peak of the wave, where it stands still for some ms, the spectrum lies about the mean of the gate."""
    speed, cursor, depth, near_ms = fastest(Tissue.LV_CAVITY, 1.0)
    setting = replace(PULSED, cursor_deg=cursor, gate_depth_mm=depth, scale_cm_s=max(60.0, 0.8 * speed))
    body, scene, pose = scanned()
    gate = places_of(PROBE, CONSOLE, setting, np.random.default_rng(0)).points_mm[:GATE_PLACES]
    means = {t: velocities(body, scene, pose, gate, cursor, t)[0].mean() for t in near_ms + np.arange(-40.0, 41.0, 5.0)}
    time_ms = max(means, key=lambda t: means[t])
    held = np.mean([means[t] for t in time_ms + np.arange(-10.0, 11.0, 5.0) if t in means])  # in the spectrum's window
    _, tissue = velocities(body, scene, pose, gate, cursor, time_ms)
    drawn = [strip(setting, n_columns=24, start_ms=time_ms - 30, seed=seed) for seed in (1, 2, 3, 4)]
    seen = drawn[0]

    middle = np.mean([each.density[:, 10:14].mean(axis=1) for each in drawn], axis=0)  # speckle is evened out
    middle = np.where(np.abs(seen.velocities_cm_s) > 15.0, middle, 0.0)  # without what walls leave near the baseline
    mode = seen.velocities_cm_s[middle.argmax()]
    wave = np.abs(seen.velocities_cm_s - mode) < 0.25 * mode
    found = float((middle * seen.velocities_cm_s)[wave].sum() / middle[wave].sum())
    assert np.isin(tissue, [int(label) for label in BLOOD]).all()
    assert found == pytest.approx(held, rel=0.06)


def test_a_probe_that_turns_away_and_comes_back_loses_the_flow_between():
    """It is at one pose at both ends of the strip: nothing may be held of it for the time between."""
    speed, cursor, depth, near_ms = fastest(Tissue.LV_CAVITY, 1.0)
    setting = replace(PULSED, cursor_deg=cursor, gate_depth_mm=depth, scale_cm_s=max(60.0, 0.8 * speed))
    pose = scanned()[2]
    away = turned(pose, np.array([0.0, 60.0, 0.0]))
    times = {"n_columns": 24, "start_ms": near_ms - 30}
    still = strip(setting, **times)
    swinging = strip(setting, **times, pose_at=lambda t: away if abs(t - near_ms) < 25 else pose)
    fast = still.velocities_cm_s > 0.5 * speed

    assert swinging.density[fast, 10:14].sum() < 0.2 * still.density[fast, 10:14].sum()


def test_tissue_doppler_of_the_septum_follows_the_wall():
    """At the base of the septum the strongest velocity is that of the wall, in systole and in diastole."""
    body, scene, pose = scanned()
    depth = np.arange(40.0, CONSOLE.depth_mm - 10, 2.0)
    times = START_MS + 60 + np.linspace(0, 60_000 / body.animal.rhythm.rate_bpm, 12)
    best = (0.0, 0.0, 0.0)
    for cursor in np.arange(-16.0, -3.0, 4.0):
        seen = [velocities(body, scene, pose, on_cursor_mm(PROBE, cursor, depth), cursor, t) for t in times]
        wall = np.all([tissue == int(Tissue.SEPTUM) for _, tissue in seen], axis=0)
        deep = np.flatnonzero(wall & np.roll(wall, 1) & np.roll(wall, -1))
        if len(deep):
            speed = np.max([np.abs(along[deep]) for along, _ in seen], axis=0)
            best = max(best, (float(speed.max()), float(cursor), float(depth[deep[speed.argmax()]])))
    _, cursor, gate = best
    setting = replace(
        PULSED, mode=Mode.TISSUE_DOPPLER, cursor_deg=cursor, gate_depth_mm=gate, scale_cm_s=16.0,
        baseline_fraction=0.5,
    )  # fmt: skip
    strip_of = strip(setting, n_columns=160)
    found = strip_of.velocities_cm_s[np.argmax(strip_of.density, axis=0)]
    at = [velocities(body, scene, pose, on_cursor_mm(PROBE, cursor, np.array([gate])), cursor, t)[0][0]
          for t in strip_of.times_ms[::10]]  # fmt: skip

    assert best[0] > 3.0
    assert np.median(np.abs(found[::10] - at)) < 0.8
    assert np.corrcoef(found[::10], at)[0, 1] > 0.9


def test_continuous_wave_shows_the_regurgitant_jet():
    """A leaking mitral valve: systolic flow away from the apex, as fast as the field along the beam says."""
    heart = HeartClass.MITRAL_DISEASE
    speed, cursor, depth, time_ms = fastest(Tissue.LA_CAVITY, -1.0, heart)
    setting = replace(
        PULSED, mode=Mode.CONTINUOUS_WAVE, cursor_deg=cursor, gate_depth_mm=depth, scale_cm_s=400.0,
        baseline_fraction=0.2, wall_filter_cm_s=40.0,
    )  # fmt: skip
    body, scene, pose = scanned(heart)
    line = places_of(PROBE, CONSOLE, setting, np.random.default_rng(1)).points_mm
    here, tissue = velocities(body, scene, pose, line, cursor, time_ms)
    field = -here[tissue == int(Tissue.LA_CAVITY)].min()
    seen = strip(setting, n_columns=24, heart=heart, start_ms=time_ms - 30)
    middle = seen.density[:, 4:20].mean(axis=1)
    share = -seen.velocities_cm_s / field
    inside = np.median(middle[(share > 0.5) & (share < 0.9)])
    edge = -seen.velocities_cm_s[middle > 0.25 * inside].min()

    assert field > 0.9 * speed > 250.0
    assert 0.9 * field < edge < 1.25 * field  # turbulence feathers the edge beyond the mean velocity


@pytest.mark.parametrize(("species", "weight_kg"), [(Species.DOG, 12.0), (Species.CAT, 4.0)])
def test_integral_times_area_is_the_stroke_volume(species, weight_kg):
    """Stroke volume = velocity-time integral · π·r² (QUINONES2002, 4.1), with the beam along the flow at the ring.

    The radius is that of the ring; in cats that of the stream, which is narrower (`circulation.Openings`).

    The profile is nearly flat, its middle a tenth faster than the mean (`stream.BLUNT`); the ring moves as well.
    """
    body = body_of(species, weight_kg, HeartClass.NORMAL)
    _, beat = whole_beat(body)
    timing = time_beat(body.animal.rhythm, beat)
    peak_ms = beat.onset_ms + timing.aortic.peak_ms
    state = state_at(body.animal.rhythm, body.beats, peak_ms)
    ring_mm = np.asarray(animal_landmarks(body.animal, state)[Landmark.AORTIC_CENTRE], float)
    x, y, z = ring_mm.astype(np.float32)[:, None]
    flow = np.stack([v[0] for v in body(peak_ms, x, y, z, np.full(1, int(Tissue.AORTA))).velocity_mm_s])
    down = -flow / np.linalg.norm(flow)  # the beam meets the flow head on
    across = np.cross(down, [0.0, 0.0, 1.0])
    across /= np.linalg.norm(across)
    pose = Pose(origin_mm=ring_mm - 40.0 * down, axes=np.stack([across, np.cross(down, across), down], axis=-1))
    setting = replace(PULSED, scale_cm_s=200.0, gate_depth_mm=40.0, gate_mm=1.0, baseline_fraction=0.8)
    n = int((beat.end_ms - beat.onset_ms) / COLUMN_MS)
    scene = replace(scene_of(body.animal), still=None)  # no lung on the way

    def drawn(seed):
        return render_spectrum(
            scene, body, pose, PROBE, CONSOLE, setting, lambda t: state_at(body.animal.rhythm, body.beats, t),
            np.random.default_rng(seed), rows=240, n_columns=n, column_ms=COLUMN_MS, start_ms=beat.onset_ms,
        )  # fmt: skip

    seen = drawn(1)
    density = np.mean([seen.density, drawn(2).density, drawn(3).density], axis=0)  # speckle is evened out
    towards = np.where(seen.velocities_cm_s[:, None] > 15.0, density, 0.0)
    mode = seen.velocities_cm_s[towards.argmax(axis=0)]
    loud = towards.max(axis=0) > 0.05 * np.percentile(towards.max(axis=0), 95)
    integral_cm = float((mode * loud).sum()) * COLUMN_MS / 1000
    root = layout(body.animal.anatomy, state).aorta.root
    share = body.circulation.openings.aortic if species is Species.CAT else 1.0
    area_cm2 = math.pi * (share * root.radius_at(0.0) / 10) ** 2

    assert integral_cm * area_cm2 == pytest.approx(passed_ml(body, "aortic"), rel=0.15)
