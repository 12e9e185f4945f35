"""The request sheet: what it says is kept as given, what it does not say is asked for."""

import string
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanlight.intake import RequestSheet, marks_by_clip, read_sheet, write_sheet
from fanlight.intake.request_sheet import merge_sheets, missing_words, unplaced_marks
from fanlight.intake.sheet_fields import ANIMAL, IDENTITY, REQUEST
from fanlight.reference.diseases import match_disease, unmatched_diseases
from fanlight.reference.load import load_house
from fanlight.reference.quantities import read_quantities
from fanlight.reference.units import convert_unit
from fanlight.reference.views import match_view_text
from fanlight.study import (
    Breathing,
    Clip,
    DrawnMark,
    FileMarks,
    GivenMeasurement,
    Identity,
    MarkedAxis,
    MarkedDistance,
    MarkKind,
    Patient,
    Request,
    Species,
    StripAxis,
    Valve,
)

FULL = """
[animal]
species = "dog"
breed = "Whippet"
sex = "female"
neutered = true
weight_kg = 12.5
age_years = 7
birth_date = 2019-03-02

[identity]
animal_name = "Pepper"
case_number = "17-204"
examined_at = 2026-11-20T09:30:00

[request]
question = "Murmur found at vaccination: how far is it?"
breathing = "normal"
murmur_grade = 0
rhythm = "regular"
heart_rate_bpm = 120
blood_pressure_mmhg = 145
vertebral_heart_score = 10.4
named_diseases = ["myxomatous_mitral_valve_disease"]
urgent = false

[reading]
text = \"\"\"Left atrium looks large to me.
Mitral leak, I think.\"\"\"

[[measurement]]
quantity = "LVIDd"
value = 34.1
unit = "mm"
method = "M-mode"
file = "IM0003"

[[file]]
name = "IM0003"
view = "right_long_axis"
valve = "mitral"
points = [{row = 40, col = 12}, {row = 440, col = 12}]
distance_mm = 100
"""


def sheet_of(text):
    return read_sheet(text.encode(), "request.toml")


def test_full_sheet_is_read():
    """Every table, with nothing refused."""
    sheet = sheet_of(FULL)

    assert sheet.refused == ()
    assert sheet.notes == ()
    assert sheet.patient == Patient(
        species=Species.DOG,
        breed="Whippet",
        sex="female",
        neutered=True,
        weight_kg=12.5,
        age_years=7,
        birth_date=date(2019, 3, 2),
    )
    assert sheet.identity.examined_at == datetime(2026, 11, 20, 9, 30)
    assert sheet.request.breathing is Breathing.NORMAL
    assert sheet.request.murmur_grade == 0
    assert sheet.request.trainee_reading == "Left atrium looks large to me.\nMitral leak, I think."
    assert sheet.request.trainee_measurements == (
        GivenMeasurement(
            quantity="lvidd",
            label="LVIDd",
            value=34.1,
            unit="mm",
            given_by="request sheet",
            clip_name="IM0003",
            method="M-mode",
        ),
    )
    assert sheet.marks == (
        FileMarks(
            name="IM0003",
            view="right_long_axis",
            valve=Valve.MITRAL,
            scale=MarkedDistance(start=(40, 12), end=(440, 12), distance_mm=100),
        ),
    )
    assert sheet.marks[0].scale.mm_per_px == 0.25


def test_sheet_of_the_docs_is_read_whole():
    """docs/request-sheet.md shows every field: nothing refused, nothing unknown, nothing left to ask for."""
    page = (Path(__file__).parents[2] / "docs" / "request-sheet.md").read_text("utf-8")
    text = page.split("```toml\n")[1].split("```")[0]
    sheet = sheet_of(text)

    assert sheet.refused == ()
    assert sheet.notes == ()
    assert missing_words(sheet.request, sheet.patient) == ()
    house = load_house()
    assert sheet.request.question_key in house.table("plans")["questions"]
    assert sheet.request.training_level in house.table("plans")["levels"]
    assert set(sheet.request.named_diseases) <= set(house.table("diseases"))
    assert all(item.quantity for item in sheet.request.trainee_measurements)
    assert sheet.marks[0].view in house.table("views")["views"]
    for readers in (ANIMAL, IDENTITY, REQUEST):
        assert [key for key in readers if f"{key} = " not in text] == []


