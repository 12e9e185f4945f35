"""How the valve parts the colour box is told anew on the desk: by hinges that the mentor marks, in the view named."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from fanlight.critique.doppler.colour_split import KEY as SPLIT
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.desk.as_left import as_left, standing, told_anew
from fanlight.desk.decided import for_papers, for_screen
from fanlight.plane.planes import is_of_plane
from fanlight.review.box_split import BY_ENGINE
from fanlight.review.conclude import conclude
from fanlight.store import Store
from fanlight.store.actions import AcceptFinding, Action, DrawMark, MoveMark, PlaceClip, RemoveMark
from fanlight.study import (
    DrawnMark,
    FileMarks,
    Finding,
    House,
    MarkKind,
    Mode,
    ModeReading,
    PictureReading,
    StudyReview,
    Valve,
    Verdict,
)
from tests.critique.doppler.colour_clips import Drawn, clip, judge
from tests.critique.doppler.test_colour_split import on_box
from tests.critique.doppler.test_colour_split import reading as colour_reading
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, keep, state_after
from tests.review.test_box_split import APICAL, hinges

KEY = "clip01"
KEPT = AcceptFinding(clip=KEY, criterion=SPLIT)
TWO_CHAMBER = "left_apical_two_chamber"
# The drawn box runs from 111 to 300 px of depth (tests/review/test_box_split.py): a valve at 124 px lies at its rim.
RIM, THIRD = 124.0, 180.0


@lru_cache(maxsize=1)
def unmarked() -> Finding:
    return replace(judge(clip(Drawn(n_frames=8)))[SPLIT], clip=KEY)


def at_the_rim(house: House, *sent: DrawnMark) -> StudyReview:
    """Return a draft in whose first clip, in colour, the network finds the mitral valve at the rim of the box."""
    whole = draft()
    drawn, old = colour_reading((unmarked(),)), whole.readings[0]
    first = replace(
        drawn, view=APICAL, mode=ModeReading(mode=Mode.COLOUR, probability=1.0, reasons=()),
        clip=replace(drawn.clip, key=KEY, number=old.clip.number, name=old.clip.name),
        picture=PictureReading(landmarks=hinges(0, RIM), network="n"),
    )  # fmt: skip
    marks = FileMarks(name=old.clip.name, drawn=sent)
    study = replace(whole.study, clips=(first.clip, *whole.study.clips[1:]), marks=(marks,) if sent else ())
    return conclude(study, (first, *whole.readings[1:]), (), house, marks={KEY: marks})


def marked(depth_px: float) -> tuple[DrawMark, ...]:
    """Return the acts that mark both hinges of the mitral valve at this depth."""
    return tuple(
        DrawMark(
            mark=each.landmark, clip=KEY, frame=each.frame, kind=each.kind, points=each.points, landmark=each.landmark
        )
        for each in on_box(depth_px)
    )


def split(review: StudyReview) -> Finding:
    (found,) = (item for item in review.reading(KEY).findings if item.criterion == SPLIT)
    return found


def beside(proposed: StudyReview, house: House, *acts: Action) -> Finding | None:
    """Return the finding that is told anew beside the clip; None where the draft's stands."""
    anew = told_anew(as_left(proposed, state_after(*acts), house))
    return next((item for item in anew.get(KEY, ()) if item.criterion == SPLIT), None)


def test_marked_hinges_tell_what_a_review_with_these_marks_tells(house: House) -> None:
    proposed, acts = at_the_rim(house), marked(THIRD)
    by_marks_file = split(at_the_rim(house, *on_box(THIRD)))
    now = beside(proposed, house, *acts)

    assert split(proposed).verdict is Verdict.MISSED
    assert split(proposed).reason.startswith(BY_ENGINE)
    assert now == by_marks_file
    assert now is not None
    assert (now.verdict, now.confidence) == (Verdict.MET, UNMEASURED)
    assert "not confirmed" not in now.reason
    assert split(for_screen(as_left(proposed, state_after(*acts), house))) == now


