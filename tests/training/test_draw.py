"""A drawn clip against the animal itself: masks and landmarks are asked anew, by the heart's own label map."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks
from fanlight.recognise.picture_square import SIDE_PX
from fanlight.simulate.clip.film import shoot_times
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.machine.beams import line_geometry
from training.draw import FRAMES, MASK_PX, Sample, draw, phase_of
from training.label_sets import LANDMARKS, SHOWN_UNITS, Structure, structure_table
from training.light_former import FieldBank
from training.randomise import PoseKind, Shot, Subject, aimed, draw_pose, draw_shot, name_at
from training.randomise import draw_subject as drawn


def test_shapes_and_ranges(sample: Sample) -> None:
    assert sample.frames.shape == (3, SIDE_PX, SIDE_PX)
    assert sample.masks.shape == (3, MASK_PX, MASK_PX)
    assert sample.points_px.shape == (3, len(LANDMARKS), 2)
    assert sample.shares.sum() == pytest.approx(1.0, abs=1e-5)
    assert (sample.phase >= 0).all()
    assert (sample.phase < 1).all()
    assert sample.frames[:, ~sample.inside].max() == 0
    assert sample.frames[:, sample.inside].mean() > 5


def test_masks_are_what_the_animal_has_there(shot: Shot, sample: Sample) -> None:
    """Each pixel's place in the patient is worked out here from the sector, and its tissue asked of the scene."""
    animal, setting = shot.subject.animal, shot.setting
    state = shoot_times(animal, setting, start_ms=shot.start_ms, rate_hz=3 * animal.rhythm.rate_bpm / 60).states[0]
    lines = line_geometry(setting.probe, setting.console)
    rows, cols = np.nonzero(sample.inside[::2, ::2])
    apex_row, apex_col = apex_of(sample, lines.apex_mm + lines.depth_mm)
    across = (2.0 * cols + 0.5 - apex_col) * sample.mm_per_px
    depth = (2.0 * rows + 0.5 - apex_row) * sample.mm_per_px - lines.apex_mm
    points = setting.pose.to_patient(np.stack([across, 0 * across, depth], axis=-1)).astype(np.float32)
    scene = scene_of(animal, setting)
    moving = np.asarray(scene.moving(state, *points.T).tissue)
    assert scene.still is not None
    still = np.asarray(scene.still(state.breath, *points.T).tissue)
    true = structure_table()[np.where(moving != 0, moving, still)]
    said = sample.masks[0][rows, cols]
    seen = said != Structure.HIDDEN

    assert (true[seen] == said[seen]).mean() > 0.93  # beams are coarser than pixels: borders differ


def apex_of(sample: Sample, reach_mm: float) -> tuple[float, float]:
    """Return where the lines meet, from the picture's own edge: its deepest pixel lies on the central beam."""
    rows, cols = np.nonzero(sample.inside)
    return float(rows.max()) + 0.5 - reach_mm / sample.mm_per_px, float(cols.min() + cols.max()) / 2


def test_landmarks_lie_where_the_animal_has_them(shot: Shot, sample: Sample) -> None:
    animal, setting = shot.subject.animal, shot.setting
    state = shoot_times(animal, setting, start_ms=shot.start_ms, rate_hz=3 * animal.rhythm.rate_bpm / 60).states[1]
    places = animal_landmarks(animal, state)
    apart_mm = np.linalg.norm(np.diff([setting.pose.to_probe(places[m])[[2, 0]] for m in LANDMARKS], axis=0), axis=1)
    apart_px = np.linalg.norm(np.diff(sample.points_px[1], axis=0), axis=1)
    off = np.array([abs(setting.pose.to_probe(places[m])[1]) / shot.subject.unit_mm for m in LANDMARKS])
    kept = np.isfinite(sample.off_units[1])

    np.testing.assert_allclose(apart_px * sample.mm_per_px, apart_mm, rtol=1e-3)
    np.testing.assert_allclose(sample.off_units[1][kept], off[kept], rtol=1e-3, atol=1e-4)


def test_the_centre_of_the_ventricle_lies_in_its_cavity(subject: Subject, shot: Shot) -> None:
    """In the standard long axis the landmark lies in the plane, and the mask under it is the cavity."""
    view, rng = "right_parasternal_long_axis_four_chamber", np.random.default_rng(2)
    setting = aimed(subject.animal, view, subject.standards[view], shot.setting.probe, shot.setting.console, rng)
    clip = draw(replace(shot, setting=setting, view=view), rng, n_frames=1)
    index = [mark.name for mark in LANDMARKS].index("LV_CENTRE")
    row, col = np.round((clip.points_px[0, index] - 0.5) / 2).astype(int)

    assert clip.off_units[0, index] < SHOWN_UNITS
    assert clip.masks[0, row, col] == Structure.LV_CAVITY


def test_phase_says_when_the_aortic_valve_is_open(shot: Shot) -> None:
    animal = shot.subject.animal
    film = shoot_times(animal, shot.setting, start_ms=shot.start_ms, rate_hz=40.0)
    for state in film.states:
        if state.aortic_opening > 0.3:
            assert phase_of(animal, film, state) < 0.5
        if state.mitral_opening > 0.05:
            assert phase_of(animal, film, state) > 0.5


def test_speckle_from_the_bank_looks_like_a_clips_own(shot: Shot) -> None:
    own = draw(shot, np.random.default_rng(3), n_frames=2)
    shared = draw(shot, np.random.default_rng(3), n_frames=2, bank=FieldBank())

    np.testing.assert_array_equal(own.masks, shared.masks)
    assert shared.frames.mean() == pytest.approx(own.frames.mean(), rel=0.12)
    assert shared.frames.std() == pytest.approx(own.frames.std(), rel=0.12)


def test_the_same_seeds_draw_the_same_clip(subject: Subject, shot: Shot, sample: Sample) -> None:
    again = draw(draw_shot(drawn(subject.seed), np.random.default_rng(subject.seed)), np.random.default_rng(1), 3)

    np.testing.assert_array_equal(again.frames, sample.frames)
    np.testing.assert_array_equal(again.masks, sample.masks)


def test_off_planes_are_mostly_none_and_standard_ones_their_view(subject: Subject) -> None:
    rng = np.random.default_rng(4)
    keys = list(subject.standards)
    standard = [name_at(subject, draw_pose(subject, key, PoseKind.STANDARD, rng), 0.0).best == k
                for k, key in enumerate(keys)]  # fmt: skip
    off = [name_at(subject, draw_pose(subject, key, PoseKind.OFF, rng), 0.0).best == len(keys) for key in keys]

    assert np.mean(standard) > 0.75
    assert np.mean(off) > 0.5
    assert FRAMES >= 6
