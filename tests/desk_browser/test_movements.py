"""A movement beside its words in the list of changes: drawn in both themes, opened with keys, kept into the letter."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.reference.load import load_house
from fanlight.store import open_store
from measure._service import Service
from tests.desk.test_movement_pictures import marked
from tests.desk_browser.axe import violations
from tests.desk_browser.by_keyboard import Keyboard
from tests.desk_browser.conftest import SCHEMES, all_sent, turn
from tests.desk_browser.test_changes import CHANGE, letter_says, open_letters

PICTURES = f"{CHANGE} details.movement"


@pytest.fixture(scope="module")
def study(service: Service) -> str:
    """A study in which a probe was tilted, as its marks tell."""
    with open_store(service.data) as store:
        return marked(store, load_house())


def test_a_movement_is_opened_with_keys_and_shows_drawing_and_pair(page: Any, study: str) -> None:
    """Light and dim nothing is hard to read; each picture has words; the letter takes them along."""
    open_letters(page, study)
    hand = Keyboard(page)
    hand.reach(f"{PICTURES} > summary")
    hand.press("Enter")
    page.wait_for_selector(f"{PICTURES} .sketch svg")

    assert page.locator(f"{PICTURES} svg").get_attribute("aria-label").startswith("Tilt: cable end towards the")
    assert page.locator(f"{PICTURES} img").count() == 2
    captions = page.locator(f"{PICTURES} figcaption").all_inner_texts()
    assert [each for each in captions if each.startswith("SIMULATION")] == captions[1:]
    inks = set()
    for _ in SCHEMES:
        turn(page)
        assert violations(page) == []
        inks.add(page.locator(f"{PICTURES} path.probe").first.evaluate("each => getComputedStyle(each).stroke"))
    assert len(inks) == len(SCHEMES)  # each theme has an ink of its own

    page.click(f"{CHANGE} button:text-is('keep')")
    page.wait_for_selector(f"{CHANGE}.kept")
    letter_says(page, "SIMULATION: after the movement")
    all_sent(page)