def test_a_hinge_that_is_moved_tells_it_anew_and_marks_taken_back_restore_the_draft(house: House) -> None:
    proposed, acts = at_the_rim(house), marked(THIRD)
    moved = tuple(MoveMark(mark=each.mark, clip=KEY, frame=0, points=each.points) for each in marked(135.0))
    gone = RemoveMark(mark=acts[0].mark, clip=KEY)

    assert split(for_screen(as_left(proposed, state_after(*acts, *moved), house))).verdict is Verdict.BORDERLINE
    assert beside(proposed, house, *acts, *moved) != beside(proposed, house, *acts)
    # One hinge gives no plane: the engine's own landmarks are asked again, as without any mark.
    assert beside(proposed, house, *acts, gone) is None
    assert told_anew(as_left(proposed, state_after(), house)) == {}


def test_a_proposal_that_was_kept_unmoved_confirms_nothing(house: House) -> None:
    kept = tuple(replace(each, proposed_spread_px=2.0) for each in marked(RIM))
    proposed = at_the_rim(house)

    assert beside(proposed, house, *kept) is None
    assert split(for_screen(as_left(proposed, state_after(*kept), house))).reason.startswith(BY_ENGINE)


def test_hinges_of_the_desk_stand_in_place_of_those_that_were_sent(house: House) -> None:
    proposed = at_the_rim(house, *on_box(THIRD))
    now = beside(proposed, house, *marked(RIM))

    assert split(proposed).verdict is Verdict.MET
    assert now is not None
    assert now.verdict is Verdict.MISSED
    # Marked anew without its hinges, the valve lies where nobody says it: the engine is asked.
    only_one = beside(proposed, house, marked(RIM)[0])
    assert only_one is not None
    assert only_one.reason.startswith(BY_ENGINE)


@pytest.mark.parametrize(
    ("placed", "words"),
    [
        (PlaceClip(clip=KEY, view=APICAL.view, valve=Valve.AORTIC), "is the aortic valve placed"),
        (PlaceClip(clip=KEY, view=APICAL.view), "name the valve that the box was laid for"),
    ],
)
def test_a_valve_that_the_mentor_names_tells_it_anew(house: House, placed: PlaceClip, words: str) -> None:
    now = beside(at_the_rim(house), house, placed)

    assert now is not None
    assert now.verdict is Verdict.NOT_ASSESSABLE
    assert words in now.reason


def test_papers_say_what_the_desk_shows(house: House) -> None:
    proposed, acts = at_the_rim(house), marked(THIRD)
    now = beside(proposed, house, *acts)
    assert now is not None
    on_paper = split(for_papers(as_left(proposed, state_after(*acts, KEPT), house)))

    assert on_paper == replace(now, confidence=1.0)
    unmarked_paper = split(for_papers(as_left(proposed, state_after(KEPT), house)))
    assert unmarked_paper.reason.startswith(BY_ENGINE)
    assert all(
        item.criterion != SPLIT
        for item in for_papers(as_left(proposed, state_after(*acts), house)).reading(KEY).findings
    )


def test_a_decision_lapses_in_another_view(house: House) -> None:
    proposed = at_the_rim(house)

    assert (KEY, SPLIT) in standing(proposed, state_after(KEPT)).decisions
    assert not standing(proposed, state_after(KEPT, PlaceClip(clip=KEY, view=TWO_CHAMBER))).decisions


MITRAL = PlaceClip(clip=KEY, view=APICAL.view, valve=Valve.MITRAL)
AORTIC = PlaceClip(clip=KEY, view=APICAL.view, valve=Valve.AORTIC)


@pytest.mark.parametrize(
    ("acts", "is_kept"),
    [
        pytest.param((MITRAL, KEPT), True, id="of this valve"),
        pytest.param((MITRAL, KEPT, AORTIC), False, id="of another valve"),
        pytest.param((KEPT, AORTIC), False, id="of the draft's valve, before another was named"),
        pytest.param((KEPT, MITRAL), True, id="the draft's valve, named again"),
        pytest.param((MITRAL, KEPT, AORTIC, MITRAL), True, id="back at its valve"),
        pytest.param((MITRAL, KEPT, AORTIC, KEPT), True, id="decided anew"),
    ],
)
def test_a_decision_lapses_at_another_valve(house: House, acts: tuple[Action, ...], is_kept: bool) -> None:
    proposed, state = at_the_rim(house), state_after(*acts)

    assert ((KEY, SPLIT) in standing(proposed, state).decisions) is is_kept
    assert is_on_paper(proposed, house, *acts) is is_kept


