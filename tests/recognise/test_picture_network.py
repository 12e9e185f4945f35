"""The shipped network, asked as the product will ask it: animals that it never saw, cut from screens of other sizes."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks
from fanlight.recognise.picture_network import SHIPPED, PictureNetwork, open_network
from fanlight.recognise.picture_square import SIDE_PX, inside, square_of, to_square
from fanlight.simulate.clip.one_beat import OneBeat, one_beat
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import Landmark
from training.label_sets import LANDMARKS, NONE_OF_THESE, Structure, views
from training.randomise import Subject, draw_subject

HELD_OUT_SEED = 9731  # ring A, kept from training
MOST_BYTES = 12e6
SHOWN = (
    "right_parasternal_long_axis_four_chamber",
    "right_parasternal_short_axis_papillary_muscles",
    "right_parasternal_short_axis_aorta",
    "left_apical_four_chamber",
)


@pytest.fixture(scope="module")
def network() -> PictureNetwork:
    return open_network()


@pytest.fixture(scope="module")
def subject() -> Subject:
    return draw_subject(HELD_OUT_SEED)


def clip_of(subject: Subject, view: str) -> OneBeat:
    """Return a clip on a screen of its own size, at a coarser grid than a console's to save time."""
    setting = steady_setting(subject.animal, view)
    setting = replace(setting, console=replace(setting.console, n_lines=88, n_samples=320))
    rate = 6 * subject.animal.rhythm.rate_bpm / 60
    return one_beat(subject.animal, setting, np.random.default_rng(3), rows=420, cols=560, rate_hz=rate)


def test_the_file_says_what_it_names_and_how_it_came_about(network: PictureNetwork) -> None:
    facts = network.facts

    assert facts["views"] == [*views(), NONE_OF_THESE]
    assert facts["landmarks"] == [mark.name.lower() for mark in LANDMARKS]
    assert facts["structures"] == [structure.name.lower() for structure in Structure]
    assert facts["side_px"] == SIDE_PX
    assert facts["temperature"] > 0
    assert 0.2 < facts["spread_factor"] < 5
    assert len(facts["commit"]) >= 7
    assert all(training["seed"] and int(training["clips"]) > 0 for training in facts["trainings"])
    assert SHIPPED.stat().st_size <= MOST_BYTES


@pytest.mark.parametrize("view", SHOWN)
def test_a_standard_view_is_named_on_an_animal_that_was_not_trained_on(
    network: PictureNetwork, subject: Subject, view: str
) -> None:
    clip = clip_of(subject, view)
    square = square_of(clip.picture)
    frames = to_square(clip.frames, clip.picture)
    said = network.ask(frames, inside(square.sector))

    assert [*views(), NONE_OF_THESE][int(said["view"].argmax())] == view
    assert said["view"].sum() == pytest.approx(1.0, abs=1e-4)
    assert said["mirrored"][0] < 0.5
    assert said["structures"].shape == (len(frames), len(Structure), SIDE_PX // 2, SIDE_PX // 2)
    upside_down = network.ask(frames[:, ::-1], inside(square.sector)[::-1])
    assert upside_down["view"][:-1].max() < 0.8


def test_a_landmark_lies_where_the_animal_has_it(network: PictureNetwork, subject: Subject) -> None:
    """Asked on the screen, in mm, against the model at the same moment; the limit is engineering judgement."""
    clip = clip_of(subject, "right_parasternal_long_axis_four_chamber")
    square = square_of(clip.picture)
    said = network.ask(to_square(clip.frames, clip.picture), inside(square.sector))
    mark = LANDMARKS.index(Landmark.MITRAL_SEPTAL_HINGE)
    assert clip.layout.scale is not None
    for frame, state in enumerate(clip.film.states):
        row, col, _, shown = said["landmarks"][frame, mark]
        probe = clip.setting.pose.to_probe(animal_landmarks(subject.animal, state)[Landmark.MITRAL_SEPTAL_HINGE])
        on_screen = square.to_screen(np.array([row, col], np.float64), clip.picture)
        away = on_screen - [clip.picture.apex_row_px, clip.picture.apex_col_px]
        found_mm = away * clip.layout.scale.mm_per_row_px

        assert shown > 0.5
        assert np.hypot(found_mm[0] - probe[2], found_mm[1] - probe[0]) < 4.0


@pytest.mark.parametrize("n_frames", [1, 2, 9])
def test_any_number_of_frames_is_taken(network: PictureNetwork, n_frames: int) -> None:
    frames = np.random.default_rng(0).integers(0, 255, (n_frames, SIDE_PX, SIDE_PX)).astype(np.uint8)
    said = network.ask(frames, np.ones((SIDE_PX, SIDE_PX), dtype=bool))

    assert said["view"].shape == (len(views()) + 1,)
    assert said["landmarks"].shape == (n_frames, len(LANDMARKS), 4)
    assert said["phase"].shape == (n_frames,)
    assert said["view"][:-1].max() < 0.8  # noise is no view
