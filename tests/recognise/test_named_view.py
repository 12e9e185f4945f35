"""A view is taken from who names it, the most trusted first, and stays unknown where nobody does."""

from __future__ import annotations

import pytest

from fanlight.recognise.named_view import read_named_view
from fanlight.reference.load import load_house
from fanlight.study import Box, Clip, ClipTags, FileMarks, Identity, ScreenText, Valve, ViewReading, ViewSource

HOUSE = load_house()
FOUR, APICAL = "right_parasternal_long_axis_four_chamber", "left_apical_four_chamber"
PAPILLARY = "right_parasternal_short_axis_papillary_muscles"


def _read(
    tags: ClipTags | None = None, *screen: str, marks: FileMarks | None = None, identity: Identity | None = None
) -> ViewReading:
    clip = Clip(
        key="k", number=1, name="a.dcm", container="DICOM", rows=4, cols=4, n_frames=1, is_colour=False,
        tags=tags or ClipTags(), identity=identity or Identity(),
    )  # fmt: skip
    texts = tuple(ScreenText(text=text, box=Box(row0=0, col0=0, row1=1, col1=1), confidence=0.9) for text in screen)
    return read_named_view(clip, texts, marks, HOUSE)


def test_without_a_name_the_view_stays_unknown() -> None:
    """No tag, text or mark: not known, with probability 0."""
    reading = _read()

    assert (reading.view, reading.source, reading.probability) == ("", ViewSource.NOT_KNOWN, 0.0)


@pytest.mark.parametrize(
    ("tags", "screen", "source"),
    [
        (ClipTags(view_code=("399214001", "SCT", "Apical four chamber")), (), ViewSource.VIEW_CODE),
        (ClipTags(view_name="Apical 4CH"), (), ViewSource.VIEW_NAME),
        (ClipTags(series_text="Echo left apical 4 chamber"), (), ViewSource.SERIES_TEXT),
        (ClipTags(), ("A4C", "12 cm"), ViewSource.SCREEN_TEXT),
    ],
)
def test_each_source_names_the_view(tags: ClipTags, screen: tuple[str, ...], source: ViewSource) -> None:
    """Code, name, series text and screen are read, and the source is kept."""
    reading = _read(tags, *screen)

    assert (reading.view, reading.source) == (APICAL, source)


def test_the_most_trusted_source_wins_and_the_other_is_named() -> None:
    """A mark beats the code, the code beats the text; the reason tells of the disagreement."""
    tags = ClipTags(view_code=("399214001", "SCT", "Apical four chamber"), series_text="RPSA papillary muscles")
    by_code, by_mark = _read(tags), _read(tags, marks=FileMarks(name="a.dcm", view="RPLA 4CH"))

    assert (by_code.view, by_code.source) == (APICAL, ViewSource.VIEW_CODE)
    assert "series text says “Right parasternal short axis, papillary muscles”" in by_code.reason
    assert (by_mark.view, by_mark.source) == (FOUR, ViewSource.MARKS_FILE)
    assert "View Code (0054,0220) says “Left apical, four-chamber”" in by_mark.reason


def test_a_code_without_its_side_stays_unknown_unless_a_text_helps() -> None:
    """A parasternal code says no side; a less trusted text may name the view, and the gap is told."""
    tags = ClipTags(view_code=("399271003", "SCT", "Parasternal short axis at the papillary muscle level"))
    helped = ClipTags(view_code=tags.view_code, view_name="RPSA papillary muscles")

    assert _read(tags).view == ""
    assert "says no side" in _read(tags).reason
    assert (_read(helped).view, _read(helped).source) == (PAPILLARY, ViewSource.VIEW_NAME)
    assert "says no side" in _read(helped).reason


def test_the_side_may_stand_in_the_modifiers() -> None:
    """The same code with the modifier "right" names the view."""
    tags = ClipTags(
        view_code=("399271003", "SCT", "Parasternal short axis at the papillary muscle level"),
        view_modifiers=(("24028007", "SCT", "Right"),),
    )

    assert _read(tags).view == PAPILLARY


def test_a_mark_that_names_no_view_is_told() -> None:
    """The words of the person are repeated with the reason."""
    reading = _read(marks=FileMarks(name="a.dcm", view="the nice one"))

    assert reading.view == ""
    assert "'the nice one'" in reading.reason


def test_keys_and_titles_are_accepted_as_marks() -> None:
    """A mark may be the key or the title of a view, and may name the valve."""
    for words in (FOUR, "Right parasternal long axis, four-chamber"):
        reading = _read(marks=FileMarks(name="a.dcm", view=words, valve=Valve.TRICUSPID))
        assert (reading.view, reading.valve) == (FOUR, Valve.TRICUSPID)


def test_the_name_of_an_animal_is_not_a_view() -> None:
    """An invented animal whose name reads like a view is passed over on the screen."""
    identity = Identity(animal_name="RPLA 4ch")

    assert _read(None, "RPLA 4ch", identity=identity).view == ""
    assert _read(None, "RPLA 4ch").view == FOUR


def test_two_views_on_one_screen_are_not_chosen_from() -> None:
    """A screen that names two views, as a split screen may, names none."""
    reading = _read(None, "RPLA 4CH", "RPSA papillary")

    assert reading.view == ""
    assert "more than one view" in reading.reason


def test_a_label_of_a_measurement_names_no_view() -> None:
    """LA/Ao or MV beside a number says what was measured, not from where; the valve is kept."""
    assert _read(None, "LA/Ao 1.62").view == ""
    assert (_read(None, "MV E Vel 0.8 m/s").view, _read(None, "MV E Vel 0.8 m/s").valve) == ("", Valve.MITRAL)
