"""Each place of the desk as a picture, at true size; with --write-pictures they go into the documentation."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
import pytest
from PIL import Image

from measure._service import Service
from tests.desk_browser.by_keyboard import Keyboard, say_valve
from tests.desk_browser.conftest import (
    ROOT,
    SCHEMES,
    SIZE,
    all_sent,
    ask,
    at_rest,
    choose_tool,
    new_context,
    open_study,
    state_of,
)
from tests.desk_browser.flow_clips import Pen, of_mode, to_clip
from tests.desk_browser.read_once import Keep

PICTURES = ROOT / "docs" / "images" / "desk"
MOST_BYTES = 300_000
FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"
BOTH = "() => document.querySelectorAll('.picture canvas[data-frame]').length === 2"
HINGES = ("MITRAL_SEPTAL_HINGE", "MITRAL_PARIETAL_HINGE")
ALSO_DIM = ("waiting", "study", "letters", "colour", "rungs", "spectrum")  # of these the documentation shows both
TALLER = "() => document.documentElement.scrollHeight - innerHeight"
ASKED = "The long axis once more, with less depth, so that the heart fills the picture."


@pytest.fixture(scope="module")
def shown(
    chromium: Any, service: Service, inside: Any, again: str, kept: Keep, simulated_files: dict[str, Path],
    views: dict[int, str], valves: dict[int, str],
) -> str:  # fmt: skip
    """A simulated study with each clip where it belongs, its proposals not decided on; its id."""
    study = kept(simulated_files)
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    open_study(page, study)
    letters = {each["view"]: each["letter"] for each in ask(page, f"/api/studies/{study}")["plan"]["steps"]}
    for number, view in views.items():
        page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
        page.keyboard.press(letters[view])
        page.wait_for_selector(f".told:has-text('Clip {number} is in {letters[view]}')")
        if number in valves and page.locator(".valves").count():
            say_valve(Keyboard(page), letters[view], valves[number])
        page.keyboard.press("ArrowDown")
    all_sent(page)
    at_rest(page, study)
    context.close()
    return study


@pytest.fixture(scope="module")
def hinges(simulated_files: dict[str, Path]) -> list[tuple[int, int]]:
    """Where the mitral valve hangs at the first clip's end-systole, as the simulator knows it: row and column."""
    name = min(name for name in simulated_files if name.endswith(".dcm"))
    truth = (simulated_files[name].parent.parent / "truth" / name).with_suffix(".json")
    moments = json.loads(truth.read_text("utf-8"))["moments"]
    systole = next(each for each in moments if each["moment"] == "end-systole")
    at = {each["landmark"]: (round(each["row_px"]), round(each["col_px"])) for each in systole["landmarks"]}
    return [at[name] for name in HINGES]


def show_systole(page: Any, study: str) -> int:
    """Stop the first clip at its first end-systole; return that frame."""
    page.keyboard.press("Home")
    key = ask(page, f"/api/studies/{study}")["study"]["clips"][0]["key"]
    frame = int(ask(page, f"/api/studies/{study}/clips/{key}")["time"]["end_systole_frames"][0])
    to_frame(page, frame)
    return frame


def to_frame(page: Any, frame: int) -> None:
    page.evaluate("document.querySelector('.timeline').focus()")
    page.keyboard.press("Home")
    for _ in range(frame):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(f"frame => ({FRAME})() === frame", arg=frame)
    page.evaluate("document.activeElement.blur()")


def draw_line(page: Any, study: str, points: list[tuple[int, int]]) -> None:
    """Draw a line by keyboard, once, and have it followed."""
    choose_tool(page, "line")
    if not any(mark["kind"] == "line" for mark in state_of(page, study)["marks"]):
        clip = ask(page, f"/api/studies/{study}")["study"]["clips"][0]
        at = (clip["rows"] // 2, clip["cols"] // 2)  # where the cross stands at first
        for point in points:
            for n, (back, on) in zip(np.subtract(point, at), (("Up", "Down"), ("Left", "Right")), strict=True):
                for key in ["Shift+Arrow"] * (abs(int(n)) // 10) + ["Arrow"] * (abs(int(n)) % 10):
                    page.keyboard.press(key + (on if n > 0 else back))
            page.keyboard.press("Space")
            at = point
    page.wait_for_selector(".mark-list output")
    all_sent(page)
    page.keyboard.press("F3")
    page.wait_for_selector(".told:has-text('Followed')")


def show_flow(page: Any, files: dict[str, Path]) -> None:
    """Stop the colour clip of the pulmonic valve where most of it is coloured."""
    number, truth = of_mode(files, "colour", "pulmonic")
    stored = pydicom.dcmread(truth.parent.parent / "study" / f"{truth.stem}.dcm").pixel_array.astype(int)
    frame = int((np.abs(stored[..., 0] - stored[..., 2]) > 60).sum(axis=(1, 2)).argmax())
    to_clip(page, number)
    page.wait_for_selector(".finding")
    to_frame(page, frame)


def measure_flow(page: Any, study: str, files: dict[str, Path]) -> None:
    """Measure the second beat of the pulmonic spectrum, once: its edge, and the time from beat to beat."""
    number, truth = of_mode(files, "pulsed_wave", "pulmonic")
    to_clip(page, number)
    page.wait_for_selector(".finding")
    choose_tool(page, "trace")
    if not any(mark["kind"] == "trace" for mark in state_of(page, study)["marks"]):
        Pen(page).click(*edge_of(truth), last_twice=True)
        page.wait_for_selector(".mark-list output:has-text('VTI')")
    page.keyboard.press("Escape")
    all_sent(page)


def edge_of(truth: Path) -> list[tuple[float, float]]:
    """Return the edge of the second beat of a spectrum below its baseline, from baseline to baseline."""
    known = json.loads(truth.read_text("utf-8"))["doppler"]
    strip, zero = known["strip"], known["baseline_row_px"]
    grey = pydicom.dcmread(truth.parent.parent / "study" / f"{truth.stem}.dcm").pixel_array.astype(float).mean(axis=-1)
    part = grey[zero + 8 : strip["row1"], strip["col0"] : strip["col1"]]
    bright = part > 60
    filled = bright.mean(axis=0)
    # A beat is a run of columns with signal; clicks of valves fill theirs to the end.
    is_flow = (filled > 0.08) & (filled < 0.7)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_flow.astype(int), [0]])))
    runs = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 20]
    first, last = runs[1]
    cols = np.linspace(first, last - 1, 9).round().astype(int)
    rows = [zero + 8 + int(np.flatnonzero(bright[:, col]).max(initial=0)) for col in cols]
    inner = [(row, col + strip["col0"]) for row, col in zip(rows, cols, strict=True)]
    return [(float(row), float(col)) for row, col in [(zero, inner[0][1] - 2), *inner, (zero, inner[-1][1] + 2)]]


