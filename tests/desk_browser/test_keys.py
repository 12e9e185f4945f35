"""The table of keys: the help shows every row, and every row does what it says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import all_sent, choose_tool, new_context, open_study, place_first, state_of

FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"
CLIP = "() => document.querySelector('.stage-head h2').textContent"
TOLD = "() => document.querySelector('.told').textContent"
CHOSEN = "() => document.querySelector('.finding.chosen .finding-title')?.textContent ?? ''"
PLAYING = "() => document.querySelector('.stage-bar .wide').textContent"
GREY = "() => document.querySelector('.picture canvas').style.filter"
FACTS = "() => document.querySelector('.stage-head .facts').textContent"
# Comes back once what the keys before asked for is on the screen.
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done())))"
PLACE = "() => location.hash.split('/')[1]"
TOOL = "() => document.querySelector('.tools [aria-pressed=true]')?.textContent ?? ''"
OPEN = "() => document.querySelector('dialog[open], .overrule, .writing')?.className ?? ''"


@dataclass(frozen=True)
class Case:
    """What is pressed before, and what must differ after the key; where the whole outcome is known, that."""

    looks_at: str
    before: tuple[str, ...] = ()
    after: str = ""


STOP = " "
# Which items of the view's list are ticked, and what was said where it has none with that number.
TICKED = """() => [...document.querySelectorAll('.tick')].map((each) => each.innerText).join()
  + document.querySelector('.told').textContent"""
CASES: dict[str, Case] = {
    "place": Case(TOLD),  # each letter: see outcome_of
    "take out": Case("() => document.querySelector('.unplaced h2').textContent", ("d",)),
    "keep all": Case(CLIP, after="clip 2"),
    "confirm all": Case(TOLD),  # what it does where views and landmarks are proposed: test_proposals
    "next finding": Case(CHOSEN),
    "previous finding": Case(CHOSEN),
    "keep": Case(TOLD, (".",), "Kept: "),
    "overrule": Case(OPEN, (".",), "overrule"),
    "play": Case(PLAYING, after="play"),
    "loop beat": Case(TOLD, (STOP,), "No whole beat"),
    "frame back": Case(FRAME, (STOP,)),
    "frame on": Case(FRAME, (STOP,)),
    "beat back": Case(TOLD, (STOP,), "No beats were found"),
    "beat on": Case(TOLD, (STOP,), "No beats were found"),
    "previous": Case(CLIP, ("End",), "clip 2"),
    "next": Case(CLIP, after="clip 2"),
    "first": Case(CLIP, ("End",), "clip 1"),
    "last": Case(CLIP, after="clip 3"),
    "tick": Case(TICKED, ("a",)),
    "phrase": Case(OPEN, after="writing"),
    "undo": Case(TOLD, ("b",), "Taken back."),
    "redo": Case(TOLD, ("c", "Backspace"), "Put back."),
    "larger": Case(FACTS),
    "smaller": Case(FACTS, ("=", "=")),
    "brighter": Case(GREY),
    "darker": Case(GREY),
    "harder": Case(GREY),
    "softer": Case(GREY),
    "grey as stored": Case(GREY, ("]",), "none"),
    "marks": Case(TOOL, after="point"),
    "follow": Case(TOLD, after="This clip has no marks"),
    "found": Case(TOLD),
    "keep found": Case(TOLD),
    "beside": Case(TOLD, ("a",), "No other study of this animal holds this view."),
    "region": Case("() => document.activeElement.getAttribute('aria-label') ?? ''", after="Examination path"),
    "papers": Case(PLACE, after="letters"),
    "back": Case(PLACE, after=""),
    "theme": Case("() => document.documentElement.dataset.theme", after="light"),
    "help": Case(OPEN, after="help"),
}
WAITING_ONLY = {"open"}  # has a test of its own


def table_of(page: Any) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = page.evaluate("async () => (await import('/keys.js')).KEYS")
    return rows


def test_every_row_of_the_table_has_a_case(page: Any) -> None:
    assert {row["act"] for row in table_of(page)} == set(CASES) | WAITING_ONLY


def test_no_key_has_two_meanings_in_one_place(page: Any) -> None:
    rows = table_of(page)
    for place in ("study", "waiting"):
        keys = [key for row in rows if row["place"] in (place, "everywhere") for key in row["keys"]]
        assert len(keys) == len(set(keys))


def test_the_help_shows_every_row(page: Any) -> None:
    page.keyboard.press("?")
    page.wait_for_selector("dialog[open]")

    rows = page.locator("dialog tbody tr")
    shown = rows.evaluate_all("rows => rows.map(row => [row.dataset.act, row.cells[1].innerText])")
    assert shown == [[row["act"], row["words"]] for row in table_of(page)]


def test_enter_opens_the_chosen_study(page: Any, study: str) -> None:
    page.wait_for_selector(".line a")
    page.keyboard.press("ArrowDown")
    page.wait_for_selector(".line.chosen")
    page.keyboard.press("Enter")

    page.wait_for_selector("main.study canvas[data-frame]")


@pytest.fixture(scope="module")
def kept_page(chromium: Any, service: Service, inside: Any, study: str) -> Iterator[Any]:
    """One page for all keys; each test comes to the study anew."""
    context = new_context(chromium, inside)
    opened = context.new_page()
    opened.goto(f"http://127.0.0.1:{service.port}/")
    opened.wait_for_selector(".line a")
    yield opened
    context.close()


def come_anew(page: Any, study: str) -> None:
    """Come to the study from the list: what the test before left open is closed on the way."""
    page.evaluate("location.hash = '#/'")
    page.wait_for_selector("main.waiting")
    open_study(page, study)


@pytest.mark.parametrize("act", CASES)
def test_each_key_does_what_its_row_says(kept_page: Any, study: str, act: str) -> None:
    page, case = kept_page, CASES[act]
    row = next(row for row in table_of(page) if row["act"] == act)
    come_anew(page, study)
    for key in ("Home", *case.before):
        page.keyboard.press(name_of(key))
        all_sent(page)
    page.wait_for_selector(".good-for", state="attached")  # Enter keeps what is shown
    page.evaluate(DRAWN)
    for key in row["keys"]:  # every one of them
        page.evaluate("import('/model.js').then((model) => { model.told.value = ''; })")
        page.wait_for_function(f"() => ({TOLD})() === ''")
        was = page.evaluate(case.looks_at)
        page.keyboard.press(name_of(key))
        changed = f"const is = String(({case.looks_at})()); return is !== was && is.startsWith(after);"
        after = outcome_of(page, act, key) or case.after
        page.wait_for_function(f"([was, after]) => {{ {changed} }}", arg=[str(was), after])
    all_sent(page)


def outcome_of(page: Any, act: str, key: str) -> str:
    """Return what is said after a letter: it places the clip, or the path has no such step."""
    if act != "place":
        return ""
    letters = page.evaluate("import('/model.js').then((model) => model.steps.value.map((each) => each.letter))")
    assert letters[0] == "a"
    return f"Clip 1 is in {key}" if key in letters else f"The path has no step {key}."


def name_of(key: str) -> str:
    """Return a key as Playwright names it."""
    return {"Shift+ ": "Shift+Space", " ": "Space", "+": "+", "'": "'", "\\": "\\"}.get(key, key)


def test_letters_can_be_put_off(page: Any, study: str) -> None:
    """WCAG 2.1.4: who dictates can switch off the keys that write."""
    open_study(page, study)
    place_first(page, "b")
    page.keyboard.press("?")
    page.uncheck("dialog input[type=checkbox]")
    page.keyboard.press("Escape")
    page.wait_for_selector("dialog", state="detached")
    before = state_of(page, study)["placements"]
    page.keyboard.press("c")
    page.keyboard.press("?")  # keys are taken in turn: when this one has acted, the letter has not
    page.wait_for_selector("dialog")
    all_sent(page)

    assert state_of(page, study)["placements"] == before != {}


def test_a_click_on_the_time_line_leaves_the_keys_as_they_were(kept_page: Any, study: str) -> None:
    """Space plays; with the keyboard on it the line has the keys of a slider, and Space still plays."""
    page = kept_page
    come_anew(page, study)
    page.keyboard.press("Home")
    line = page.locator(".timeline")
    box = line.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 10)
    page.wait_for_function(f"() => ({PLAYING})() === 'play' && ({FRAME})() === 25")
    page.keyboard.press("Space")
    page.wait_for_function(f"() => ({PLAYING})() === 'stop'")
    line.focus()
    page.keyboard.press("End")
    page.wait_for_function(f"() => ({FRAME})() === 49")
    page.keyboard.press("PageDown")
    page.wait_for_function(f"() => ({FRAME})() === 44")
    page.keyboard.press("Space")

    page.wait_for_function(f"() => ({PLAYING})() === 'stop'")
    assert page.evaluate(CLIP) == "clip 1"


def test_a_study_that_is_opened_again_has_its_time_line(kept_page: Any, study: str) -> None:
    """It is here already, so nothing that comes later draws the line anew."""
    page = kept_page
    for _ in range(2):
        come_anew(page, study)
        page.wait_for_selector(".timeline[aria-valuemax='50']")
        page.wait_for_selector(".facts:has-text('25 frames/s')")


def test_nothing_is_taken_back_from_the_list(kept_page: Any, study: str) -> None:
    """There one does not see what it would be."""
    page = kept_page
    come_anew(page, study)
    place_first(page, "b")
    before = state_of(page, study)["placements"]
    page.keyboard.press("Escape")
    page.wait_for_selector("main.waiting")
    page.keyboard.press("Backspace")

    page.wait_for_selector(".told:has-text('Nothing of the list is taken back')")
    assert state_of(page, study)["placements"] == before != {}


def test_a_mark_waits_for_the_name_of_who_set_it(chromium: Any, service: Service, inside: Any, study: str) -> None:
    """It stays on the picture while the name is asked for, and is said once there is one."""
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    page.evaluate("localStorage.removeItem('fanlight.mentor')")
    page.reload()
    open_study(page, study)
    page.keyboard.press("End")
    choose_tool(page, "line")
    for key in ("Space", "ArrowRight", "Space"):
        page.keyboard.press(key)
    page.wait_for_selector(".panel.name input:focus")
    found = violations(page)
    assert page.locator(".mark-layer .mark-shape").count() == 1
    page.keyboard.type("M. Linden")
    page.keyboard.press("Enter")
    page.wait_for_selector(".mark-list output")
    marks = state_of(page, study)["marks"]
    context.close()

    assert found == []
    assert [(each["kind"], len(each["points"])) for each in marks] == [("line", 2)]
