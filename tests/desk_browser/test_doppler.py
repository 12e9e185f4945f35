"""Colour clips, the rungs of a valve and calipers on a spectrum in a real browser, held to what the simulator knows."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
import pytest
from pydicom.uid import ExplicitVRLittleEndian

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import (
    all_sent,
    ask,
    at_rest,
    choose_tool,
    new_context,
    open_study,
    turn,
)
from tests.desk_browser.flow_clips import Pen, of_mode, to_clip
from tests.desk_browser.read_once import Keep

# How many pixels of the stage are clearly coloured, and how many there are.
COLOURED = """() => {
  const canvas = document.querySelector('.picture canvas');
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  let n = 0;
  for (let at = 0; at < data.length; at += 4) n += Math.abs(data[at] - data[at + 2]) > 60;
  return n / (data.length / 4);
}"""
FRAME = "() => Number(document.querySelector('.picture canvas').dataset.frame)"
OWN = ".mark-list:not(.sent)"  # marks of the desk, not those of a marks file
MITRAL, TRICUSPID = "mitral", "tricuspid"


@pytest.fixture(scope="module")
def own(
    chromium: Any, service: Service, inside: Any, kept: Keep, simulated_files: dict[str, Path], views: dict[int, str]
) -> str:
    """A simulated study whose clips lie in their views; nobody has said a valve. Its id."""
    study = kept(simulated_files)
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    open_study(page, study)
    letters = {each["view"]: each["letter"] for each in ask(page, f"/api/studies/{study}")["plan"]["steps"]}
    for number, view in views.items():
        to_clip(page, number)
        page.keyboard.press(letters[view])
        page.wait_for_selector(f".told:has-text('Clip {number} is in {letters[view]}')")
    all_sent(page)
    at_rest(page, study)
    context.close()
    return study


def test_a_colour_clip_stands_in_colour_frame_by_frame(page: Any, own: str, simulated_files: dict[str, Path]) -> None:
    """The share of coloured pixels on the stage is that of the file's own frame, on two frames that differ."""
    number, truth = of_mode(simulated_files, "colour", "pulmonic")
    stored = pydicom.dcmread(truth.parent.parent / "study" / f"{truth.stem}.dcm").pixel_array.astype(int)
    share = (np.abs(stored[..., 0] - stored[..., 2]) > 60).mean(axis=(1, 2))
    open_study(page, own)
    to_clip(page, number)
    page.wait_for_selector(".stage-bar .wide:not([disabled])")
    page.evaluate("document.querySelector('.timeline').focus()")
    page.keyboard.press("Home")
    page.wait_for_function(f"() => ({FRAME})() === 0")
    found = []
    for frame in range(len(share)):
        page.wait_for_function(f"() => ({FRAME})() === {frame}")
        found.append(page.evaluate(COLOURED))
        page.keyboard.press("ArrowRight")
    seen = np.asarray(found)

    assert np.ptp(share) > 0.002  # a thousand pixels and more: else the frames would tell nothing
    # The picture takes a fixed part of the stage, and the bar stays as it is.
    assert np.corrcoef(seen, share)[0, 1] > 0.99
    assert (seen > 0).all()


def test_a_note_of_a_ladder_leads_to_the_clip_that_it_speaks_of(
    page: Any, own: str, simulated_files: dict[str, Path]
) -> None:
    """By mouse and by key; the words stay open over it, and Esc closes them from there as well."""
    number, _ = of_mode(simulated_files, "colour", TRICUSPID)
    open_study(page, own)
    to_clip(page, number)
    page.wait_for_selector(".rung-said:has-text('as long as nobody says')")
    to_clip(page, 1)
    page.locator(f".ladders .valve:text-is('{TRICUSPID}')").focus()
    link = page.locator(f".ladder-words .of-clip:text-is('{number}')").first
    link.click()
    page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
    assert link.get_attribute("aria-current") == "true"
    to_clip(page, 1)
    page.locator(f".ladders .valve:text-is('{TRICUSPID}')").focus()
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
    assert link.is_visible()
    page.keyboard.press("Escape")
    page.locator(".ladder-words").wait_for(state="detached")
    assert page.locator("main.study").count() == 1