FIRST, SECOND = marked(THIRD)
ELSEWHERE = MoveMark(mark=FIRST.mark, clip=KEY, frame=0, points=marked(135.0)[0].points)
CALIPER = DrawMark(
    mark="m", clip=KEY, frame=0, kind=MarkKind.LINE, points=((100.0, 150.0), (100.0, 210.0)), label="LVIDd"
)


@pytest.mark.parametrize(
    ("acts", "is_kept"),
    [
        pytest.param((KEPT, FIRST, SECOND), False, id="hinges are marked"),
        pytest.param((FIRST, SECOND, KEPT), True, id="hinges were marked"),
        pytest.param((FIRST, SECOND, KEPT, ELSEWHERE), False, id="a hinge is moved"),
        pytest.param((FIRST, SECOND, KEPT, RemoveMark(mark=FIRST.mark, clip=KEY)), False, id="a hinge is removed"),
        pytest.param((KEPT, FIRST, RemoveMark(mark=FIRST.mark, clip=KEY)), True, id="it is as it was"),
        pytest.param((KEPT, FIRST, SECOND, KEPT), True, id="decided anew"),
        pytest.param((KEPT, replace(FIRST, clip="clip02")), True, id="another clip"),
        pytest.param((KEPT, replace(FIRST, proposed_spread_px=2.0)), True, id="a proposal that is kept tells no more"),
        pytest.param((KEPT, CALIPER), True, id="a caliper tells nothing of the valve"),
    ],
)
def test_a_decision_lapses_once_landmarks_are_set_otherwise(
    house: House, acts: tuple[Action, ...], is_kept: bool
) -> None:
    """No number is signed that nobody confirmed."""
    proposed, state = at_the_rim(house), state_after(*acts)

    assert ((KEY, SPLIT) in standing(proposed, state).decisions) is is_kept
    assert is_on_paper(proposed, house, *acts) is is_kept


def is_on_paper(proposed: StudyReview, house: House, *acts: Action) -> bool:
    found = for_papers(as_left(proposed, state_after(*acts), house)).reading(KEY).findings
    return any(item.criterion == SPLIT for item in found)


def test_findings_of_the_plane_stay_beside_a_box_that_is_told_anew(house: House) -> None:
    """The page takes those of a clip together: none of the plane may be lost because its valve was marked."""
    proposed = at_the_rim(house)
    planes = {item.criterion for item in proposed.readings[0].findings if is_of_plane(item)}
    anew = told_anew(as_left(proposed, state_after(*marked(THIRD)), house))[KEY]

    assert planes
    assert planes == {item.criterion for item in anew if is_of_plane(item)}


def test_a_clip_that_is_judged_first_shows_nothing_by_marks(house: House) -> None:
    state = state_after(*marked(THIRD))

    assert KEY not in told_anew(as_left(at_the_rim(house), state, house, frozenset({KEY})))


def test_a_box_without_outline_is_told_by_no_mark(house: House) -> None:
    bare = replace(unmarked(), evidence=(), reason="no drawn outline of the box was found")
    proposed = at_the_rim(house)
    first = proposed.readings[0]
    first = replace(first, findings=tuple(bare if item.criterion == SPLIT else item for item in first.findings))
    proposed = replace(proposed, readings=(first, *proposed.readings[1:]))

    assert split(for_screen(as_left(proposed, state_after(*marked(THIRD)), house))) == bare


def test_the_page_and_each_act_tell_it_and_taking_back_restores_it(
    browser: Browser, store: Store, house: House
) -> None:
    study = keep(store, at_the_rim(house))
    drawn = [
        browser.act(
            study, "draw mark", KEY, mark=each.mark, frame=0, kind="point", points=each.points, landmark=each.landmark
        )
        for each in marked(THIRD)
    ]
    answers = [drawn[-1].json(), browser.get(f"/api/studies/{study}").json()]

    for answer in answers:
        (found,) = (item for item in answer["told_anew"][KEY] if item["criterion"] == SPLIT)
        assert (found["verdict"], "as marked" in found["reason"]) == ("met", True)
    entry = drawn[-1].json()["entry"]["id"]
    back = browser.post(f"/api/studies/{study}/undo", {"id": new_id(), "entry": entry, "author": "M. Linden"})
    assert back.status_code == 200, back.text
    assert back.json()["told_anew"] == {}