def test_every_example_of_the_docs_loads():
    """Views name a view, measurements a quantity with a unit that fits, diseases are understood."""
    page = (Path(__file__).parents[2] / "docs" / "request-sheet.md").read_text("utf-8")
    sheets = [sheet_of(block.split("```")[0]) for block in page.split("```toml\n")[1:]]
    house = load_house()

    assert len(sheets) == 4
    for sheet in sheets:
        assert sheet.refused == ()
        assert sheet.notes == ()
        assert unmatched_diseases(house, sheet.request) == ()
        for mark in sheet.marks:
            assert match_view_text(house, mark.view).view or not mark.view
        for item in sheet.request.trainee_measurements:
            unit = read_quantities(house)[item.quantity].unit
            assert convert_unit(item.value, item.unit, unit) > 0
    _, files, measurements, diseases = sheets
    assert [bool(mark.view) for mark in files.marks] == [True, True, False]
    assert files.marks[2].scale is not None
    assert len(measurements.request.trainee_measurements) == 3
    assert match_disease(house, diseases.request.named_diseases[0]) == ("myxomatous_mitral_valve_disease",)


@pytest.mark.parametrize("unit", ['unit = ""', 'unit = "1"', ""])
def test_a_ratio_takes_no_unit(unit):
    """LA:Ao 1.9 is a whole statement; reading what was written gives the same again."""
    sheet = sheet_of(f'[[measurement]]\nlabel = "LA:Ao"\nvalue = 1.9\n{unit}\n')

    assert sheet.refused == ()
    (given_value,) = sheet.request.trainee_measurements
    assert (given_value.quantity, given_value.value) == ("la_ao", 1.9)
    assert sheet_of(write_sheet(sheet)) == sheet


def test_an_unknown_ratio_is_kept_when_the_sheet_says_that_it_has_no_unit():
    """Shown as given; without the line `unit` it is not clear what the number is."""
    rows = '[[measurement]]\nlabel = "spleen index"\nvalue = 1.9\n'

    assert len(sheet_of(rows + 'unit = ""\n').request.trainee_measurements) == 1
    assert sheet_of(rows).refused[0].place == "measurement 1"


@pytest.mark.parametrize("unit", ['unit = ""', ""])
def test_a_length_needs_its_unit(unit):
    """34 may be mm or anything else: refused, and what is wanted is said."""
    sheet = sheet_of(f'[[measurement]]\nlabel = "LVIDd"\nvalue = 34\n{unit}\n')

    assert sheet.request.trainee_measurements == ()
    assert 'unit ("" or "1" for a ratio)' in sheet.refused[0].expected


def test_broken_toml_is_refused_with_its_line():
    """The line of the error, and a remedy; no exception."""
    sheet = sheet_of('[animal]\nspecies = "dog"\nweight_kg = 12,5\n')

    assert "line 3" in sheet.refused[0].found
    assert sheet.patient == Patient()


