"""Each place of the desk as a picture, at true size; with --write-pictures they go into the documentation."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.desk_browser.conftest import MENTOR, ROOT, SIZE, all_sent, ask, at_rest, open_study, state_of

PICTURES = ROOT / "docs" / "images" / "desk"
MOST_BYTES = 300_000
ON_BLACK = {"study", "marks", "beside", "help", "sheet"}  # a clip takes much of the screen
FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"


def place_clips(page: Any, study: str, views: dict[int, str]) -> None:
    """Place each clip where the simulator says that it belongs."""
    letters = {each["view"]: each["letter"] for each in ask(page, f"/api/studies/{study}")["plan"]["steps"]}
    for number, view in views.items():
        page.keyboard.press("Home")
        for _ in range(number - 1):
            page.keyboard.press("ArrowDown")
        page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
        if view in letters:
            page.keyboard.press(letters[view])
    all_sent(page)
    at_rest(page, study)
    page.keyboard.press("Home")
    page.wait_for_selector(".stage-head h2:text-is('clip 1')")


def show_systole(page: Any, study: str) -> int:
    """Stop the first clip at its first end-systole; return that frame."""
    key = ask(page, f"/api/studies/{study}")["study"]["clips"][0]["key"]
    frame = int(ask(page, f"/api/studies/{study}/clips/{key}")["time"]["end_systole_frames"][0])
    page.evaluate("document.querySelector('.timeline').focus()")
    page.keyboard.press("Home")
    for _ in range(frame):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(f"frame => ({FRAME})() === frame", arg=frame)
    page.evaluate("document.activeElement.blur()")
    return frame


def draw_line(page: Any, study: str) -> None:
    """Draw a line by keyboard, and follow it."""
    marks = state_of(page, study)["marks"]
    for key in ("F2", "F2"):
        page.keyboard.press(key)
    if not marks:
        for key in ("Space", *["Shift+ArrowDown"] * 6, "Space"):
            page.keyboard.press(key)
    page.wait_for_selector(".mark-list output")
    all_sent(page)
    page.keyboard.press("F3")
    page.wait_for_selector(".told:has-text('Followed')")


def say_and_call(page: Any, study: str) -> None:
    """Put a request on the thread, once, and open a call."""
    if not ask(page, f"/api/studies/{study}")["messages"]:
        page.fill(".thread textarea", "The long axis once more, with less depth.")
        page.press(".thread form >> nth=0 >> button", "Enter")
        page.wait_for_selector(".thread li")
    page.fill(".calls > form input", "Fluid around the heart.")
    page.keyboard.press("Enter")
    page.wait_for_selector(".call.open")
    all_sent(page)
    page.evaluate("document.querySelector('.calls').scrollIntoView()")


def test_pictures_of_each_place(
    at_desk: Any, simulated: str, again: str, views: dict[int, str], scheme: str, pytestconfig: pytest.Config,
    tmp_path: Path,
) -> None:  # fmt: skip
    page = at_desk
    shown = {}
    open_study(page, simulated)
    place_clips(page, simulated, views)
    page.evaluate("location.hash = '#/'")
    page.wait_for_selector(".line .fans svg")
    page.wait_for_timeout(600)
    shown["waiting"] = page.screenshot()
    open_study(page, simulated)
    page.wait_for_selector(".finding.chosen")
    show_systole(page, simulated)
    shown["study"] = page.screenshot()
    page.keyboard.press("?")
    page.wait_for_selector("dialog[open]")
    shown["help"] = page.screenshot()
    page.keyboard.press("Escape")
    page.click(".top button:has-text('request sheet')")
    page.wait_for_selector(".panel.sheet")
    shown["sheet"] = page.screenshot()
    page.keyboard.press("Escape")
    draw_line(page, simulated)
    page.locator(".marks-panel").scroll_into_view_if_needed()
    for _ in range(3):
        page.locator(".stage-bar [aria-label='one frame on']").click()
    page.evaluate("document.querySelector('.marks-panel').scrollIntoView()")
    shown["marks"] = page.screenshot()
    page.keyboard.press("Escape")
    page.keyboard.press("F4")
    page.wait_for_function("() => document.querySelectorAll('.picture canvas[data-frame]').length === 2")
    page.wait_for_timeout(300)
    shown["beside"] = page.screenshot()
    page.keyboard.press("F4")
    page.keyboard.press("F8")
    for kind in ("summary", "letter"):
        page.frame_locator(f"iframe[title='Preview of the {kind}']").locator("h1").first.wait_for()
    page.wait_for_timeout(300)
    shown["letters"] = page.screenshot()
    say_and_call(page, simulated)
    shown["thread"] = page.screenshot()
    page.keyboard.press("F8")
    page.wait_for_selector("main.study")
    page.keyboard.press("Backspace")
    all_sent(page)

    folder = PICTURES if pytestconfig.getoption("--write-pictures", default=False) else tmp_path
    folder.mkdir(parents=True, exist_ok=True)
    for place, png in shown.items():
        path = folder / f"{place}-{scheme}.png"
        picture = Image.open(BytesIO(png)).convert("RGB")
        few = picture.quantize(256, dither=Image.Dither.NONE)
        few.save(path, optimize=True)
        grey = np.asarray(picture.convert("L"), float)
        assert picture.size == (SIZE["width"], SIZE["height"])
        assert grey.std() > 10, f"{path.name} is blank"
        assert place in ON_BLACK or (grey.mean() > 128) == (scheme == "light")
        assert path.stat().st_size <= MOST_BYTES
    assert all(each["author"] == MENTOR for each in ask(page, f"/api/studies/{simulated}")["messages"])