def put_on_the_thread(page: Any, study: str) -> None:
    """Ask for more images, once."""
    if not ask(page, f"/api/studies/{study}")["messages"]:
        page.fill(".thread textarea", ASKED)
        page.click(".thread button:has-text('put it on the thread')")
    page.wait_for_selector(".thread li")


def open_call(page: Any, study: str) -> None:
    """Open a call, once."""
    if not state_of(page, study)["calls"]:
        page.fill(".calls > form input", "Fluid around the heart.")
        page.press(".calls > form input", "Enter")
    page.wait_for_selector(".call.open")
    all_sent(page)


def both_previews(page: Any) -> None:
    for kind in ("summary", "letter"):
        page.frame_locator(f"iframe[title='Preview of the {kind}']").locator("h1").first.wait_for()
    page.wait_for_timeout(300)


def in_sight(page: Any, selector: str) -> None:
    page.locator(selector).first.evaluate("each => each.scrollIntoView({ block: 'start' })")


def take_pictures(page: Any, study: str, points: list[tuple[int, int]], files: dict[str, Path]) -> dict[str, bytes]:
    """Go from place to place; return each as it looked, by name."""
    found: dict[str, bytes] = {}

    def take(name: str) -> None:
        page.wait_for_timeout(200)
        assert page.evaluate(TALLER) == 0  # parts of a page scroll, never the page
        found[name] = page.screenshot()

    page.wait_for_selector(f".line a[href='#/study/{study}'] .fans svg")
    take("waiting")
    open_study(page, study)
    page.wait_for_selector(".finding.chosen")
    systole = show_systole(page, study)
    take("study")
    show_flow(page, files)
    take("colour")
    page.focus(".rung[aria-label^='colour at the mitral valve']")
    page.wait_for_selector(".ladder-words .missing")
    take("rungs")
    page.keyboard.press("Escape")
    measure_flow(page, study, files)
    take("spectrum")
    show_systole(page, study)
    page.keyboard.press("?")
    page.wait_for_selector("dialog[open]")
    take("help")
    page.keyboard.press("Escape")
    page.click(".top button:has-text('request sheet')")
    page.wait_for_selector(".panel.sheet")
    take("sheet")
    page.keyboard.press("Escape")
    page.click(".top button:has-text('measurements')")
    page.wait_for_selector(".panel.numbers")
    take("measurements")
    page.keyboard.press("Escape")
    draw_line(page, study, points)
    page.keyboard.press("Escape")
    to_frame(page, systole - 4)
    page.wait_for_selector(".mark-layer .tracked-shape")
    in_sight(page, ".marks-panel")
    take("marks")
    page.keyboard.press("F4")
    page.wait_for_function(BOTH)
    show_systole(page, study)
    take("beside")
    page.keyboard.press("F4")
    page.keyboard.press("F8")
    both_previews(page)
    take("letters")
    put_on_the_thread(page, study)
    open_call(page, study)
    both_previews(page)
    in_sight(page, ".calls")
    take("call")
    in_sight(page, ".thread")
    take("thread")
    return found


def test_pictures_of_each_place(
    chromium: Any, service: Service, inside: Any, shown: str, hinges: list[tuple[int, int]], scheme: str,
    simulated_files: dict[str, Path], pytestconfig: pytest.Config, tmp_path: Path,
) -> None:  # fmt: skip
    """They show something, at true size, and light is lighter than dim."""
    context = new_context(chromium, inside, color_scheme=SCHEMES[scheme], reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    found = take_pictures(page, shown, hinges, simulated_files)
    context.close()

    is_written = pytestconfig.getoption("--write-pictures", default=False)
    for place, png in found.items():
        folder = PICTURES if is_written and (scheme == "light" or place in ALSO_DIM) else tmp_path
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{place}-{scheme}.png"
        picture = Image.open(BytesIO(png)).convert("RGB")
        picture.quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)
        grey = np.asarray(picture.convert("L"), float)
        assert picture.size == (SIZE["width"], SIZE["height"])
        assert grey.std() > 10, f"{path.name} is blank"
        assert path.stat().st_size <= MOST_BYTES
        corner = grey[-20:, -20:].mean()  # nothing stands there but the ground
        assert (corner > 128) == (SCHEMES[scheme] == "light")
