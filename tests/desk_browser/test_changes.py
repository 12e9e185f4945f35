"""The few changes before the letters: kept, reworded, thrown out and taken back, with a pointer and with keys."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.store import add_entry, open_store
from measure._service import Service
from tests.coach.causes.test_find import DEEP
from tests.desk.drafts import keep
from tests.desk.test_changes import CUT, accepted, drafted
from tests.desk_browser.axe import violations
from tests.desk_browser.by_keyboard import Keyboard
from tests.desk_browser.conftest import MENTOR, SCHEMES, all_sent, state_of, turn

CHANGE = ".changes .change"


@pytest.fixture(scope="module")
def studies(service: Service) -> tuple[str, str]:
    """Two studies with every finding kept: one cause behind all of them; one of two that look alike."""
    found = []
    with open_store(service.data) as store:
        for draft in (drafted(DEEP, 3), drafted(CUT, 8, unjudged=("focal_depth", "tgc_banding"))):
            found.append(keep(store, draft))
            for n, act in enumerate(accepted(draft)):
                add_entry(store, found[-1], act, author=MENTOR, entry=f"00000000-0000-4000-8000-{len(found):02}{n:010}")
    return found[0], found[1]


def open_letters(page: Any, study: str) -> None:
    page.goto(f"{page.url.split('#')[0]}#/letters/{study}")
    page.wait_for_selector(CHANGE)
    page.wait_for_selector("section[aria-label=Letter] iframe:not(.to-come)")


def letter_says(page: Any, words: str) -> None:
    """Wait until the living preview of the letter holds these words."""
    page.wait_for_function(
        "words => [...document.querySelectorAll('section[aria-label=Letter] iframe:not(.to-come)')]"
        ".some(each => each.contentDocument?.body.innerText.includes(words))",
        arg=words,
    )


def test_a_change_is_kept_reworded_and_taken_back_by_keys(page: Any, studies: tuple[str, str]) -> None:
    """The letter opens with it as soon as it is kept; Backspace takes back word and wording in turn."""
    open_letters(page, studies[0])
    one = page.locator(CHANGE)
    assert one.count() == 1
    assert "console" in one.inner_text()
    assert "behind 9 findings" in one.inner_text()
    assert "%" not in one.inner_text()
    assert page.locator(".changes .left-out").inner_text() == "1 change not decided: the letter is silent on it."

    hand = Keyboard(page)
    hand.reach(f"{CHANGE} button[aria-label^='keep']")
    hand.press("Enter")
    page.wait_for_selector(f"{CHANGE}.kept")
    assert page.locator(".changes .left-out").count() == 0
    letter_says(page, "behind 9 findings")

    hand.press("Shift+Tab", "Enter")  # its words stand before the buttons
    page.fill(f"{CHANGE} textarea", "Two centimetres less, please.")
    hand.press("Tab")
    letter_says(page, "Two centimetres less, please.")
    hand.press("Backspace")
    page.wait_for_function("() => !document.querySelector('.change textarea').value.startsWith('Two')")
    assert page.locator(f"{CHANGE}.kept").count() == 1
    hand.press("Backspace")
    page.wait_for_selector(f"{CHANGE}.not-said")
    assert state_of(page, studies[0])["changes"] == []


def test_one_that_is_thrown_out_stays_in_the_list(page: Any, studies: tuple[str, str]) -> None:
    """Pressed again the word is taken away; light and dim nothing is hard to read."""
    open_letters(page, studies[0])
    for _ in SCHEMES:
        turn(page)
        assert violations(page) == []
    page.click(f"{CHANGE} button:text-is('throw out')")
    page.wait_for_selector(f"{CHANGE}.thrown-out")
    assert page.locator(".changes .left-out").count() == 0
    page.click(f"{CHANGE} button:text-is('throw out')")
    page.wait_for_selector(f"{CHANGE}.not-said")
    all_sent(page)


def test_what_points_to_a_change_is_shown_on_its_clip(page: Any, studies: tuple[str, str]) -> None:
    open_letters(page, studies[0])
    page.click(f"{CHANGE} .points-to summary")
    shown = page.locator(f"{CHANGE} .points-to li")
    assert shown.count() == 9
    at = shown.nth(4)
    clip, title = at.locator("button").inner_text(), at.inner_text().split(maxsplit=2)[2]
    at.locator("button").click()
    page.wait_for_selector(f".stage-head h2:text-is('{clip}')")
    assert page.locator(".finding.chosen .finding-title").inner_text() == title


def test_the_other_of_two_that_look_alike_is_kept_in_its_place(page: Any, studies: tuple[str, str]) -> None:
    """One press says both, and one Backspace takes both back."""
    open_letters(page, studies[1])
    assert page.locator(CHANGE).count() == 1
    assert page.locator(f"{CHANGE} .other").count() == 1
    other = page.locator(f"{CHANGE} .other strong").inner_text()
    page.click(f"{CHANGE} button:text-is('this one in its place')")
    page.wait_for_selector(f"{CHANGE}.kept:has-text('{other}')")
    assert page.locator(f"{CHANGE}.thrown-out").count() == 1
    letter_says(page, other)
    page.wait_for_selector(f"{CHANGE} .other", state="detached")  # the mentor has chosen
    page.keyboard.press("Backspace")
    page.wait_for_selector(f"{CHANGE} .other")
    assert state_of(page, studies[1])["changes"] == []