def test_a_rung_leads_to_the_clip_that_gives_it_and_the_clip_says_so(
    page: Any, own: str, simulated_files: dict[str, Path]
) -> None:
    """First the valve is open between two; the letter says it; the other valve lacks the rung, and why is told."""
    number, _ = of_mode(simulated_files, "colour", TRICUSPID)
    open_study(page, own)
    to_clip(page, number)
    page.wait_for_selector(".rung-said:has-text('colour at the mitral and tricuspid valves, as long as nobody says')")
    for valve in (MITRAL, TRICUSPID):
        page.keyboard.press("a")
        page.wait_for_selector(f".told:has-text('four-chamber, {valve} valve.')")
        page.wait_for_selector(f".rung-said:text-is('gives the rung colour at the {valve} valve')")
    to_clip(page, 1)
    colour = page.locator(f".rung[aria-label^='colour at the {TRICUSPID} valve']")
    assert colour.get_attribute("aria-current") is None
    colour.click()
    page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
    assert colour.get_attribute("aria-current") == "true"

    missing = page.locator(f".rung[aria-label='colour at the {MITRAL} valve: asked for and missing']")
    missing.focus()
    why = "the plan asks for it in “Right parasternal long axis, four-chamber”, and no clip of it is stored"
    page.wait_for_selector(f".ladder-words .missing:has-text('{why}')")
    page.keyboard.press("Enter")
    page.wait_for_selector(f".told:has-text('{why}')")
    assert page.locator(f".stage-head h2:text-is('clip {number}')").count() == 1
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []
    all_sent(page)


