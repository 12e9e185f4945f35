"""The examination path in a real browser: what waits, what lies outside the plan, and the ladders of the valves."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import all_sent, ask, at_rest, open_study, turn
from tests.desk_browser.read_once import Keep

NOTHING_YET = ".step .gap-word:text-is('nothing placed yet')"
GAP = ".step .gap-word:text-is('gap')"


@pytest.fixture(scope="module")
def own(inside: Any, kept: Keep, simulated_files: dict[str, Path]) -> str:
    """A simulated study whose path these tests may change; its id."""
    return kept(simulated_files)


def place_outside(page: Any, study: str, view: str) -> None:
    """Place the clip on the stage in a view for which the path has no letter."""
    page.evaluate(
        """async ([study, view]) => {
          const { act } = await import("/acts.js");
          const { clipKey } = await import("/model.js");
          act(study, "M. Linden", "place clip", { clip: clipKey.value, view, valve: null }, clipKey.value);
        }""",
        [study, view],
    )


def test_a_gap_is_one_only_when_no_clip_waits_and_what_lies_outside_stands_apart(page: Any, own: str) -> None:
    """All clips but the last in two steps, that one in a view that the plan does not ask for: then gaps, not before."""
    open_study(page, own)
    told = ask(page, f"/api/studies/{own}")
    n, n_gaps = len(told["study"]["clips"]), len(told["plan"]["steps"]) - 2
    for k in range(n - 1):
        page.keyboard.press("ab"[k % 2])
        page.keyboard.press("ArrowDown")
    page.wait_for_selector(".unplaced > h2:text-is('not placed yet (1)')")
    assert (page.locator(NOTHING_YET).count(), page.locator(GAP).count()) == (n_gaps, 0)
    first = page.locator(".step.gap .put").first
    all_sent(page)  # until then a step tells what was proposed there
    told_now = "document.querySelector('.step.gap .put').ariaLabel"
    page.wait_for_function(f"() => {told_now}.includes('nothing placed yet; asked for: ')")
    assert "missing" not in first.get_attribute("aria-label")

    outside = next(key for key in told["plan"]["views"] if key not in {step["view"] for step in told["plan"]["steps"]})
    place_outside(page, own, outside)
    page.wait_for_selector(f".outside:has(.tile:text-is('{n}'))")
    title = told["plan"]["views"][outside]["title"]
    assert page.locator(".outside h2").inner_text() == f"outside the plan: {title}"
    assert page.locator(".unplaced > h2").inner_text() == "not placed yet"
    assert (page.locator(NOTHING_YET).count(), page.locator(GAP).count()) == (0, n_gaps)
    assert "missing" in first.get_attribute("aria-label")
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []


def test_a_ladder_is_read_and_walked_by_keyboard(page: Any, own: str) -> None:
    """Focus says rungs and clips, Enter shows the next clip of the valve, Esc closes the words and leaves the study."""
    open_study(page, own)
    page.keyboard.press("a")
    page.wait_for_selector(".step.here .tile[aria-current]")
    all_sent(page)
    at_rest(page, own)
    height = page.locator("nav.path").bounding_box()["height"]
    ladder = page.locator(".ladders button[aria-label*='(clip']").first
    ladder.focus()
    words = page.locator(".ladder-words")
    said = ladder.get_attribute("aria-label")
    assert said in words.inner_text()
    numbers = list(dict.fromkeys(n for group in re.findall(r"\(clips? ([\d, ]+)\)", said) for n in group.split(", ")))
    now = page.locator(".tile[aria-current]").inner_text().strip()
    following = numbers[(numbers.index(now) + 1) % len(numbers)] if now in numbers else numbers[0]
    page.keyboard.press("Enter")
    page.wait_for_selector(f".tile[aria-current]:text-is('{following}')")
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []
    page.keyboard.press("Escape")

    words.wait_for(state="detached")
    assert page.locator("main.study").count() == 1
    assert page.locator("nav.path").bounding_box()["height"] == height  # the ladders take no room from the picture
