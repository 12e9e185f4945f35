"""Lines that the engine read off strips: drawn, listed, and moved, which makes them the mentor's."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pydicom.dataset import Dataset

from fanlight.simulate.clip.ring import Ring
from measure._m_mode_strips import draw_strip
from measure._service import Service
from tests.desk.browser import new_id
from tests.desk.test_strips_read import FIVE_CHAMBER, spectrum
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import (
    MENTOR,
    SCHEMES,
    SIZE,
    all_sent,
    ask,
    at_rest,
    new_context,
    open_study,
    state_of,
    turn,
)
from tests.desk_browser.flow_clips import to_clip
from tests.desk_browser.read_once import Keep
from tests.desk_browser.test_pictures import MOST_BYTES, PICTURES
from tests.intake.dicom_files import native

SEED = 301  # ring A: a normal dog of 8 kg
CHORDAE = "right_parasternal_short_axis_chordae"
ROW0, COL0 = 20, 40
ENGINE, OWN = ".place-shape:not(.own)", ".place-shape.own"
SAY = """async ([path, body]) => {
  const headers = { "content-type": "application/json" };
  return (await fetch(path, { method: "POST", headers, body: JSON.stringify(body) })).status;
}"""


def m_mode(path: Path) -> Path:
    """A simulated strip through both ventricles, whose file says how it is scaled (PS3.3 C.8.5.5)."""
    drawn = draw_strip(SEED, Ring.A)
    rows, cols = drawn.levels.shape
    screen = np.zeros((rows + 60, cols + 80), np.uint8)
    screen[ROW0 : ROW0 + rows, COL0 : COL0 + cols] = drawn.levels
    region = Dataset()
    region.RegionSpatialFormat, region.RegionDataType, region.RegionFlags = 2, 1, 0  # M-mode, tissue
    region.RegionLocationMinX0, region.RegionLocationMinY0 = COL0, ROW0
    region.RegionLocationMaxX1, region.RegionLocationMaxY1 = COL0 + cols - 1, ROW0 + rows - 1
    region.PhysicalUnitsXDirection, region.PhysicalUnitsYDirection = 4, 3  # seconds, cm
    region.PhysicalDeltaX, region.PhysicalDeltaY = drawn.ms_per_col / 1000, drawn.mm_per_row / 10
    return native(path, screen[None], SequenceOfUltrasoundRegions=[region])


@pytest.fixture(scope="module")
def study_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """An M-mode of a simulated heart, and a pulsed wave of 110 cm/s."""
    folder = tmp_path_factory.mktemp("strips")
    return {"a.dcm": m_mode(folder / "a.dcm"), "b.dcm": spectrum(folder / "b.dcm")}


@pytest.fixture(scope="module")
def placed(chromium: Any, service: Service, inside: Any, kept: Keep, study_files: dict[str, Path]) -> str:
    """A study of both, each in its view and measured; its id."""
    study = kept(study_files)
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    clips = ask(page, f"/api/studies/{study}")["study"]["clips"]
    for clip, view, valve in zip(clips, (CHORDAE, FIVE_CHAMBER), (None, "aortic"), strict=True):
        payload = {"view": view, "valve": valve}
        act = {"id": new_id(), "author": MENTOR, "clip": clip["key"], "action": "place clip", "payload": payload}
        assert page.evaluate(SAY, [f"/api/studies/{study}/entries", act]) == 200
    at_rest(page, study)
    context.close()
    return study


def open_strip(page: Any, study: str, number: int) -> Any:
    """Put a strip on the stage with its lines; return what the service says of them."""
    open_study(page, study)
    to_clip(page, number)
    page.wait_for_selector(".strip-places")
    key = ask(page, f"/api/studies/{study}")["study"]["clips"][number - 1]["key"]
    lines = ask(page, f"/api/studies/{study}/clips/{key}/lines")
    page.wait_for_function(
        "([at, n]) => document.querySelectorAll(at).length === n", arg=[ENGINE, len(lines["places"])]
    )
    return lines


def first_of(lines: Any, quantity: str) -> Any:
    return next(item for item in lines["places"] if item["quantity"] == quantity and not item["reason"])


def in_list(place: Any) -> str:
    return f".strip-places button[aria-label^='{place['label']}, beat {place['beat']}:']"


def number_in(words: str, unit: str) -> float:
    found = re.search(rf"(−?[\d.]+) {re.escape(unit)}", words)
    assert found, words
    return float(found[1].replace("−", "-"))


def test_lines_of_an_m_mode_are_drawn_and_a_pair_is_moved_by_keys(page: Any, placed: str) -> None:
    """Nine pixels up lengthen the diameter by nine rows; the mark reads it, the list and the numbers tell it."""
    lines = open_strip(page, placed, 1)
    place = first_of(lines, "lvidd")
    assert page.locator(".strip-courses > g").count() == len(lines["courses"])
    assert "±" in (page.locator(".place-shape text", has_text=re.compile("^LVIDd ")).first.text_content() or "")
    page.keyboard.press("Shift+F2")
    page.wait_for_selector(".strip-courses", state="detached")
    page.keyboard.press("Shift+F2")
    page.wait_for_selector(ENGINE)
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []

    page.focus(in_list(place))
    page.keyboard.press("Enter")
    page.wait_for_selector(".place-shape.chosen .handle:focus")
    page.keyboard.press("Delete")  # what the engine read is nobody's to take off
    page.wait_for_selector(".told:has-text('What the engine read stays')")
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_selector(".mark-shape .handle:focus")  # the keyboard goes on with the mark
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    (mark,) = state_of(page, placed)["marks"]
    assert (mark["kind"], mark["label"]) == ("line", "LVIDd")
    (upper, col), lower = place["points"]
    assert mark["points"] == [pytest.approx([upper - 9, col], abs=0.02), pytest.approx(lower, abs=0.02)]

    assert page.locator(OWN).count() == 1  # the engine's stays, faintly
    page.wait_for_selector(f"{in_list(place)} .mentor")
    grown = place["value"] * (1 + 9 / (lower[0] - upper))
    assert number_in(page.locator(in_list(place)).inner_text(), "mm") == pytest.approx(grown, abs=0.06)
    listed = ask(page, f"/api/studies/{placed}")["review"]["measurements"]
    (own,) = [item for item in listed if item["given_by"] == "marked by hand" and item["unit"] == "mm"]
    assert (own["name"], own["value"]) == ("lvidd", pytest.approx(grown, abs=0.06))
    counts = page.wait_for_selector(".clip-numbers .mentor:has-text('which counts')").inner_text()
    said = re.fullmatch(r"Marked by hand ([\d.]+) ± [\d.]+ mm, which counts\.", counts)
    assert said
    assert float(said[1]) == pytest.approx(grown, abs=0.06)

    page.keyboard.press("Escape")
    page.keyboard.press("Backspace")
    page.wait_for_selector(OWN, state="detached")
    assert state_of(page, placed)["marks"] == []


def test_peak_and_outline_of_a_spectrum_are_dragged(page: Any, placed: str) -> None:
    """The peak is a point; the outline of a beat a trace, of which one point moves and the others stay."""
    lines = open_strip(page, placed, 2)
    peak, outline = first_of(lines, "aortic_vmax"), first_of(lines, "aortic_vti")
    drag(page, f"{peak['label']} point {peak['beat']} 0", down=12)
    (mark,) = state_of(page, placed)["marks"]
    assert (mark["kind"], mark["label"]) == ("point", "aortic Vmax")
    assert mark["points"][0][0] > peak["points"][0][0] + 5
    drag(page, f"{outline['label']} trace {outline['beat']} 5", down=15)
    marks = {each["kind"]: each for each in state_of(page, placed)["marks"]}
    moved = [
        n for n, point in enumerate(marks["trace"]["points"]) if point != pytest.approx(outline["points"][n], abs=0.02)
    ]
    assert moved == [5]
    page.wait_for_selector(f"{in_list(outline)} .mentor")
    page.wait_for_function(f"() => document.querySelectorAll('{OWN}').length === 2")
    assert violations(page) == []
    for _ in marks:
        page.keyboard.press("Backspace")
    page.wait_for_selector(OWN, state="detached")
    assert state_of(page, placed)["marks"] == []


def test_pictures_of_both_strips(
    chromium: Any, service: Service, inside: Any, placed: str, scheme: str, pytestconfig: pytest.Config, tmp_path: Path
) -> None:
    """With a diameter that the mentor moved; with --write-pictures they go into the documentation."""
    context = new_context(chromium, inside, color_scheme=SCHEMES[scheme], reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    folder = PICTURES if pytestconfig.getoption("--write-pictures", default=False) else tmp_path
    for name, number in (("lines", 1), ("lines-spectrum", 2)):
        lines = open_strip(page, placed, number)
        if number == 1:
            place = first_of(lines, "lvidd")
            page.focus(in_list(place))
            for key in ("Enter", "ArrowUp", "ArrowUp", "ArrowUp", "ArrowUp", "Enter"):
                page.keyboard.press(key)
                page.wait_for_selector(".handle:focus")
            page.wait_for_selector(OWN)
            all_sent(page)
        else:
            page.locator(".strip-lines-panel").evaluate("each => each.scrollIntoView({ block: 'end' })")
        picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
        path = folder / f"{name}-{scheme}.png"
        picture.quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)

        assert picture.size == (SIZE["width"], SIZE["height"])
        assert path.stat().st_size <= MOST_BYTES
        green = np.asarray(picture, int)
        assert ((green[..., 1] - green[..., 0] > 60) & (green[..., 1] - green[..., 2] > 20)).sum() > 300  # the lines
        if number == 1:
            page.keyboard.press("Escape")
            page.keyboard.press("Backspace")
            page.wait_for_selector(OWN, state="detached")
            all_sent(page)
    context.close()


def drag(page: Any, handle: str, down: float) -> None:
    """Drag a point that the engine read; wait until it was said."""
    box = page.locator(f'[data-handle="{handle}"] .reach').bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + down / 2)
    page.mouse.move(x, y + down)
    page.mouse.up()
    page.wait_for_selector(f'[data-handle="{handle}"]', state="detached")
    all_sent(page)