@pytest.fixture(scope="module")
def stills(simulated_files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pulsed wave as it is, once more without anything that tells its scale, and a marks file about that one."""
    _, truth = of_mode(simulated_files, "pulsed_wave", "pulmonic")
    whole = truth.parent.parent / "study" / f"{truth.stem}.dcm"
    bare = pydicom.dcmread(whole)
    pixels = bare.pixel_array.copy()
    pixels[0, 0] = 1  # of two files with the same picture one is kept
    bare.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
    bare.PhotometricInterpretation, bare.PlanarConfiguration = "RGB", 0
    bare.PixelData = pixels.tobytes()
    bare["PixelData"].is_undefined_length = False
    del bare.SequenceOfUltrasoundRegions
    bare.SOPInstanceUID += ".1"
    bare.file_meta.MediaStorageSOPInstanceUID = bare.SOPInstanceUID
    bare.InstanceNumber = int(bare.InstanceNumber) + 1
    path = tmp_path_factory.mktemp("bare") / "bare.dcm"
    bare.save_as(path)
    marks = path.with_name("marks.toml")
    marks.write_text(
        '[[mark]]\nfile = "bare.dcm"\nkind = "line"\nlabel = "as sent"\n'
        "points = [{row = 60, col = 300}, {row = 100, col = 330}]\n"
    )
    return {"IM1.dcm": whole, "IM2.dcm": path, "marks.toml": marks}


@pytest.fixture(scope="module")
def study_files(stills: dict[str, Path]) -> dict[str, Path]:
    return stills


def mm_a_pixel(truth: dict[str, Any]) -> float:
    return float(truth["picture"]["mm_per_px"])


def said(page: Any) -> str:
    return str(page.locator(f"{OWN} li:last-child output").inner_text())


def number_in(words: str, pattern: str) -> float:
    found = re.search(pattern.replace("N", r"(−?[\d.]+)"), words)
    assert found, words
    return float(found[1].replace("−", "-"))


def draw(page: Any, tool: str, *points: tuple[float, float]) -> str:
    """Draw a mark with the pointer; return what it reads."""
    before = page.locator(f"{OWN} li").count()
    choose_tool(page, tool)
    Pen(page).click(*points, last_twice=tool == "trace")
    page.wait_for_function("([own, n]) => document.querySelectorAll(`${own} li`).length === n", arg=[OWN, before + 1])
    return said(page)


def test_calipers_on_a_spectrum_read_what_its_axis_says(page: Any, study: str, stills: dict[str, Path]) -> None:
    """At a mark of the axis its velocity and 4v²; of a triangle half base times height, and a third of its gradient."""
    truth = json.loads((stills["IM1.dcm"].parent.parent / "truth" / f"{stills['IM1.dcm'].stem}.json").read_text())
    ticks = {each["cm_s"]: each["row_px"] for each in truth["doppler"]["velocity_ticks"]}
    zero, metre = ticks[0.0], ticks[-100.0]
    step_ms = 1000 * pydicom.dcmread(stills["IM1.dcm"]).SequenceOfUltrasoundRegions[1].PhysicalDeltaX
    left, width = 200.0, 400 / step_ms  # 400 ms
    open_study(page, study)
    to_clip(page, 1)

    point = draw(page, "point", (metre, 600))  # away from the others: a press on a point of a mark would drag it
    assert number_in(point, "N cm/s") == pytest.approx(-100, abs=2.5)  # the pointer steps by a pixel of the screen
    assert number_in(point, "4v² N mmHg") == pytest.approx(4, abs=0.25)
    line = draw(page, "line", (zero + 160, left), (zero + 160, left + width))
    assert number_in(line, "N ms") == pytest.approx(400, abs=8)
    assert "cm/s" not in line  # a flat line is meant for its time
    trace = draw(page, "trace", (zero, left), (metre, left + width / 2), (zero, left + width))
    assert number_in(trace, "peak N cm/s") == pytest.approx(-100, abs=2.5)
    assert number_in(trace, "VTI N cm") == pytest.approx(0.5 * 100 * 0.4, rel=0.05)
    assert number_in(trace, "mean N cm/s") == pytest.approx(-50, abs=2)
    assert number_in(trace, "mean 4v² N mmHg") == pytest.approx(4 / 3, rel=0.1)
    panel = page.locator(".spectrum-says").inner_text()
    assert "simplified Bernoulli, QUINONES2002" in panel
    assert "lower bounds" in panel
    assert "corrected for an angle of 15°" in panel  # this hand did
    assert violations(page) == []


def test_a_spectrum_without_scale_is_calibrated_by_two_points_of_each_axis(
    page: Any, study: str, stills: dict[str, Path]
) -> None:
    truth = json.loads((stills["IM1.dcm"].parent.parent / "truth" / f"{stills['IM1.dcm'].stem}.json").read_text())
    ticks = {each["cm_s"]: each["row_px"] for each in truth["doppler"]["velocity_ticks"]}
    zero, metre = ticks[0.0], ticks[-100.0]
    open_study(page, study)
    to_clip(page, 2)
    # The guide picture has its size by the depth on the screen: 50 pixels of it.
    page.wait_for_selector(".sent output:has-text('as sent line')")
    sent = number_in(page.locator(".sent-shape text").text_content() or "", "as sent  N mm")
    assert sent == pytest.approx(50 * mm_a_pixel(truth), rel=0.05)
    bare = draw(page, "point", (metre, 300))
    assert "cm/s" not in bare
    page.wait_for_selector(".marks-panel .caution:has-text('Not calibrated: mark')")

    for tool, points, amount in (
        ("velocity scale", ((zero, 100), (metre, 100)), "100"),
        ("time scale", ((zero, 200), (zero, 400)), "500"),
    ):
        page.click(f".tools button:text-is('{tool}')")
        Pen(page).click(*points)
        page.fill(".scale-form input", amount)
        page.click(".scale-form button:text-is('set the scale')")
        page.wait_for_selector(".scale-form", state="detached")
    page.click(".tools button:text-is('baseline')")
    Pen(page).click((zero, 150))
    page.wait_for_selector(".mark-list output:has-text('4v²')")

    point = said(page)
    assert number_in(point, "N cm/s") == pytest.approx(-100, abs=3)
    assert number_in(point, "4v² N mmHg") == pytest.approx(4, abs=0.3)
    all_sent(page)
    at_rest(page, study)
