"""A study out of its files: order, copies, contradictions, and what comes before what."""

from datetime import datetime

import pytest

from fanlight.intake import Gathered, Probed, RequestSheet, assemble, read_sheet
from fanlight.study import Clip, FrameTimes, Identity, Patient, Refusal, Request, Species


def clip(name, minute=None, key=None, **more):
    moment = None if minute is None else datetime(2026, 11, 20, 9, minute)
    return Clip(
        key=key or name,
        number=0,
        name=name,
        container="DICOM",
        rows=4,
        cols=4,
        n_frames=1,
        is_colour=False,
        times=FrameTimes(),
        acquired_at=moment,
        **more,
    )


def study(*clips, sheet="", options=None):
    gathered = Gathered(sheet=read_sheet(sheet.encode(), "request.toml") if sheet else RequestSheet())
    return assemble("study", gathered, [Probed(clips=(item,)) for item in clips], options)


def test_clips_are_in_order_of_acquisition_then_name():
    """Files without a time come last, by name; numbers start at 1."""
    made = study(clip("d"), clip("b", 5), clip("c", 3), clip("a", 5), clip("b2"))

    assert [(item.number, item.name) for item in made.clips] == [(1, "c"), (2, "a"), (3, "b"), (4, "b2"), (5, "d")]


def test_the_same_pictures_are_kept_once():
    """With a note that names both files."""
    made = study(clip("a", 1, key="k"), clip("b", 2, key="k"), clip("c", 3))

    assert [item.name for item in made.clips] == ["a", "c"]
    assert made.notes == ("b holds the same pictures as a; kept once",)


def test_key_tells_studies_apart_and_not_their_order():
    """Same clips, same key."""
    assert study(clip("a"), clip("b")).key == study(clip("b"), clip("a")).key
    assert study(clip("a"), clip("b")).key != study(clip("a")).key


def test_options_come_before_sheet_before_tags():
    """Field by field."""
    tags = clip("a", patient=Patient(weight_kg=10, breed="Pug", sex="male"))
    options = RequestSheet(patient=Patient(weight_kg=12), request=Request(signs="cough"))
    made = study(
        tags, sheet='[animal]\nweight_kg = 11\nbreed = "Whippet"\n[request]\nquestion = "q"\n', options=options
    )

    assert (made.patient.weight_kg, made.patient.breed, made.patient.sex) == (12, "Whippet", "male")
    assert (made.request.question, made.request.signs) == ("q", "cough")


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ({"identity": Identity(animal_name="Pepper")}, {"identity": Identity(animal_name="Milo")}, "animal's name"),
        (
            {"identity": Identity(case_number="1")},
            {"identity": Identity(case_number="2")},
            "case number: 1 in a, 2 in b",
        ),
        ({"patient": Patient(weight_kg=10)}, {"patient": Patient(weight_kg=10.6)}, "weight in kg: 10 in a, 10.6 in b"),
        ({"patient": Patient(species=Species.DOG)}, {"patient": Patient(species=Species.CAT)}, "species"),
        ({"patient": Patient(sex="male")}, {"patient": Patient(sex="female")}, "sex"),
        (
            {"identity": Identity(examined_at=datetime(2026, 11, 20))},
            {"identity": Identity(examined_at=datetime(2026, 11, 21))},
            "date of the examination: 2026-11-20 in a, 2026-11-21 in b",
        ),
    ],
)
def test_statements_that_differ_between_files_are_mismatches(first, second, words):
    """Animal, weight, date: each names both values and both files."""
    made = study(clip("a", **first), clip("b", **second))

    assert len(made.mismatches) == 1
    assert words in made.mismatches[0]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"identity": Identity(animal_name="Pepper")}, {"identity": Identity(animal_name="PEPPER ")}),
        ({"patient": Patient(weight_kg=10)}, {"patient": Patient(weight_kg=10.4)}),
        ({"patient": Patient(weight_kg=10)}, {"patient": Patient()}),
        (
            {"identity": Identity(examined_at=datetime(2026, 11, 20, 9))},
            {"identity": Identity(examined_at=datetime(2026, 11, 20, 17))},
        ),
    ],
)
def test_small_differences_are_none(first, second):
    """Capitals, 4 % of weight, an unstated value, another hour of the same day."""
    assert study(clip("a", **first), clip("b", **second)).mismatches == ()


def test_sheet_that_contradicts_the_files_is_a_mismatch():
    """The wrong sheet in the folder stops signing."""
    made = study(clip("a", identity=Identity(animal_name="Pepper")), sheet='[identity]\nanimal_name = "Milo"\n')

    assert made.mismatches == ("animal's name: Pepper in a, Milo in the request sheet",)


def test_refusals_of_all_stages_are_kept_once():
    """From gathering, from headers, from the sheet."""
    one = Refusal(name="a", expected="x", found="y", remedy="z")
    two = Refusal(name="b", expected="x", found="y", remedy="z")
    made = assemble("study", Gathered(refused=(one,)), [Probed(refused=(two,)), Probed(refused=(two,))], refused=[one])

    assert made.refused == (one, two)


def test_missing_parts_of_the_request_are_listed():
    """Weight in the tags counts as said."""
    made = study(clip("a", patient=Patient(weight_kg=8)))

    assert "weight in kg" not in made.request.missing
    assert "the clinical question" in made.request.missing


def test_not_neutered_is_a_statement():
    """An animal that is said to be entire is not asked about again."""
    made = study(clip("a"), sheet='[animal]\nsex = "male"\nneutered = false\n')

    assert made.patient.neutered is False
    assert "sex, and whether neutered" not in made.request.missing


def test_mark_without_a_file_is_named():
    """In the study's notes."""
    made = study(clip("a"), sheet='[[file]]\nname = "b"\nview = "x"\n')

    assert 'marks for "b"' in made.notes[-1]
