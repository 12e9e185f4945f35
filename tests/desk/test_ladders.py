"""Rungs by valve on the page: the clips that are named are those that the ladders count; words are the house's."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.desk.as_left import as_left
from fanlight.desk.decided import for_screen
from fanlight.desk.ladder_clips import asked_in, ladder_clips
from fanlight.desk.page_words import words_part
from fanlight.reference.desk import read_windows
from fanlight.reference.plans import read_plans
from fanlight.reference.views import read_views
from fanlight.store import JudgedStructure, Store
from fanlight.store.actions import PlaceClip
from fanlight.study import ClipVerdict, House, Mode, Purpose, Rung, RungState, Valve, ViewReading, ViewSource
from tests.desk.browser import Browser
from tests.desk.drafts import draft, house_rows, keep, state_after

FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"


@pytest.fixture
def house() -> House:
    return house_rows()


def test_the_clips_that_are_named_are_those_that_the_ladders_count(house: House) -> None:
    """Each view of the tables, each valve that may be said: a rung is reached just where clips are named."""
    modes = (Mode.TWO_D, Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.M_MODE, None)
    first = draft()
    held = zip(first.readings, modes, strict=True)
    review = replace(first, readings=tuple(replace(r, mode=replace(r.mode, mode=mode)) for r, mode in held))
    keys = [item.clip.key for item in review.readings]
    n_reached = 0
    for view in read_views(house):
        for valve in (None, *Valve):
            state = state_after(*(PlaceClip(clip=key, view=view, valve=valve) for key in keys))
            shown = for_screen(as_left(review, state, house))
            named = ladder_clips(shown, house)
            for ladder in shown.coverage.ladders:
                for rung, reached in ladder.states:
                    is_reached = reached not in (RungState.MISSING, RungState.NOT_ASKED)
                    assert bool(named.get(ladder.valve, {}).get(rung)) == is_reached, (view, valve, ladder.valve, rung)
                    n_reached += is_reached
    assert n_reached > 20


def test_the_page_names_the_clips_of_each_rung(browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    browser.act(study, "place clip", "clip01", view=FOUR_CHAMBER, valve=None)

    page = browser.get(f"/api/studies/{study}").json()

    assert page["review"]["ladder_clips"]["mitral"]["2-D"] == ["clip01"]
    assert "aortic" not in page["review"]["ladder_clips"]  # the four-chamber view does not show it
    plan = read_plans(house_rows())[page["review"]["coverage"]["plan"]]
    asked = page["review"]["ladder_asked"]
    told = {(valve, rung) for valve, rungs in asked.items() for rung in rungs if rung != Rung.TWO_D}
    assert told == {(valve, rung) for step in plan.steps for rung, valves in step.doppler for valve in valves}


def test_the_clip_that_gives_a_rung_its_state_comes_first(house: House) -> None:
    """Of a limited, a good and a bad clip the good one leads; one that nobody judged counts as limited."""
    first = draft()
    worth = (ClipVerdict.NOT_ASSESSABLE, ClipVerdict.NON_DIAGNOSTIC, ClipVerdict.DIAGNOSTIC, ClipVerdict.LIMITED)
    readings = tuple(
        replace(
            item,
            mode=replace(item.mode, mode=Mode.COLOUR),
            view=ViewReading(view=FOUR_CHAMBER, source=ViewSource.MENTOR, valve=Valve.MITRAL),
            verdicts=((Purpose.DOPPLER, verdict),),
        )
        for item, verdict in zip(first.readings, worth, strict=False)
    )
    keys = [item.clip.key for item in readings]

    named = ladder_clips(replace(first, readings=readings), house)

    assert named[Valve.MITRAL][Rung.COLOUR] == [keys[2], keys[0], keys[3], keys[1]]


def test_the_plan_says_where_a_rung_is_asked_for(house: House) -> None:
    """A valve at which Doppler is asked for in two views: its 2-D is asked for in both, each once."""
    review = replace(draft(), coverage=replace(draft().coverage, plan="cardiology"))
    asked = asked_in(review, house)

    long_axis, apical = "Right parasternal long axis, four-chamber", "Left apical, four-chamber"
    assert asked[Valve.MITRAL][Rung.COLOUR] == [long_axis, apical]
    assert asked[Valve.MITRAL][Rung.PULSED_WAVE] == [apical]
    assert asked[Valve.MITRAL][Rung.TWO_D] == [long_axis, apical]
    assert Rung.CONTINUOUS_WAVE not in asked[Valve.MITRAL]  # only if it is needed: never called missing


def test_words_of_the_page_are_the_house_s(house: House, browser: Browser, store: Store) -> None:
    """Every structure of the log once, every window of every view; a title is not said twice."""
    words = words_part(house)
    names = [name for group in words["structures"] for name in group["names"]]

    assert sorted(names) == sorted(JudgedStructure)
    assert {view.window for view in read_views(house).values()} == set(words["windows"])
    assert (words["quantities"]["lvidd"], words["quantities"]["la_ao"]) == ("LVIDd", "LA:Ao")
    page = browser.get(f"/api/studies/{keep(store, draft())}").json()
    assert page["words"] == words
    shown = page["plan"]["views"]
    assert shown[FOUR_CHAMBER]["short_title"] == "long axis, four-chamber"
    windows = read_windows(house)
    for view in shown.values():
        assert view["short_title"]
        assert not view["short_title"].lower().startswith(windows[view["window"]].leaves_out)
