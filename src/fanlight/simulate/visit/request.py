"""The request sheet that an invented practice sends with a simulated study."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fanlight.heart.kinds import HeartClass
from fanlight.intake import RequestSheet, write_sheet
from fanlight.simulate.dicom.patient_facts import ExaminationFacts
from fanlight.study import Breathing, Identity, Patient, Request

FILE_NAME = "request.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Story:
    """What a practice may write about an animal with this heart; it says what was found, never what it is."""

    question: str
    question_key: str  # a question of plans.toml
    signs: str
    murmur_grades: tuple[int, int]  # lowest and highest, 0: none heard
    murmur_place: str = ""
    radiographs: str = "not taken"
    breathing: Breathing = Breathing.NORMAL


# Common practice, no source: what makes a practice ask. None of it is read by the simulator, and no disease is named.
_STORIES: dict[HeartClass, tuple[_Story, ...]] = {
    HeartClass.NORMAL: (
        _Story(
            question="Soft murmur at vaccination: is the heart normal?", question_key="murmur", signs="none",
            murmur_grades=(1, 2), murmur_place="left base",
        ),
        _Story(
            question="Fit for anaesthesia (dental)?", question_key="before_anaesthesia", signs="none",
            murmur_grades=(0, 0),
        ),
    ),
    HeartClass.LA_ENLARGED: (
        _Story(
            question="Murmur known for a year: is the left atrium larger?", question_key="murmur",
            signs="tires earlier",
            murmur_grades=(2, 4), murmur_place="left apex", radiographs="heart a little long",
        ),
    ),
    HeartClass.MITRAL_DISEASE: (
        _Story(
            question="Murmur, coughs now and then: how far is it?", question_key="murmur",
            signs="coughs in the evening",
            murmur_grades=(3, 5), murmur_place="left apex", radiographs="heart enlarged, no oedema seen",
        ),
    ),
    HeartClass.LV_DILATED: (
        _Story(
            question="Tires on walks, weak pulse: does the heart pump well?", question_key="collapse",
            signs="fainted once last week", murmur_grades=(0, 2), murmur_place="left apex",
            radiographs="heart enlarged all round",
        ),
    ),
    HeartClass.RIGHT_OVERLOAD: (
        _Story(
            question="Faints when excited: is there pressure on the right side?", question_key="collapse",
            signs="two faints in a month", murmur_grades=(2, 3), murmur_place="right apex",
            radiographs="right side prominent",
        ),
    ),
    HeartClass.THICK_WALLS: (
        _Story(
            question="Murmur in a young adult before breeding: are the walls normal?", question_key="screening",
            signs="none", murmur_grades=(1, 3), murmur_place="sternum",
        ),
    ),
    HeartClass.EFFUSION: (
        _Story(
            question="Muffled heart sounds, large round heart: is there fluid?", question_key="effusion",
            signs="weak, large belly", murmur_grades=(0, 0), radiographs="heart very large and round",
            breathing=Breathing.LABOURED,
        ),
    ),
}  # fmt: skip


def draw_request(
    examination: ExaminationFacts,
    heart: HeartClass,
    rng: np.random.Generator,
    *,
    training_level: str = "",
    heart_rate_bpm: float | None = None,
    rhythm: str = "",
    trainee_reading: str = "",
) -> RequestSheet:
    """Return the sheet that comes with an invented study.

    Parameters
    ----------
    examination : ExaminationFacts
        Animal, people and practice; the sheet says of them what the files say.
    heart : HeartClass
        Chooses what was heard and asked. The sheet names no disease: truth lies elsewhere.
    rng : numpy.random.Generator
        Grade of the murmur, and which of several stories.
    training_level : str
        A level of the plans, "" where none is stated.
    heart_rate_bpm : float or None
        As counted by the practice.
    rhythm : str
        In words, "" where it is not stated.
    trainee_reading : str
        What the trainee took from the scan before any feedback.
    """
    stories = _STORIES[heart]
    story = stories[int(rng.integers(len(stories)))]
    low, high = story.murmur_grades
    grade = int(rng.integers(low, high + 1))
    patient = examination.patient
    return RequestSheet(
        request=Request(
            question=story.question,
            question_key=story.question_key,
            signs=story.signs,
            breathing=story.breathing,
            murmur_grade=grade,
            murmur_place=story.murmur_place if grade else "",
            rhythm=rhythm,
            heart_rate_bpm=None if heart_rate_bpm is None else float(round(heart_rate_bpm)),
            radiographs=story.radiographs,
            treatment="none",
            sedation="none",
            body_condition=f"{int(rng.integers(4, 7))} of 9",
            earlier_studies="none",
            training_level=training_level,
            trainee=str(examination.trainee),
            mentor=str(examination.mentor),
            trainee_reading=trainee_reading,
        ),
        patient=Patient(
            species=patient.species,
            breed=patient.breed,
            sex=patient.sex,
            neutered=patient.neutered,
            weight_kg=float(patient.weight_kg),
            birth_date=patient.birth_date,
        ),
        identity=Identity(
            animal_name=patient.animal_name,
            case_number=patient.case_number,
            owner=str(patient.responsible),
            practice=examination.practice.name,
            examined_at=examination.began_at,
        ),
        stated=frozenset({"breathing", "murmur_grade"}),
    )


def write_request(folder: Path, sheet: RequestSheet) -> Path:
    """Write the sheet beside the pictures, and return its path."""
    path = folder / FILE_NAME
    path.write_text(f"# An invented case: nobody is meant.\n\n{write_sheet(sheet)}", encoding="utf-8")
    return path
