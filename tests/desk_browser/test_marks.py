"""Marks by keys on a picture that moves: drawn, read, followed through the clip with an error beside each value."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.desk_browser.conftest import MENTOR, all_sent, open_study, state_of
from tests.intake.dicom_files import native, speckle

RIGHT_PX = 2  # by which the picture moves from frame to frame
N_FRAMES = 10
FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"
# What has the keyboard once a tool was chosen by pointer, before the browser does anything else.
CHOSEN = """async tool => {
  [...document.querySelectorAll('.tools button')].find(each => each.innerText === tool).click();
  await Promise.resolve();
  return document.activeElement.classList.value;
}"""
# On the screen: the column of a followed mark's first point, and how wide a pixel of the clip is.
FOLLOWED = "() => Number(document.querySelector('.tracked-shape circle').getAttribute('cx'))"
A_PIXEL = """() => {
  const [first, second] = [...document.querySelectorAll('.mark-shape')[0].querySelectorAll('.reach')];
  return (second.getAttribute('cx') - first.getAttribute('cx')) / 40;
}"""


@pytest.fixture(scope="module")
def study_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A clip of speckle that moves to the right, and a short one that stands."""
    folder = tmp_path_factory.mktemp("moving")
    wide = speckle(np.random.default_rng(31), 1, 160, 300)[0]
    frames = np.stack([wide[:, 60 - RIGHT_PX * k : 260 - RIGHT_PX * k] for k in range(N_FRAMES)])
    path = native(folder / "IM1.dcm", frames, FrameTime="40", FrameIncrementPointer=0x00181063)
    other = native(folder / "IM2.dcm", frames[:2], FrameTime="40", FrameIncrementPointer=0x00181063)
    return {"IM1.dcm": Path(path), "IM2.dcm": Path(other)}


def press(page: Any, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def cross_to(page: Any, down: int, across: int) -> None:
    """Move the cross by so many steps of ten pixels."""
    press(page, *["Shift+ArrowDown" if down > 0 else "Shift+ArrowUp"] * abs(down))
    press(page, *["Shift+ArrowRight" if across > 0 else "Shift+ArrowLeft"] * abs(across))


def choose(page: Any, tool: str) -> None:
    """Choose a tool with F2; the keyboard is on the picture then."""
    for _ in range(5):
        press(page, "F2")
        if page.locator(f".tools [aria-pressed=true]:text-is('{tool}')").count():
            break
    page.wait_for_function("() => document.activeElement.classList.contains('mark-layer')")


def shown(page: Any, frame: int) -> None:
    page.wait_for_function(f"() => document.querySelector('.picture canvas').dataset.frame === '{frame}'")


def test_marks_by_keys_are_read_and_followed(page: Any, study: str) -> None:
    page.evaluate("() => localStorage.removeItem('fanlight.mentor')")
    page.reload()
    open_study(page, study)
    press(page, " ")  # stop
    start = page.evaluate(FRAME)

    choose(page, "line")
    press(page, " ")  # the cross stands in the middle: row 80, column 100
    cross_to(page, 3, 4)
    press(page, " ")
    # Nobody has said yet who draws: the line waits for the name, and is not lost.
    page.wait_for_selector(".panel.name")
    page.locator(".panel.name input").fill(MENTOR)
    press(page, "Enter")
    page.wait_for_selector(".mark-list output:has-text('line 50.0 px')")

    choose(page, "angle")
    for down, across in ((0, 0), (0, -4), (-3, 0)):  # a right angle: 40 px along, 30 px up
        cross_to(page, down, across)
        press(page, " ")
    page.wait_for_selector(".mark-list output:has-text('angle 90°')")

    choose(page, "trace")
    for down, across in ((0, 0), (0, 4), (3, 0)):
        cross_to(page, down, across)
        press(page, " ")
    press(page, "Enter")
    page.wait_for_selector(".mark-list output:has-text('trace 70.0 px · 600 px²')")

    marks = state_of(page, study)["marks"]
    assert {each["kind"] for each in marks} == {"line", "angle", "trace"}
    (line,) = [each for each in marks if each["kind"] == "line"]
    assert line["points"] == [[80, 100], [110, 140]]
    assert {each["frame"] for each in marks} == {start}

    press(page, "F3")
    page.wait_for_function("() => document.querySelectorAll('.tracked-values').length === 3", timeout=120_000)
    captions = page.locator(".mark-list li:has(output:has-text('line')) figcaption").inner_text()
    largest = re.search(r"largest ([\d.]+) ± ([\d.]+) px, frame (\d+)", captions)
    assert largest, captions
    assert float(largest[1]) == pytest.approx(50, abs=1)

    # One frame on or back the picture moves by two of its pixels, and the followed marks with it.
    a_pixel = page.evaluate(A_PIXEL)
    press(page, "F2")  # no tool: arrow keys step frames again
    by = -1 if start > N_FRAMES // 2 else 1
    seen = []
    for k in (1, 2, 3):
        press(page, "ArrowRight" if by > 0 else "ArrowLeft")
        shown(page, start + by * k)
        page.wait_for_selector(".tracked-shape")
        seen.append(page.evaluate(FOLLOWED))
    assert np.diff(seen) / a_pixel == pytest.approx([by * RIGHT_PX] * 2, abs=0.5)
    assert "±" in (page.locator(".tracked-shape text").first.text_content() or "")

    # The key that follows a press on a tool is for the picture, however soon it comes.
    press(page, "F2")
    assert page.evaluate(CHOSEN, "angle") == "mark-layer"
    press(page, " ")
    page.wait_for_selector(".mark-shape.chosen")

    # Points of a scale belong to their clip: on another the form that asks for their distance closes.
    page.click(".tools button:has-text('depth scale')")
    cross_to(page, 0, 0)
    press(page, " ")
    cross_to(page, 3, 0)
    press(page, " ")
    page.wait_for_selector(".scale-form")
    page.locator(".tile", has_text="2").first.click()
    page.wait_for_selector(".scale-form", state="detached")
    page.locator(".tile", has_text="1").first.click()
    page.wait_for_selector(".mark-list output:has-text('line 50.0 px')")
    assert page.locator(".scale-form").count() == 0
    all_sent(page)
