"""What the mentor ticks reaches the papers in the mentor's words: all of it the trainee, what limits it the vet."""

from __future__ import annotations

from html import unescape

import pytest

from fanlight.desk.mentor_words import mentor_words
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.views import read_views
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.mentor import MentorWords
from fanlight.report.shown import ShownInClip, shown_blocks
from fanlight.report.summary import build_summary
from fanlight.store import DocumentKind, Requirement
from fanlight.store.actions import Action, PlaceClip, TickItem
from fanlight.study import House
from tests.desk.drafts import draft, house_rows, state_after
from tests.report.sample import InventedFrames
from tests.report.test_report import WHEN

FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"
APEX = "right_parasternal_short_axis_apex"
ATRIUM, HEART_BASE = "left atrium with its dorsal wall", "heart base at screen right"
SLIT = "aortic root or cusps"


@pytest.fixture
def house() -> House:
    return house_rows()


def put(clip: str, view: str = FOUR_CHAMBER) -> PlaceClip:
    return PlaceClip(clip=clip, view=view)


def tick(clip: str, item: str, *, is_shown: bool, requirement: Requirement = Requirement.MUST_SHOW) -> TickItem:
    return TickItem(clip=clip, requirement=requirement, item=item, is_shown=is_shown)


def said(house: House, *actions: Action, kind: DocumentKind = DocumentKind.LETTER) -> MentorWords:
    return mentor_words(draft(), state_after(*actions), house, kind)


def test_what_is_not_shown_stands_under_its_view(house: House) -> None:
    """With what is shown and must not be; items of which nobody said anything stand nowhere."""
    words = said(
        house, put("clip03"),
        tick("clip03", ATRIUM, is_shown=False),
        tick("clip03", HEART_BASE, is_shown=True),
        tick("clip03", SLIT, is_shown=True, requirement=Requirement.MUST_NOT_SHOW),
        tick("clip03", "the pulmonary artery", is_shown=False, requirement=Requirement.MUST_NOT_SHOW),
    )  # fmt: skip
    letter = unescape(render_html(build_letter(draft(), InventedFrames(), WHEN, words)))

    assert (
        "Right parasternal long axis, four-chamber (clip 3): not shown: left atrium with its dorsal wall; "
        "shown, and should not be: aortic root or cusps." in letter
    )
    assert HEART_BASE not in letter
    assert "the pulmonary artery" not in letter
    assert "What the views show" not in unescape(
        render_html(build_letter(draft(), InventedFrames(), WHEN, said(house, put("clip03"))))
    )


def test_a_view_that_shows_all_is_praised_in_a_line(house: House) -> None:
    """Only once every item was said to be there, and none that must not be."""
    must = read_views(house)[FOUR_CHAMBER].must_show
    ticks = [tick("clip02", item, is_shown=True) for item in must]

    def lines(*actions: Action) -> list[str]:
        (_, items) = shown_blocks(said(house, put("clip02"), *actions).shown, 4) or (None, None)
        return list(items.entries) if items else []

    assert lines(*ticks) == ["Everything the view must show is there: clip 2."]
    assert lines(*ticks[:-1]) == []
    slit = tick("clip02", SLIT, is_shown=True, requirement=Requirement.MUST_NOT_SHOW)
    assert [line for line in lines(*ticks, slit) if "Everything" in line] == []


def test_ticks_of_a_view_that_the_clip_left_are_silent(house: House) -> None:
    """They belong to that view's list, and speak again when the clip is back."""
    missing = tick("clip03", ATRIUM, is_shown=False)

    assert said(house, put("clip03"), missing, put("clip03", APEX)).shown == ()
    (back,) = said(house, put("clip03"), missing, put("clip03", APEX), put("clip03")).shown
    assert back.lacking == (ATRIUM,)


def test_the_summary_says_only_what_limits_it(house: House) -> None:
    """What a view must show and no clip of it shows; another clip that shows it lifts the limit."""

    def summary(*actions: Action) -> str:
        words = said(house, *actions, kind=DocumentKind.SUMMARY)
        return unescape(render_html(build_summary(draft(), {}, house, WHEN, words)))

    lacking = (
        put("clip02"), put("clip03"), tick("clip03", ATRIUM, is_shown=False),
        tick("clip03", SLIT, is_shown=True, requirement=Requirement.MUST_NOT_SHOW),
    )  # fmt: skip

    first = summary(*lacking)
    assert f"as the mentor says: Right parasternal long axis, four-chamber (clip 3): {ATRIUM}." in first
    assert SLIT not in first
    assert "as the mentor says" not in summary(*lacking, tick("clip02", ATRIUM, is_shown=True))
    assert "as the mentor says" in summary(*lacking, tick("clip01", ATRIUM, is_shown=True))  # lies in no view


def test_the_house_says_how_many_views_are_spelled_out(house: House) -> None:
    """The others are named by their clips: none is passed over."""
    limit = read_letter_limits(house).views_max
    shown = [ShownInClip(clip=k, view="A view", lacking=("an edge",)) for k in range(1, limit + 3)]

    words = said(house, put("clip03"), tick("clip03", ATRIUM, is_shown=False))
    _, items = shown_blocks(shown, words.views_max)

    entries = items.entries
    assert len(entries) == limit + 1
    assert entries[-1] == f"Something is missing, or should not be there, in clips {limit + 1} and {limit + 2} too."
