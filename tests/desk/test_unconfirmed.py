"""The engine's calipers on papers: in the view that the mentor left, apart from what was decided."""

from __future__ import annotations

from dataclasses import replace

from fanlight.desk.decided import for_papers
from fanlight.desk.unconfirmed import with_unconfirmed
from fanlight.store.actions import Action, DrawMark, PlaceClip
from fanlight.study import FoundLine, House, MarkKind, Mode, PictureReading, StudyReview, ViewReading, ViewSource
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
    paper = for_papers(one, state, house, hidden)
    told = with_unconfirmed(paper, one, house, hidden)
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
