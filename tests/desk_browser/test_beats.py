"""What hangs on beats, in a clip that has them: loops, steps, marks that are followed, two clips in one phase."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import all_sent, ask, at_rest, choose_tool, new_context, open_study, place_first

FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"
BOTH = "() => [...document.querySelectorAll('.picture canvas')].map((each) => Number(each.dataset.frame))"


@pytest.fixture(scope="module")
def page_of_clip(chromium: Any, service: Service, inside: Any, simulated: str) -> Iterator[tuple[Any, dict[str, Any]]]:
    """The first simulated clip, which has an ECG; the page and what the engine says of its time."""
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    open_study(page, simulated)
    place_first(page, "a")
    at_rest(page, simulated)
    key = ask(page, f"/api/studies/{simulated}")["study"]["clips"][0]["key"]
    page.wait_for_selector(".timeline .word.r")
    yield page, ask(page, f"/api/studies/{simulated}/clips/{key}")["time"]
    context.close()


def to_frame(page: Any, frame: int) -> None:
    page.evaluate("document.querySelector('.timeline').focus()")
    page.keyboard.press("Home")
    for _ in range(frame):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(f"frame => ({FRAME})() === frame", arg=frame)
    page.evaluate("document.activeElement.blur()")


def test_keys_step_from_beat_to_beat_and_loop_over_one(page_of_clip: tuple[Any, dict[str, Any]]) -> None:
    """R waves, rounded to frames, are where beats begin; a loop never leaves its beat."""
    page, time = page_of_clip
    starts = [round(each) for each in time["r_frames"]]
    assert len(starts) >= 2
    to_frame(page, starts[0] + 2)
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_function(f"frame => ({FRAME})() === frame", arg=starts[1])
    page.keyboard.press("Shift+ArrowLeft")
    page.wait_for_function(f"frame => ({FRAME})() === frame", arg=starts[0])
    for key in ("Shift+Space", "F7"):
        page.keyboard.press(key)
        page.wait_for_selector(".told:has-text('One beat, again and again.')")
        seen = page.evaluate(
            """async () => {
              const seen = new Set();
              const end = performance.now() + 900;
              while (performance.now() < end) {
                seen.add(Number(document.querySelector(".picture canvas").dataset.frame));
                await new Promise(requestAnimationFrame);
              }
              return [...seen];
            }"""
        )
        assert len(seen) > 1
        assert all(starts[0] <= each < starts[1] for each in seen)
        page.keyboard.press("F7")
        page.wait_for_selector(".told:has-text('The whole clip.')")
        to_frame(page, starts[0])


def test_a_mark_is_followed_by_its_key(page_of_clip: tuple[Any, dict[str, Any]]) -> None:
    """F3 follows the line through the beat and draws it on the next frame too; F3 again leaves it where it was set."""
    page, time = page_of_clip
    to_frame(page, round(time["r_frames"][0]) + 2)
    choose_tool(page, "line")
    for key in ("Space", *["Shift+ArrowDown"] * 4, "Space"):
        page.keyboard.press(key)
    page.wait_for_selector(".mark-list output")
    all_sent(page)
    page.keyboard.press("F3")
    page.wait_for_selector(".told:has-text('Followed')")
    page.click(".stage-bar [aria-label='one frame on']")
    page.wait_for_selector(".mark-layer .tracked-shape")
    found = violations(page)
    page.keyboard.press("F3")
    page.wait_for_selector(".mark-layer .tracked-shape", state="detached")
    page.keyboard.press("Escape")
    page.keyboard.press("Backspace")
    page.wait_for_selector(".mark-list", state="detached")

    assert found == []


def test_an_earlier_clip_stands_beside_in_the_same_phase(page_of_clip: tuple[Any, dict[str, Any]], again: str) -> None:
    """It is the same file, sent once more: each frame stands beside itself."""
    page, time = page_of_clip
    to_frame(page, round(time["r_frames"][0]))
    page.keyboard.press("F4")
    page.wait_for_function("() => document.querySelectorAll('.picture canvas[data-frame]').length === 2")
    page.wait_for_selector("figcaption:has-text('same phase of the beat')")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
        page.wait_for_function(f"() => {{ const [a, b] = ({BOTH})(); return a === b; }}")
    found = violations(page)
    assert page.get_attribute("figure >> nth=1 >> canvas", "aria-label")
    page.keyboard.press("F4")
    page.wait_for_function("() => document.querySelectorAll('.picture canvas').length === 1")

    assert found == []