@pytest.mark.parametrize(
    ("text", "expected", "place"),
    [
        ("[animal]\nweight_kg = 12500", "0.1 to 149 kg", "line 2, animal.weight_kg"),
        ('[animal]\nweight_kg = "12 kg"', "a number in kg", "line 2, animal.weight_kg"),
        ("[animal]\nweight_kg = nan", "a number in kg", "line 2, animal.weight_kg"),
        ("[animal]\nweight_kg = inf", "0.1 to 149 kg", "line 2, animal.weight_kg"),
        (f"[animal]\nweight_kg = 1{'0' * 400}", "0.1 to 149 kg", "line 2, animal.weight_kg"),
        ('[animal]\nspecies = "horse"', 'one of "dog", "cat"', "line 2, animal.species"),
        ('[animal]\nneutered = "yes"', "true or false", "line 2, animal.neutered"),
        ('[animal]\nbirth_date = "May 2015"', "a date such as", "line 2, animal.birth_date"),
        ('[request]\n\nbreathing = "fast"', "distressed", "line 3, request.breathing"),
        ("[request]\nmurmur_grade = 7", "0 to 6", "line 2, request.murmur_grade"),
        ("[request]\nvertebral_heart_score = 104", "4 to 20", "line 2, request.vertebral_heart_score"),
        ("[request]\nquestion = 3", "quotation marks", "line 2, request.question"),
        ("[[measurement]]\nvalue = 3", "quantity or label", "measurement 1"),
        ('[[file]]\nview = "x"', "name = ", "file 1"),
        ('[[file]]\nname = "a"\ndistance_mm = 50', "points = ", "file 1.points"),
        ('[[file]]\nname = "a"\npoints = [[1, 2], [3, 4]]\ndistance_mm = 50', "points = ", "file 1.points"),
        (
            '[[file]]\nname = "a"\npoints = [{row = 1, col = 1}, {row = 1, col = 2}]\ndistance_mm = 50',
            "2 px apart",
            "file 1.points",
        ),
        ("animal = 3\n[request]", "a table", "animal"),
        ("file = 3\n[request]", "[[file]]", "file"),
    ],
)
def test_wrong_values_are_refused_with_their_place(text, expected, place):
    """Expected, found and the line; the other values of the sheet are used."""
    sheet = sheet_of(text + '\n[identity]\nanimal_name = "Pepper"\n')

    assert len(sheet.refused) == 1
    assert expected in sheet.refused[0].expected
    assert sheet.refused[0].place == place
    assert sheet.identity.animal_name == "Pepper"


def test_number_too_long_to_read_is_refused():
    """Python turns down whole numbers of more than 4 300 digits."""
    assert sheet_of(f"[animal]\nweight_kg = {'9' * 5000}\n").refused[0].expected == "a request sheet in TOML"


def test_unknown_keys_and_tables_are_named():
    """A typing error is not ignored in silence."""
    sheet = sheet_of('[animal]\nwieght_kg = 3\n[request]\nquestion = "q"\n[owner]\nname = "x"\n')

    assert "line 2, animal.wieght_kg: not a field" in sheet.notes[0]
    assert "weight_kg" in sheet.notes[0]
    assert "owner: not a table" in sheet.notes[1]
    assert sheet.request.question == "q"


def test_quantity_that_the_tables_do_not_know_is_kept_and_named():
    """Shown as given, weighed against nothing."""
    sheet = sheet_of('[[measurement]]\nquantity = "spleen length"\nvalue = 60\nunit = "mm"\n')

    assert sheet.request.trainee_measurements[0].quantity == ""
    assert sheet.request.trainee_measurements[0].label == "spleen length"
    assert "spleen length" in sheet.notes[0]


def test_foreign_toml_is_left_aside_with_a_note():
    """A TOML file of some program is not a request sheet."""
    sheet = sheet_of("[tool]\nname = 'x'\n")

    assert sheet.refused == ()
    assert "not a request sheet" in sheet.notes[0]


def test_written_sheet_is_read_back():
    """Round trip of the full sheet."""
    sheet = sheet_of(FULL)
    assert read_sheet(write_sheet(sheet).encode(), "request.toml") == sheet


WORDS = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=40).map(str.strip)


@settings(max_examples=60, deadline=None)
@given(question=WORDS, name=WORDS, reading=WORDS, grade=st.none() | st.integers(0, 6), urgent=st.booleans())
def test_any_words_survive_the_round_trip(question, name, reading, grade, urgent):
    """Quotation marks, backslashes, line ends, any script."""
    sheet = RequestSheet(
        request=Request(question=question, trainee_reading=reading, murmur_grade=grade, urgent=urgent),
        identity=Identity(animal_name=name),
    )

    again = read_sheet((write_sheet(sheet) or "[request]\n").encode(), "request.toml")

    assert again.refused == ()
    assert (again.request, again.identity) == (sheet.request, sheet.identity)


