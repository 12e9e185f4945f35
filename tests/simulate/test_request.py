"""The sheet of an invented case is read back as it was written, and fits its files."""

from datetime import timedelta

import numpy as np
import pytest

from fanlight.heart.kinds import HeartClass
from fanlight.intake import Limits, assemble, gather, probe_item, read_sheet
from fanlight.intake.request_sheet import missing_words
from fanlight.reference.diseases import match_disease
from fanlight.reference.load import load_house
from fanlight.simulate.dicom.dicom_file import ClipFacts, Coding, write_clip
from fanlight.simulate.visit.request import draw_request, write_request
from tests.simulate import screen_stand_ins as stand_in

every_heart = pytest.mark.parametrize("heart", list(HeartClass))


@every_heart
def test_sheet_reads_back_as_it_was_written(tmp_path, heart):
    """Nothing is refused, nothing is unknown, every value is the one that was drawn."""
    sheet = draw_request(
        stand_in.visit(),
        heart,
        np.random.default_rng(1),
        training_level="practice",
        heart_rate_bpm=118.4,
        rhythm="regular",
        trainee_reading='Left atrium "large" to me.',
    )
    path = write_request(tmp_path, sheet)

    read = read_sheet(path.read_bytes(), path.name)
    assert (read.refused, read.notes) == ((), ())
    assert (read.request, read.patient, read.identity) == (sheet.request, sheet.patient, sheet.identity)


@every_heart
def test_sheet_asks_a_question_that_the_plans_know(heart):
    """The key chooses a plan; the sheet leaves out only what a practice leaves out."""
    house = load_house()
    for seed in range(6):
        sheet = draw_request(stand_in.visit(), heart, np.random.default_rng(seed), rhythm="regular")
        assert sheet.request.question_key in house.table("plans")["questions"]
        asked_for = missing_words(sheet.request, sheet.patient)
        assert asked_for == (
            "blood pressure in mmHg",
            "the trainee's own reading, given before any feedback",
        )


@every_heart
def test_sheet_does_not_give_the_truth_away(heart):
    """No disease is named, in no field."""
    house = load_house()
    for seed in range(6):
        request = draw_request(stand_in.visit(), heart, np.random.default_rng(seed)).request
        assert request.named_diseases == ()
        words = " ".join((request.question, request.signs, request.radiographs, request.murmur_place))
        assert match_disease(house, words) == ()


def test_sheet_and_files_are_of_one_animal(tmp_path):
    """Assembled as a study, sheet and pictures contradict each other in nothing."""
    visit = stand_in.visit()
    for number in (1, 2):
        frames = np.full((2, 60, 80), 40 * number, np.uint8)
        clip = ClipFacts(
            number=number, frames=frames, regions=(), times_ms=(0.0, 20.0), since_start=timedelta(minutes=number)
        )
        write_clip(tmp_path / f"{number:03d}.dcm", clip, visit, Coding.PLAIN)
    write_request(tmp_path, draw_request(visit, HeartClass.NORMAL, np.random.default_rng(2)))
    (tmp_path / "scratch").mkdir()

    limits = Limits()
    gathered = gather(tmp_path, tmp_path / "scratch", limits)
    study = assemble("study", gathered, [probe_item(item, limits) for item in gathered.items])
    assert study.mismatches == ()
    assert study.refused == ()
    assert [clip.number for clip in study.clips] == [1, 2]
    assert study.identity.animal_name == visit.patient.animal_name
    assert study.request.trainee == "Ivo Fenwright"
