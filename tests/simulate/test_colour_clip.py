"""A colour clip of an animal from its setting to the screen, and the box round its valve."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.landmarks import landmarks
from fanlight.heart.moving_body import moving_body
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.colour_box_at import box_at, place_in_picture
from fanlight.simulate.clip.colour_clip import colour_film, colour_screen_of
from fanlight.simulate.colour.colour_setting import colour_frame_rate_hz, default_colour
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import Landmark, Species
from tests.heart.blood.bodies import body_of
from tests.simulate import screen_stand_ins as stand_in
from tests.simulate.phantoms import DOWN

APICAL = "left_apical_four_chamber"
BODY = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
PROBE = default_probe(12.0)
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0), n_lines=40, n_samples=160)
LINES = line_geometry(PROBE, CONSOLE)


def valve_and_flow(pose_view=APICAL):
    """Middle of the mitral ring and the way to the apex, patient frame, at end-diastole."""
    at = state_at(BODY.animal.rhythm, BODY.beats, BODY.beats[1].onset_ms)
    marks = landmarks(BODY.animal.anatomy, at)
    valve, apex = (np.asarray(marks[m], float) for m in (Landmark.MITRAL_CENTRE, Landmark.LV_APEX))
    return valve, (apex - valve) / np.linalg.norm(apex - valve)


def test_box_has_a_third_before_the_valve():
    """Flow away from the probe along the middle beam, and flow to the right of it."""
    valve = np.array([0.0, 0.0, 60.0])
    away = box_at(LINES, DOWN, valve, np.array([0.0, 0.0, 1.0]), length_mm=30.0, width_mm=24.0)
    towards = box_at(LINES, DOWN, valve, np.array([0.0, 0.0, -1.0]), length_mm=30.0, width_mm=24.0)
    right = box_at(LINES, DOWN, valve, np.array([1.0, 0.0, 0.1]), length_mm=30.0, width_mm=24.0)

    assert (away.near_mm, away.far_mm) == pytest.approx((50.0, 80.0))
    assert (towards.near_mm, towards.far_mm) == pytest.approx((40.0, 70.0))
    assert np.radians(away.right_deg - away.left_deg) * 60 == pytest.approx(24.0)
    assert (np.radians(right.left_deg) * 60, np.radians(right.right_deg) * 60) == pytest.approx((-10.0, 20.0))


def test_box_ends_where_the_picture_does_and_needs_its_valve_in_it():
    deep = box_at(
        LINES, DOWN, np.array([0.0, 0.0, 0.97 * LINES.depth_mm]), np.array([0, 0, 1.0]), length_mm=40, width_mm=300
    )

    assert deep.far_mm == LINES.depth_mm
    assert (deep.left_deg, deep.right_deg) == (LINES.left_deg, LINES.right_deg)
    with pytest.raises(ValueError, match="the valve lies at 300 mm and 0 degrees, outside the picture"):
        box_at(LINES, DOWN, np.array([0.0, 0.0, 300.0]), np.array([0, 0, 1.0]), length_mm=40, width_mm=30)


@pytest.mark.parametrize("flipped", [False, True])
def test_clip_of_an_animal(flipped):
    """The screen has the machine's frame rate, the box round the mitral valve, and colour that comes and goes."""
    pose = standard_pose(BODY.animal, APICAL)
    valve, flow = valve_and_flow()
    colour = default_colour(CONSOLE, box_at(LINES, pose, valve, flow, length_mm=45.0, width_mm=30.0))
    setting = ClipSetting(
        view=APICAL, said_view=APICAL, pose=pose, probe=PROBE, console=CONSOLE,
        recording=Recording(beats=0.9, is_mirrored=flipped),
    )  # fmt: skip
    film = colour_film(BODY.animal, setting, colour, start_ms=200.0)
    body = moving_body(
        BODY.animal, BODY.circulation, film.beats, start_ms=film.start_ms, duration_ms=film.times_ms[-1] + 50.0
    )
    facts = stand_in.facts(depth_mm=CONSOLE.depth_mm, frame_rate_hz=film.rate_hz)
    whole = colour_screen_of(
        BODY.animal, setting, colour, body, film, LAYOUTS["corners"], facts, np.random.default_rng(4)
    )
    depth, angle = place_in_picture(LINES, pose, valve)
    radius = depth / whole.screen.placed.mm_per_px
    sector, truth = whole.screen.placed.sector, whole.colour
    side = -1 if flipped else 1
    row = sector.apex_row_px + radius * np.cos(np.radians(angle))
    col = sector.apex_col_px + side * radius * np.sin(np.radians(angle))

    assert film.rate_hz == pytest.approx(colour_frame_rate_hz(CONSOLE, colour))
    assert len(whole.screen.frames) == len(film.times_ms) > 8
    assert truth.box.row0 < row < truth.box.row1
    assert truth.box.col0 < col < truth.box.col1
    inside = whole.screen.frames[:, truth.box.row0 : truth.box.row1, truth.box.col0 : truth.box.col1].astype(int)
    coloured = (inside.max(axis=-1) - inside.min(axis=-1) > 60).mean(axis=(1, 2))
    assert coloured.max() > 0.15
    assert coloured.min() < 0.3 * coloured.max()
    assert 0.02 < truth.shown_fraction < 0.7
    assert whole.screen.ecg_box is not None