@settings(max_examples=60, deadline=None)
@given(st.text(string.printable, max_size=200) | st.binary(max_size=200))
def test_no_text_makes_the_reader_fail(data):
    """Anything at all gives a sheet, refusals or notes, never an exception."""
    read_sheet(data if isinstance(data, bytes) else data.encode(), "request.toml")


def test_later_sheets_are_laid_over_earlier_ones():
    """Options over the file: stated fields win, unstated ones stay; an explicit "not urgent" counts."""
    base = sheet_of('[animal]\nweight_kg = 5\nbreed = "Pug"\n[request]\nurgent = true\nsigns = "cough"\n')
    over = sheet_of("[animal]\nweight_kg = 6\n[request]\nurgent = false\n")

    merged = merge_sheets([base, over])

    assert (merged.patient.weight_kg, merged.patient.breed) == (6, "Pug")
    assert (merged.request.urgent, merged.request.signs) == (False, "cough")


def test_marks_of_one_file_in_two_sheets_are_joined():
    """View from one, scale from the other. Found by scripts/fuzz.py: two sheets with the same file name."""
    view = sheet_of('[[file]]\nname = "a"\nview = "x"\n')
    scale = sheet_of('[[file]]\nname = "a"\npoints = [{row = 0, col = 0}, {row = 9, col = 0}]\ndistance_mm = 18\n')

    mark = merge_sheets([view, scale]).marks[0]

    assert mark.view == "x"
    assert mark.scale == MarkedDistance(start=(0, 0), end=(9, 0), distance_mm=18)


def test_everything_is_asked_for_when_nothing_is_said():
    """In the words of the sheet; nothing has a default."""
    asked = missing_words(Request(), Patient())

    assert "weight in kg" in asked
    assert "breathing: normal, laboured or distressed" in asked
    assert len(asked) == 17


def test_what_is_said_is_not_asked_for():
    """A murmur of grade 0 and a heart score instead of radiographs are answers."""
    asked = missing_words(
        Request(murmur_grade=0, vertebral_heart_score=10.0), Patient(birth_date=date(2020, 1, 1), sex="male")
    )

    assert not any(words.startswith(("murmur", "radiographs", "age")) for words in asked)
    assert "sex, and whether neutered" in asked


def clip(name, key):
    return Clip(key=key, number=1, name=name, container="PNG", rows=4, cols=4, n_frames=1, is_colour=False)


def test_marks_of_one_clip_are_laid_over_each_other():
    """A scale that is set later leaves view, valve and drawn marks; what is stated twice is the later one's."""
    first = FileMarks(
        name="a/IM1",
        view="apical",
        valve=Valve.MITRAL,
        scale=MarkedDistance(start=(1.0, 1.0), end=(9.0, 1.0), distance_mm=10.0),
        axes=(MarkedAxis(axis=StripAxis.TIME, start=(0.0, 0.0), end=(0.0, 9.0), amount=100.0),),
        drawn=(DrawnMark(kind=MarkKind.POINT, frame=0, points=((1.0, 1.0),), label="tip"),),
    )
    scale = MarkedDistance(start=(2.0, 2.0), end=(8.0, 2.0), distance_mm=20.0)
    marks = [first, FileMarks(name="IM1", scale=scale)]
    clips = [clip("a/IM1", "k1")]

    assert marks_by_clip(marks, clips) == {"k1": replace(first, scale=scale)}
    assert unplaced_marks(marks, clips) == ()


def test_marks_find_their_clip_by_full_or_last_name():
    """The last part serves when it is unique; marks that fit none or two are named."""
    clips = [clip("a/IM1", "k1"), clip("b/IM1", "k2"), clip("b/IM2", "k3")]
    marks = [FileMarks(name="IM2"), FileMarks(name="IM1"), FileMarks(name="a/IM1"), FileMarks(name="IM9")]

    assert marks_by_clip(marks, clips) == {"k3": marks[0], "k1": marks[2]}
    assert ['"IM1"' in note or '"IM9"' in note for note in unplaced_marks(marks, clips)] == [True, True]
