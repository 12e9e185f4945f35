"""What the picture network says stays a proposal: on the screen only, and nowhere while a clip is judged blind."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.desk import Desk
from fanlight.desk.as_left import as_left
from fanlight.desk.clip_view import without_proposals
from fanlight.desk.decided import for_papers, for_screen
from fanlight.desk.study_page import plain_reading
from fanlight.store import Store
from fanlight.store.actions import DrawMark, PlaceClip
from fanlight.study import (
    NOT_KNOWN,
    ClipReading,
    FoundLandmark,
    House,
    MarkKind,
    PictureReading,
    StudyReview,
    Valve,
    ViewReading,
    ViewShare,
    ViewSource,
)
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep, state_after

VIEW = "right_parasternal_long_axis_four_chamber"
OTHER = "right_parasternal_short_axis_apex"
PICTURE = PictureReading(
    frames=(0, 4),
    views=(ViewShare(view=VIEW, probability=0.93), ViewShare(view=OTHER, probability=0.05)),
    mirrored=0.01,
    landmarks=(FoundLandmark(landmark="LV_APEX", frame=0, point=(100.0, 200.0), spread_px=4.0, probability=0.9),),
    network="abc",
)
PROPOSED = ViewReading(view=VIEW, source=ViewSource.RECOGNISED, probability=0.93)
UNSURE = replace(NOT_KNOWN, reason="not sure: four-chamber 0.5", valve=Valve.MITRAL)
NAMED = ViewReading(view=VIEW, source=ViewSource.VIEW_NAME, reason="the pixels say short axis, 97 %")


def seen(view: ViewReading = PROPOSED) -> StudyReview:
    """Six clips that the network was shown, each read as this view."""
    proposed = draft()
    return replace(proposed, readings=tuple(replace(item, view=view, picture=PICTURE) for item in proposed.readings))


def test_a_proposed_view_lies_in_its_step_on_the_screen_and_in_no_paper(house: House) -> None:
    """Until it is confirmed; then it is the mentor's word in both."""
    confirmed = state_after(PlaceClip(clip="clip01", view=VIEW))
    screen = for_screen(as_left(seen(), confirmed, house))
    paper = for_papers(as_left(seen(), confirmed, house))

    step = next(item for item in screen.coverage.steps if item.view == VIEW)
    assert len(step.clips) == len(screen.readings)
    assert [item.view.source for item in screen.readings][:2] == [ViewSource.MENTOR, ViewSource.RECOGNISED]
    assert next(item for item in paper.coverage.steps if item.view == VIEW).clips == ("clip01",)
    assert paper.reading("clip02").view.view == ""


def test_landmarks_that_were_found_are_measured_in_no_paper(house: House) -> None:
    """One that was kept is a mark as any other; the rest is not even there."""
    mark = DrawMark(mark="m", clip="clip01", frame=0, kind=MarkKind.POINT, points=((100.0, 200.0),), landmark="LV_APEX")

    for state in (state_after(), state_after(mark)):
        bare = for_papers(
            as_left(replace(draft(), readings=tuple(replace(r, picture=None) for r in seen().readings)), state, house)
        )
        paper = for_papers(as_left(seen(), state, house))
        assert paper == bare
        assert {item.picture for item in paper.readings} == {None}


@pytest.mark.parametrize(
    ("view", "left"),
    [
        pytest.param(PROPOSED, "", id="a proposal"),
        pytest.param(UNSURE, "", id="not sure"),
        pytest.param(NAMED, VIEW, id="a doubt in words"),
    ],
)
def test_a_clip_to_be_judged_first_says_nothing_of_its_pixels(house: House, view: ViewReading, left: str) -> None:
    """Neither view, nor shares, nor landmarks, nor why; what the file names stays, its valve too."""
    hidden = frozenset({"clip01"})
    shown = for_screen(as_left(seen(view), state_after(), house, hidden)).reading("clip01")
    alone = without_proposals(seen(view).reading("clip01"))

    for item in (shown, alone):
        assert item.picture is None
        assert item.view.view == left
        assert item.view.reason in ("", "to be judged before a proposal is shown")
        assert item.view.valve == (view.valve if view.source is not ViewSource.RECOGNISED else None)
    assert for_screen(as_left(seen(view), state_after(), house, hidden)).reading("clip02").picture == PICTURE


def test_without_the_network_a_clip_says_what_it_always_said(house: House) -> None:
    bare = replace(seen(UNSURE).reading("clip01"), picture=None)
    assert without_proposals(bare).view == UNSURE


def test_the_page_gets_shares_landmarks_and_the_limit(browser: Browser, store: Store, desk: Desk) -> None:
    """As JSON: of one clip all of it, of the study the limit of the house; of a hidden clip nothing."""
    study = keep(store, seen())
    page = browser.get(f"/api/studies/{study}").json()
    one = browser.get(f"/api/studies/{study}/clips/clip01").json()

    assert page["words"]["landmark_from"] == 0.6
    assert page["review"]["views"]["clip01"]["probability"] == 0.93
    assert [(each["view"], each["probability"]) for each in one["picture"]["views"]] == [(VIEW, 0.93), (OTHER, 0.05)]
    assert one["picture"]["landmarks"][0]["point"] == [100.0, 200.0]
    reading: ClipReading = seen().reading("clip01")
    assert plain_reading(reading, frozenset({"clip01"}))["picture"] is None
