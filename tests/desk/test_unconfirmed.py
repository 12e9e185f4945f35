"""The engine's calipers on papers: in the view that the mentor left, apart from what was decided."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.desk.as_left import as_left
from fanlight.desk.decided import for_papers, for_screen
from fanlight.desk.unconfirmed import with_unconfirmed
from fanlight.review.conclude import conclude
from fanlight.store import Requirement
from fanlight.store.actions import Action, DrawMark, PlaceClip, SetScale, TickItem
from fanlight.study import (
    ENGINE,
    FoundLine,
    House,
    MarkedDistance,
    MarkKind,
    Measurement,
    Mode,
    PictureReading,
    StudyReview,
    ViewReading,
    ViewSource,
)
from tests.desk.drafts import draft, state_after

SHORT, LONG = "right_parasternal_short_axis_chordae", "left_apical_four_chamber"
ENDS = ((100.0, 150.0), (100.0, 210.0))
PICTURE = PictureReading(lines=(FoundLine(what="lvidd", frame=0, ends=ENDS, spread_px=1.0),))


def seen() -> StudyReview:
    """The first clip: a short axis in 2-D that was recognised, with a caliper on it."""
    proposed = draft()
    first, *others = proposed.readings
    view = ViewReading(view=SHORT, source=ViewSource.RECOGNISED, probability=0.95)
    first = replace(
        first, picture=PICTURE, view=view, findings=(), mode=replace(first.mode, mode=Mode.TWO_D),
        time=replace(first.time, end_diastole_frames=(), end_systole_frames=()),
    )  # fmt: skip
    return replace(proposed, readings=(first, *others))


def told(house: House, *actions: Action, hidden: frozenset[str] = frozenset()) -> list[str]:
    one, state = seen(), state_after(*actions)
    paper = for_papers(as_left(one, state, house, hidden))
    told = with_unconfirmed(paper, as_left(one, state, house, hidden))
    assert replace(told, unconfirmed=paper.unconfirmed) == paper  # nothing that was decided changes
    return [item.name for item in told.unconfirmed.numbers]


def test_calipers_are_named_once_the_mentor_placed_the_clip_where_they_belong(house: House) -> None:
    key = seen().readings[0].clip.key
    placed = PlaceClip(clip=key, view=SHORT)
    kept = DrawMark(mark="m", clip=key, frame=0, kind=MarkKind.LINE, points=ENDS, label="LVIDd", proposed_spread_px=1.0)

    assert told(house) == []  # nobody confirmed the view
    assert told(house, placed) == ["lvidd"]
    assert told(house, PlaceClip(clip=key, view=LONG)) == []  # the apical view does not carry it
    assert told(house, placed, hidden=frozenset({key})) == []
    assert told(house, placed, kept) == []  # a mark of the mentor stands in its place


def numbers(one: StudyReview, house: House, *actions: Action) -> tuple[list[Measurement], list[Measurement]]:
    """Return LVIDd of the engine's caliper, on paper and on the screen."""
    state = state_after(*actions)
    paper = with_unconfirmed(for_papers(as_left(one, state, house)), as_left(one, state, house))
    screen = for_screen(as_left(one, state, house))
    return list(paper.unconfirmed.numbers), [
        item for item in screen.measurements if item.given_by == ENGINE and item.name == "lvidd"
    ]


@pytest.mark.parametrize("has_scale", [True, False])
def test_the_scale_that_the_mentor_set_measures_on_paper_as_on_the_screen(house: House, has_scale: bool) -> None:
    """100 px are 10 mm, so the caliper of 60 px is 6 mm; the file says 0.28 mm a pixel, or nothing."""
    one = seen()
    first, *others = one.readings
    if not has_scale:
        first = replace(first, layout=replace(first.layout, scale=None, scale_reason="no region in the file"))
    one, key = replace(one, readings=(first, *others)), first.clip.key
    ruler = MarkedDistance(start=(50.0, 150.0), end=(150.0, 150.0), distance_mm=10.0)
    placed, scaled = PlaceClip(clip=key, view=SHORT), SetScale(clip=key, frame=0, distance=ruler)

    (on_paper,), (on_screen,) = numbers(one, house, placed, scaled)
    assert on_paper.value == pytest.approx(6.0)
    assert (on_paper.value, on_paper.uncertainty) == (on_screen.value, on_screen.uncertainty)
    before, _ = numbers(one, house, placed)
    assert [item.value for item in before] == ([pytest.approx(16.8)] if has_scale else [])


def test_what_the_mentor_ticked_weighs_the_number_on_paper_as_on_the_screen(house: House) -> None:
    """Mitral leaflets lie above the level at which the ventricle is measured: no number is printed."""
    one = seen()
    one = conclude(one.study, one.readings, (), house)
    key = one.readings[0].clip.key
    placed = PlaceClip(clip=key, view=SHORT)
    too_high = TickItem(clip=key, requirement=Requirement.MUST_NOT_SHOW, item="mitral leaflets", is_shown=True)

    assert [item.value for item in numbers(one, house, placed)[0]] == [pytest.approx(16.8)]
    on_paper, (on_screen,) = numbers(one, house, placed, too_high)
    assert on_screen.value is None
    assert on_paper == []
