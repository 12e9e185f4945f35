"""What a mentor names in a marks file: read whole, or refused with its place, never half of it."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from fanlight.intake.named_reading import MentorFacts, read_named
from fanlight.intake.request_sheet import read_sheet
from fanlight.reference.load import load_house
from fanlight.study import EarlierValue, HeartFailure, Named

HOUSE = load_house()
PAGE = Path(__file__).resolve().parents[2] / "docs" / "meaning.md"
WHOLE = """
[named]
by = "M. Mentor"
lesions = ["MMVD", "pulmonary hypertension"]
failure = "Past"
treatment = "none"
signs = ["pulmonary hypertension right atrium"]
signs_absent = ["pulmonary_hypertension_ventricles"]
"""


def read(text: str) -> MentorFacts:
    return read_named(text.encode(), "marks.toml", HOUSE)


def test_what_is_named_is_read() -> None:
    assert read(WHOLE) == MentorFacts(
        named=Named(
            by="M. Mentor",
            lesions=("myxomatous_mitral_valve_disease", "pulmonary_hypertension"),
            failure=HeartFailure.PAST,
            treatment="none",
            signs=("pulmonary_hypertension_right_atrium",),
            signs_absent=("pulmonary_hypertension_ventricles",),
        )
    )


def test_the_examples_of_the_page_are_read_to_the_last_line() -> None:
    for example in re.findall(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL):
        facts = read(example)
        assert (facts.refused, facts.notes) == ((), ())
        assert not facts.is_empty


@pytest.mark.parametrize(
    ("line", "place", "expected"),
    [
        ('failure = "mild"', "line 2, named.failure", '"none", "past", "present", "refractory"'),
        ('lesions = ["HCM?"]', "line 2, named.lesions", "neither doubted nor denied"),
        ('lesions = ["no CHF"]', "line 2, named.lesions", "neither doubted nor denied"),
        ('lesions = ["Zwergherz"]', "line 2, named.lesions", "myxomatous_mitral_valve_disease"),
        ('signs = ["blue nose"]', "line 2, named.signs", "pulmonary_hypertension_ventricles"),
        ('treatment = "none"', "named", "who names lesion"),
    ],
)
def test_a_field_that_cannot_be_used_names_nothing(line: str, place: str, expected: str) -> None:
    by = "" if line.startswith("treatment") else 'by = "M."\n'
    facts = read(f"[named]\n{line}\n{by}")

    assert facts.named == Named()
    (refusal,) = facts.refused
    assert (refusal.name, refusal.place) == ("marks.toml", place)
    assert expected in refusal.expected


def test_a_sign_cannot_be_there_and_not_there() -> None:
    sign = '["atrial_fibrillation"]'
    facts = read(f'[named]\nby = "M."\nsigns = {sign}\nsigns_absent = {sign}\n')

    assert facts.named == Named()
    assert "either in signs or in signs_absent" in facts.refused[0].expected


def test_an_unknown_key_is_named_and_the_rest_is_read() -> None:
    facts = read(f"{WHOLE}grade = 3\n")

    assert facts.named.by == "M. Mentor"
    assert "named.grade: not a field" in facts.notes[0]


def test_earlier_numbers_are_read_one_by_one() -> None:
    facts = read(
        '[[earlier]]\ndate = 2026-03-01\nquantity = "LVIDd"\nvalue = 3.1\nunit = "cm"\nmethod = "M-mode"\n'
        '[[earlier]]\ndate = "2025-10-09"\nquantity = "LA/Ao"\nvalue = 1.4\n'
        '[[earlier]]\ndate = 2026-03-01\nquantity = "LVIDd"\nvalue = 3.1\n'
        '[[earlier]]\ndate = 2026-03-01\nquantity = "paw"\nvalue = 3.1\nunit = "cm"\n'
        '[[earlier]]\nquantity = "LA:Ao"\nvalue = 1.4\n'
    )

    assert facts.earlier == (
        EarlierValue(
            examined_on=date(2026, 3, 1), quantity="lvidd", label="LVIDd", value=3.1, unit="cm", method="M-mode"
        ),
        EarlierValue(examined_on=date(2025, 10, 9), quantity="la_ao", label="LA/Ao", value=1.4, unit=""),
    )
    assert [item.place for item in facts.refused] == ["earlier 3", "earlier 4", "earlier 5"]
    assert "found no unit" in facts.refused[0].expected


def test_a_sheet_that_came_with_the_study_names_nothing() -> None:
    """Who sends a study does not stage it: there the table is told as unknown."""
    sheet = read_sheet(f'[animal]\nspecies = "dog"\n{WHOLE}'.encode(), "request.toml")

    assert sheet.request.named == Named()
    assert any("named: not a table of the sheet" in note for note in sheet.notes)


@pytest.mark.parametrize("data", [b"\xff\xfe", b"[named", b"named = 3", b"[[named]]\nby = 'M.'", b"earlier = 1"])
def test_what_is_no_such_table_crashes_nothing(data: bytes) -> None:
    assert read_named(data, "marks.toml", HOUSE).named == Named()
