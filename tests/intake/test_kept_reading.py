"""Which marks of a marks file were kept as proposed: read with their spread, or refused with the place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fanlight import intake
from fanlight.cli.request_words import read_request
from fanlight.desk.marks_file import marks_file
from fanlight.intake.kept_reading import KeptMarks, read_kept, read_sheet
from fanlight.intake.kept_writing import write_kept, write_marks_and_kept, write_sheet
from fanlight.intake.request_sheet import read_sheet as read_tables
from fanlight.store.actions import DrawMark
from fanlight.study import MarkKind
from tests.desk.drafts import draft, state_after

PAGE = Path(__file__).resolve().parents[2] / "docs" / "marks-file.md"
MARK = """
[[mark]]
file = "IM1"
kind = "line"
frame = 3
points = [{row = 1.5, col = 2}, {row = 30, col = 2}]
label = "LVIDd"
"""
KEPT = """
[[kept]]
file = "IM1"
frame = 3
points = [{row = 1.5, col = 2}, {row = 30, col = 2}]
spread_px = 2.25
"""


def read(text: str) -> KeptMarks:
    data = text.encode()
    return read_kept(data, "marks.toml", read_tables(data, "marks.toml").marks)


def test_a_mark_has_the_spread_of_its_proposal_and_an_old_file_none() -> None:
    (kept,), (old,) = read(MARK + KEPT).marks, read(MARK).marks

    assert [mark.proposed_spread_px for mark in kept.drawn] == [2.25]
    assert [mark.proposed_spread_px for mark in old.drawn] == [None]


def test_the_example_of_the_page_is_read() -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)

    told = read_sheet(example.encode(), "marks.toml")

    assert (told.refused, told.notes) == ((), ())
    assert [mark.proposed_spread_px for mark in told.marks[0].drawn] == [None, 2.4]


@pytest.mark.parametrize(
    ("bad", "place"),
    [
        (KEPT.replace("30", "31"), "kept 1"),  # moved since: a hand placed it
        (KEPT.replace('"IM1"', '"IM2"'), "kept 1"),
        (KEPT.replace("2.25", "0"), "line 13, kept 1.spread_px"),
        (KEPT.replace("spread_px = 2.25", ""), "kept 1"),
    ],
)
def test_a_row_that_fits_no_mark_is_named_and_loses_no_mark(bad: str, place: str) -> None:
    found = read(MARK + bad)

    assert [item.place for item in found.refused] == [place]
    assert [mark.proposed_spread_px for mark in found.marks[0].drawn] == [None]


def test_a_sheet_with_its_kept_marks_is_read_back_the_same() -> None:
    """As a marks file and as a request sheet; a name may hold what TOML escapes."""
    text = f'[animal]\nspecies = "dog"\n{MARK}{MARK.replace("frame = 3", "frame = 4")}{KEPT}'
    sheet = read_sheet(text.replace('"IM1"', r'"a \"b\" \\ \u007f"').encode(), "request.toml")
    marks_alone = write_marks_and_kept(sheet.marks)

    assert [mark.proposed_spread_px for item in sheet.marks for mark in item.drawn] == [2.25, None]
    assert read_sheet(marks_alone.encode(), "marks.toml").marks == sheet.marks
    assert read_sheet(write_sheet(sheet).encode(), "request.toml") == sheet
    assert intake.write_sheet is write_sheet, "whoever writes a sheet writes this one"


def test_without_kept_marks_no_such_table_is_written() -> None:
    assert write_kept(read(MARK).marks) == ""
    assert "kept" not in write_marks_and_kept(read(MARK).marks)


def test_the_desk_writes_what_is_read_again() -> None:
    clip = draft().readings[0].clip
    points = ((10.25, 20.0), (30.0, 44.75))
    drawn = DrawMark(
        mark="m", clip=clip.key, frame=0, kind=MarkKind.LINE, points=points, label="LVIDd", proposed_spread_px=1.5
    )
    data = marks_file(state_after(drawn), (clip,)).encode()

    (marks,) = read_sheet(data, "marks.toml").marks
    assert [(mark.points, mark.proposed_spread_px) for mark in marks.drawn] == [(points, 1.5)]


def test_a_request_sheet_kept_elsewhere_says_it_as_well(tmp_path: Path) -> None:
    """As `fanlight check --request` and `fanlight review --request` read it."""
    sheet = tmp_path / "request.toml"
    sheet.write_text('[animal]\nspecies = "dog"\n' + MARK + KEPT, encoding="utf-8")

    said = read_request(sheet, "")

    assert [mark.proposed_spread_px for mark in said.marks[0].drawn] == [2.25]
    assert said.notes == ()
