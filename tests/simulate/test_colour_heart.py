"""Colour of the beating heart against the velocity field that flows in it."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.simulate.colour.colour_estimate import cut_off_m_s
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.colour.colour_setting import ColourBox, default_colour
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.study import Species
from tests.heart.blood.bodies import body_of

VIEW = "left_apical_four_chamber"


class Seen:
    """One moment of an animal in colour, and what the field says of the same cells."""

    def __init__(self, heart, flow_name):
        body = body_of(Species.DOG, 12.0, heart)
        probe = default_probe(12.0)
        console = replace(default_console(probe, Species.DOG, 12.0), n_lines=32, n_samples=160)
        pose = standard_pose(body.animal, VIEW)
        box = ColourBox(left_deg=-18.0, right_deg=18.0, near_mm=0.3 * console.depth_mm, far_mm=0.9 * console.depth_mm)
        # a low frequency and a short packet's filter: the whole inflow fits the scale
        setting = replace(
            default_colour(console, box), frequency_mhz=2.2, scale_m_s=1.3, persistence_fraction=0.0, ensemble=14,
            n_lines=36,
        )  # fmt: skip
        during = (body.flows.times_ms > 150) & (body.flows.times_ms < 1200)
        flow = getattr(body.flows, flow_name)
        time_ms = float(body.flows.times_ms[during][np.argmax(flow[during])])
        state = replace(state_at(body.animal.rhythm, body.beats, time_ms), time_ms=time_ms)
        scene = scene_of(body.animal)
        self.beams = render_colour(scene, body, pose, probe, console, setting, [state], np.random.default_rng(3))
        geometry = self.beams.geometry
        angle, depth = np.radians(geometry.angles_deg)[None, :], geometry.depths_mm[:, None]
        points = np.stack([depth * np.sin(angle), 0 * depth * angle, depth * np.cos(angle)], axis=-1)
        at = pose.to_patient(points).astype(np.float32)
        x, y, z = (np.ascontiguousarray(at[..., k]) for k in range(3))
        self.label = scene.moving(state, x, y, z).tissue
        motion = body(time_ms, x, y, z, self.label)
        way = (pose.to_patient(points) - pose.origin_mm) / np.linalg.norm(points, axis=-1, keepdims=True)
        self.truth = -sum(np.asarray(motion.velocity_mm_s[k]) * way[..., k] for k in range(3)) / 1000.0
        self.cut_off = cut_off_m_s(setting.ensemble, setting.wall_filter_order, setting.scale_m_s)


def test_mitral_inflow_is_seen_as_it_flows():
    """Cells of smooth blood away from walls: slope of estimate on field within 6 %, and towards the probe."""
    seen = Seen(HeartClass.NORMAL, "mitral")
    blood = np.isin(seen.label, [int(t) for t in BLOOD])
    core = blood & (np.abs(seen.truth) > 1.5 * seen.cut_off) & (np.abs(seen.truth) < 1.1)
    for axis in (0, 1):  # neighbours are blood of like speed
        for step in (-2, 2):
            core &= np.roll(blood, step, axis) & (np.abs(np.roll(seen.truth, step, axis) - seen.truth) < 0.15)

    estimate = seen.beams.velocity_m_s[0][core]

    assert core.sum() > 100
    assert np.median(seen.truth[core & (seen.label == int(Tissue.LV_CAVITY))]) > 0.3  # inflow comes to an apical probe
    assert float(estimate @ seen.truth[core] / (seen.truth[core] @ seen.truth[core])) == pytest.approx(1.0, abs=0.06)
    assert np.abs(estimate - seen.truth[core]).mean() < 0.1
    assert seen.beams.is_flow[0][core].mean() > 0.97


def test_a_leaking_valve_scatters_and_a_tight_one_does_not():
    """The regurgitant jet wraps and scatters in the atrium; the same moment of a healthy heart has next to none."""
    shares = {}
    for heart in (HeartClass.NORMAL, HeartClass.MITRAL_DISEASE):
        seen = Seen(heart, "aortic")
        atrium = seen.label == int(Tissue.LA_CAVITY)
        jet = atrium & (seen.beams.variance[0] > 0.5) & seen.beams.is_flow[0]
        shares[heart] = jet.sum() / atrium.sum()

    assert shares[HeartClass.MITRAL_DISEASE] > 0.3
    assert shares[HeartClass.NORMAL] < 0.06


def test_walls_that_beat_stay_grey():
    """At the peak of ejection muscle moves fastest; with proper settings next to none of it is coloured."""
    seen = Seen(HeartClass.NORMAL, "aortic")
    muscle = np.isin(seen.label, [int(Tissue.SEPTUM), int(Tissue.LV_FREE_WALL)])

    assert muscle.sum() > 300
    assert seen.beams.is_flow[0][muscle].mean() < 0.15  # beside the cavity the beam still hears blood
