"""Marks files: what is read, what is refused, and that writing and reading change nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanlight.intake.kept_reading import read_sheet
from fanlight.intake.request_sheet import merge_sheets
from fanlight.intake.sheet_writing import write_marks, write_sheet
from fanlight.study import DrawnMark, FileMarks, Landmark, MarkedAxis, MarkedDistance, MarkKind, Mode, StripAxis, Valve

PAGE = Path(__file__).resolve().parents[2] / "docs" / "marks-file.md"
LINE = '[[mark]]\nfile = "a"\nkind = "line"\nframe = 2\npoints = [{row = 1, col = 2}, {row = 3, col = 4}]\n'


def read(text: str) -> tuple[FileMarks, ...]:
    sheet = read_sheet(text.encode(), "marks.toml")
    assert (sheet.refused, sheet.notes) == ((), ())
    return sheet.marks


def test_the_example_of_the_page_is_read_to_the_last_line() -> None:
    example = re.findall(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)[0]

    clip, strip = read(example)

    assert (clip.name, clip.valve, clip.scale.distance_mm) == ("IM0003", Valve.MITRAL, 100)
    line, point = clip.drawn
    assert (line.kind, line.frame, line.points) == (MarkKind.LINE, 11, ((151.5, 402.0), (240.0, 396.25)))
    assert point.title == Landmark.MITRAL_SEPTAL_HINGE.value
    assert [(axis.axis, axis.amount) for axis in strip.axes] == [
        (StripAxis.TIME, 1000), (StripAxis.VELOCITY, 200), (StripAxis.BASELINE, 0),
    ]  # fmt: skip


_POINT = st.tuples(st.floats(0, 2000), st.floats(0, 2000))
_COUNT = {MarkKind.POINT: (1, 1), MarkKind.LINE: (2, 2), MarkKind.ANGLE: (3, 3), MarkKind.TRACE: (2, 20)}
_WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(str.strip)
_DRAWN = st.sampled_from(list(MarkKind)).flatmap(
    lambda kind: st.builds(
        DrawnMark,
        kind=st.just(kind),
        frame=st.integers(0, 5000),
        points=st.lists(_POINT, min_size=_COUNT[kind][0], max_size=_COUNT[kind][1]).map(tuple),
        landmark=st.sampled_from(["", *Landmark.__members__]),
        label=_WORDS,
    )
)
_AXES = st.lists(
    st.builds(
        lambda axis, at, way, amount: MarkedAxis(
            axis=axis,
            start=at,
            end=at if axis is StripAxis.BASELINE else (at[0] + way, at[1] + way),
            amount=0.0 if axis is StripAxis.BASELINE else amount,
        ),
        st.sampled_from(list(StripAxis)),
        _POINT,
        st.floats(5, 500),
        st.floats(0.5, 5000),
    ),
    max_size=3,
).map(tuple)
_MARKS = st.builds(
    FileMarks,
    name=_WORDS.filter(bool),
    mode=st.sampled_from([None, *Mode]),
    view=_WORDS,
    valve=st.sampled_from([None, *Valve]),
    scale=st.none()
    | st.builds(MarkedDistance, start=st.just((3.0, 4.0)), end=st.tuples(st.floats(10, 900), st.floats(10, 900)),
                distance_mm=st.floats(0.5, 500)),
    axes=_AXES,
    drawn=st.lists(_DRAWN, max_size=4).map(tuple),
)  # fmt: skip


@given(st.lists(_MARKS, max_size=4, unique_by=lambda mark: mark.name).map(tuple))
def test_what_is_written_is_read_back_the_same(marks: tuple[FileMarks, ...]) -> None:
    text = write_marks(marks)
    assert read(text) == marks if marks else text == ""
    sheet = read_sheet(text.encode(), "x") if marks else None
    if sheet is not None:
        assert write_sheet(sheet) == text


BAD = [
    ('kind = "line"', 'kind = "circle"', "line 3, mark 1.kind", '"point", "line", "angle", "trace"'),
    ("frame = 2", "frame = 0", "line 4, mark 1.frame", "the first is 1"),
    ("{row = 3, col = 4}]", "{row = 3}]", "line 5, mark 1.points", "points = ["),
    (", {row = 3, col = 4}]", "]", "line 1, mark 1", "2 points, as a line takes"),
    ('file = "a"\n', "", "line 1, mark 1", "file, kind and points"),
    ('kind = "line"', 'kind = "line"\nlandmark = "HEART"', "line 4, mark 1.landmark", "LV_APEX"),
    ("row = 3", "row = -3", "line 5, mark 1.points", "from 0 to 65535"),
]


@pytest.mark.parametrize(("right", "wrong", "place", "expected"), BAD)
def test_a_bad_mark_is_named_by_its_line_and_loses_no_other(right: str, wrong: str, place: str, expected: str) -> None:
    sheet = read_sheet((LINE.replace(right, wrong) + "\n" + LINE).encode(), "marks.toml")

    assert [mark.drawn[0].frame for mark in sheet.marks] == [1]
    (refusal,) = sheet.refused
    assert refusal.name == "marks.toml"
    assert refusal.place == place
    assert expected in refusal.expected
    assert refusal.remedy


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ('axis = "time"\npoints = [{row = 1, col = 2}, {row = 1, col = 3}]\namount = 5', "at least 2 columns apart"),
        ('axis = "velocity"\npoints = [{row = 1, col = 2}, {row = 9, col = 3}]', "in cm/s"),
        ('axis = "depth"\npoints = [{row = 1, col = 2}]', '"time", "velocity", "baseline"'),
        ("points = [{row = 1, col = 2}]", "file, axis and points"),
    ],
)
def test_a_bad_scale_of_a_strip_is_named(rows: str, expected: str) -> None:
    sheet = read_sheet(f'[[strip_scale]]\nfile = "a"\n{rows}\n{LINE}'.encode(), "marks.toml")

    assert len(sheet.marks) == 1
    assert expected in sheet.refused[0].expected


@pytest.mark.parametrize("word", ["pulsed_wave", "Pulsed wave", "pulsed-wave Doppler"])
def test_a_mode_is_known_by_its_name_and_by_the_words_of_the_desk(word: str) -> None:
    (mark,) = read(f'[[file]]\nname = "a.png"\nmode = "{word}"\n')

    assert mark.mode is Mode.PULSED_WAVE


def test_a_wrong_mode_is_named_with_file_place_and_remedy() -> None:
    """The rest of the table is read all the same."""
    sheet = read_sheet(b'[[file]]\nname = "a.png"\nmode = "spectral"\nvalve = "mitral"\n', "marks.toml")

    (refusal,), (mark,) = sheet.refused, sheet.marks
    assert (refusal.name, refusal.place, refusal.found) == ("marks.toml", "line 3, file 1.mode", "'spectral'")
    assert '"pulsed_wave", "continuous_wave", "tissue_doppler", "m_mode"' in refusal.expected
    assert refusal.remedy
    assert (mark.mode, mark.valve) == (None, Valve.MITRAL)


def test_a_later_sheet_is_laid_over_an_earlier_one_file_by_file() -> None:
    first = read_sheet(('[[file]]\nname = "a"\nview = "v"\n' + LINE).encode(), "1")
    later = read_sheet(LINE.replace("frame = 2", "frame = 7").encode(), "2")

    (merged,) = merge_sheets((first, later)).marks

    assert (merged.view, [mark.frame for mark in merged.drawn]) == ("v", [6])
