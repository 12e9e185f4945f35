"""What is told of planes follows what people say: the view they name, the landmarks they mark, what they tick."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.desk import Desk, decided_planes
from fanlight.desk.as_left import as_left, standing, told_anew
from fanlight.desk.decided import for_papers, for_screen
from fanlight.plane.planes import is_of_plane
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished
from fanlight.store import Requirement, Store, record_event
from fanlight.store.actions import AcceptFinding, DrawMark, PlaceClip, SetScale, TakeClipOut, TickItem
from fanlight.study import Finding, House, Landmark, MarkedDistance, MarkKind, StudyReview, Verdict
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep, state_after
from tests.plane.clips import APICAL, FOUR, MUSCLES, STANDARD_DEG, clip, picture, sloped

KEY = "clip01"


def with_sloping_heart(house: House, view: str = FOUR) -> StudyReview:
    """Return a draft whose first clip shows the septum 35 degrees off its standard."""
    whole = draft()
    first = clip(view, picture(*sloped(STANDARD_DEG + 35)))
    old = whole.readings[0]
    first = replace(first, clip=replace(first.clip, key=KEY, number=old.clip.number, name=old.clip.name))
    study = replace(whole.study, clips=(first.clip, *whole.study.clips[1:]))
    return conclude(study, (first, *whole.readings[1:]), (), house)


def without_planes(review: StudyReview) -> tuple[Finding, ...]:
    return tuple(item for item in review.reading(KEY).findings if not is_of_plane(item))


def planes(review: StudyReview) -> dict[str, Finding]:
    return {item.criterion: item for item in review.reading(KEY).findings if is_of_plane(item)}


def test_the_draft_tells_of_planes_and_a_paper_only_of_what_is_kept(house: House) -> None:
    proposed = with_sloping_heart(house)

    assert planes(proposed)["septum_slope"].verdict is Verdict.MISSED
    assert planes(for_papers(as_left(proposed, state_after(), house))) == {}
    kept = for_papers(as_left(proposed, state_after(AcceptFinding(clip=KEY, criterion="septum_slope")), house))
    assert planes(kept)["septum_slope"].verdict is Verdict.MISSED
    assert any(item.criterion == "septum_slope" for item in kept.priorities), "a person stands for it"


def test_a_clip_in_another_view_is_asked_what_that_view_asks_and_old_decisions_lapse(house: House) -> None:
    proposed = with_sloping_heart(house)
    moved = state_after(AcceptFinding(clip=KEY, criterion="septum_slope"), PlaceClip(clip=KEY, view=MUSCLES))
    now = planes(for_screen(as_left(proposed, moved, house)))

    assert "septum_slope" not in now
    assert "papillary_even" in now
    assert {item.criterion for item in told_anew(as_left(proposed, moved, house))[KEY]} >= {"papillary_even"}
    assert not standing(proposed, moved).decisions
    assert planes(for_papers(as_left(proposed, moved, house))) == {}
    out = planes(for_screen(as_left(proposed, state_after(TakeClipOut(clip=KEY)), house)))
    assert {item.verdict for item in out.values()} == {Verdict.NOT_ASSESSABLE}


def test_a_clip_is_told_whole_while_others_are_read(desk: Desk, browser: Browser, house: House) -> None:
    """A plane is told by holding clips against each other: a reading kept without it would be asked about again."""
    proposed = with_sloping_heart(house)
    told = frozenset(item.criterion for item in proposed.reading(KEY).findings)
    read = replace(proposed.reading(KEY), findings=without_planes(proposed))  # as the engine reads one clip
    study = keep(desk.store, proposed)
    record_event(desk.store, study, ClipFinished(reading=read, from_cache=False), house=house.fingerprint())
    desk._on_event(study, ClipFinished(reading=read, from_cache=False))

    whole = browser.get(f"/api/studies/{study}/clips/{KEY}").json()  # before anything else is asked
    assert {each["criterion"] for each in whole["findings"]} == told


def test_marks_count_before_the_network_and_ticks_are_findings(house: House) -> None:
    proposed = with_sloping_heart(house)
    points = {Landmark[each.landmark]: each.point for each in sloped(STANDARD_DEG)}
    marks = [
        DrawMark(mark=name.name, clip=KEY, frame=0, kind=MarkKind.POINT, points=(at,), landmark=name.name)
        for name, at in points.items()
    ]
    by_hand = planes(for_screen(as_left(proposed, state_after(*marks), house)))
    tick = TickItem(clip=KEY, requirement=Requirement.MUST_NOT_SHOW, item="aortic root or cusps", is_shown=True)
    ticked = planes(for_screen(as_left(proposed, state_after(tick), house)))

    assert by_hand["septum_slope"].verdict is Verdict.MET
    assert ticked["aorta_unwanted"].verdict is Verdict.MISSED
    assert "ticked by the mentor" in ticked["aorta_unwanted"].reason
    assert told_anew(as_left(proposed, state_after(), house)) == {}


def test_a_mark_on_a_clip_that_came_after_the_draft_asks_no_plane_anew(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was decided on other clips rests on planes as they were told; the draft that comes tells them anew."""
    proposed = with_sloping_heart(house)
    mark = DrawMark(mark="m", clip=KEY, frame=0, kind=MarkKind.LINE, points=((9.0, 9.0), (50.0, 9.0)), label="LVIDd")

    def asked(*_: object) -> None:
        raise AssertionError("planes are asked anew")

    monkeypatch.setattr(decided_planes, "with_planes", asked)
    as_left(proposed, state_after(replace(mark, clip="came later")), house)
    with pytest.raises(AssertionError, match="asked anew"):
        as_left(proposed, state_after(mark), house)


def test_a_scale_that_the_mentor_set_tells_the_length_of_the_ventricle(house: House) -> None:
    """On the screen and, once it is kept, on paper: the other apical clip shows the longer one now."""
    whole = draft()
    two = tuple(
        replace(item, clip=replace(item.clip, key=old.clip.key, name=old.clip.name))
        for number, old in enumerate(whole.readings[:2], start=1)
        for item in (clip(APICAL, picture(*sloped(80.0)), number=number),)
    )
    study = replace(whole.study, clips=(*(item.clip for item in two), *whole.study.clips[2:]))
    proposed = conclude(study, (*two, *whole.readings[2:]), (), house)
    ruler = MarkedDistance(start=(100.0, 400.0), end=(500.0, 400.0), distance_mm=80.0)  # the file says 100
    scaled = SetScale(clip=KEY, frame=0, distance=ruler)
    kept = state_after(scaled, AcceptFinding(clip=KEY, criterion="ventricle_length"))

    assert planes(proposed)["ventricle_length"].value == pytest.approx(1.0)
    assert planes(for_screen(as_left(proposed, state_after(scaled), house)))["ventricle_length"].value == pytest.approx(
        0.8
    )
    assert planes(for_papers(as_left(proposed, kept, house)))["ventricle_length"].value == pytest.approx(0.8)


def test_a_hidden_clip_is_told_nothing(house: House) -> None:
    proposed, hidden = with_sloping_heart(house), frozenset({KEY})
    moved = state_after(PlaceClip(clip=KEY, view=APICAL))

    assert planes(for_screen(as_left(proposed, moved, house, hidden))) == {}
    assert KEY not in told_anew(as_left(proposed, moved, house, hidden))


def test_a_draft_that_did_not_ask_for_planes_is_left_alone(house: House) -> None:
    proposed = with_sloping_heart(house)
    older = replace(
        proposed,
        readings=tuple(
            replace(item, findings=tuple(f for f in item.findings if not is_of_plane(f))) for item in proposed.readings
        ),
    )

    assert planes(for_screen(as_left(older, state_after(PlaceClip(clip=KEY, view=MUSCLES)), house))) == {}


def test_what_is_told_anew_can_be_kept_on_the_desk(browser: Browser, store: Store, house: House) -> None:
    study = keep(store, with_sloping_heart(house))
    refused = browser.act(study, "accept finding", KEY, criterion="papillary_even")
    browser.act(study, "place clip", KEY, view=MUSCLES)
    taken = browser.act(study, "accept finding", KEY, criterion="papillary_even")

    assert refused.status_code == 409
    assert taken.status_code < 300, taken.text
