"""What a mentor does with a study, from the drop to the signature, in a real browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pydicom
from scipy.stats import theilslopes

from tests.desk_browser.conftest import (
    all_sent,
    ask,
    at_rest,
    drop,
    enter,
    new_context,
    new_service,
    open_study,
    sign,
    state_of,
)
from tests.desk_browser.read_once import keep, read_once


def test_each_file_that_is_dropped_has_a_fate(page: Any, study_files: dict[str, Path]) -> None:
    drop(page, study_files)

    page.wait_for_selector(".intake a")
    page.click(".intake summary")
    assert page.locator(".fates li .fate").all_inner_texts() == ["received"] * 3


def test_the_stage_shows_the_pixels_of_the_file(page: Any, study: str, study_files: dict[str, Path]) -> None:
    """Shown at one screen pixel for each pixel, a frame is the stored one, value by value."""
    open_study(page, study)
    page.keyboard.press(" ")  # stop
    page.keyboard.press("=")
    page.wait_for_function("() => document.querySelector('.facts').textContent.includes('shown ×')")
    clip = next(each for each in ask(page, f"/api/studies/{study}")["study"]["clips"] if each["number"] == 1)
    stored = pydicom.dcmread(study_files[f"right/{clip['name'].split('/')[-1]}"]).pixel_array

    shown = page.evaluate(
        """() => {
          const canvas = document.querySelector(".picture canvas");
          const scale = Number(document.querySelector(".facts").textContent.match(/×([0-9]) ·/)[1]);
          const [wide, high] = [240 * scale, 160 * scale];
          const [left, top] = [Math.round((canvas.width - wide) / 2), Math.round((canvas.height - high) / 2)];
          const row = Math.max(0, Math.ceil(-top / scale));
          const { data } = canvas.getContext("2d").getImageData(left, top + row * scale, wide, scale * 50);
          const grey = [];
          for (let r = 0; r < 50; r++)
            for (let c = 0; c < 240; c++) grey.push(data[4 * (r * scale * wide + c * scale)]);
          return { frame: Number(canvas.dataset.frame), row, grey };
        }"""
    )
    seen = np.array(shown["grey"]).reshape(50, 240)

    assert np.array_equal(seen, stored[shown["frame"], shown["row"] : shown["row"] + 50])


def test_a_clip_plays_at_its_own_speed(page: Any, study: str) -> None:
    """25 frames a second; the median slope, which what a busy machine skips hardly moves (Theil and Sen)."""
    open_study(page, study)
    page.wait_for_timeout(300)

    shown = page.evaluate(
        """async () => {
          const canvas = document.querySelector(".picture canvas");
          const shown = [];
          const end = performance.now() + 1500;
          while (performance.now() < end) {
            const ms = await new Promise(requestAnimationFrame);
            shown.push([ms, Number(canvas.dataset.frame)]);
          }
          return shown;
        }"""
    )
    times_ms, frames = np.transpose(shown)

    per_second = theilslopes(np.unwrap(frames, period=50), times_ms / 1000).slope
    assert 23 <= per_second <= 27


def test_first_frame_and_step_leave_their_times(page: Any, study: str) -> None:
    """A step that the next one overtakes, before it was drawn, leaves none."""
    open_study(page, study)
    page.keyboard.press(" ")
    for n in range(1, 6):
        page.keyboard.press("ArrowRight")
        page.wait_for_function("n => performance.getEntriesByName('fanlight: step').length === n", arg=n)

    assert page.evaluate("performance.getEntriesByName('fanlight: first frame').length") == 1


def test_place_keep_overrule_and_take_back(page: Any, study: str) -> None:
    open_study(page, study)
    key = ask(page, f"/api/studies/{study}")["study"]["clips"][0]["key"]

    page.keyboard.press("a")
    page.wait_for_selector(".step.here .tile[aria-current]")
    page.keyboard.press(".")
    page.keyboard.press("-")
    page.keyboard.type("seen otherwise")
    page.keyboard.press("Enter")
    page.wait_for_selector(".finding .decision.said")
    page.keyboard.press("Enter")  # keep the rest, go on
    page.wait_for_selector(".status-line .told:has-text('is next')")

    state = state_of(page, study)
    assert state["placements"][key]["action"] == "place clip"
    mine = [each for each in state["decisions"] if each["clip"] == key]
    assert [each["reason"] for each in mine if each["action"] == "overrule finding"] == ["seen otherwise"]
    assert any(each["action"] == "accept finding" for each in mine)

    page.keyboard.press("Backspace")
    page.wait_for_selector(".status-line .told:has-text('Taken back')")
    left = [each for each in state_of(page, study)["decisions"] if each["clip"] == key]
    assert [each["action"] for each in left] == ["overrule finding"]


def test_a_clip_is_dragged_into_a_step_and_out_again(page: Any, study: str) -> None:
    open_study(page, study)
    key = ask(page, f"/api/studies/{study}")["study"]["clips"][1]["key"]

    page.locator(".tile", has_text="2").first.drag_to(page.locator(".step").nth(2))
    page.wait_for_selector(".step:nth-of-type(3) .tile:has-text('2')")
    assert state_of(page, study)["placements"][key]["action"] == "place clip"

    page.locator(".step .tile", has_text="2").first.drag_to(page.locator(".unplaced"))
    page.wait_for_selector(".unplaced .tile:has-text('2')")
    assert state_of(page, study)["placements"].get(key, {}).get("action") != "place clip"


def test_a_line_is_read_out_in_millimetres_once_the_scale_is_marked(page: Any, study: str) -> None:
    open_study(page, study)
    page.keyboard.press("End")
    page.keyboard.press("F2")
    page.wait_for_selector(".marks-panel .caution:has-text('Not calibrated')")
    page.click(".marks-panel button:has-text('depth scale')")
    box = page.locator(".mark-layer").bounding_box()
    at = lambda x, y: page.mouse.click(box["x"] + box["width"] / 2 + x, box["y"] + box["height"] / 2 + y)  # noqa: E731
    at(0, -50)
    at(0, 50)
    page.fill(".scale-form input", "2")
    page.keyboard.press("Enter")
    page.wait_for_selector(".facts:has-text('marked by you')")
    at(-50, 0)
    at(50, 0)

    page.wait_for_selector(".mark-list output:has-text('20.0 mm')")


def test_acts_wait_for_the_connection_and_arrive_once_in_order(page: Any, study: str) -> None:
    open_study(page, study)
    before = len(ask(page, f"/api/studies/{study}")["entries"])
    page.context.set_offline(True)
    page.keyboard.press("b")
    page.keyboard.press("1")
    page.wait_for_selector(".away:has-text('2 acts kept')")
    assert page.locator(".step.here .letter").inner_text() == "b"
    page.context.set_offline(False)
    all_sent(page)

    entries = ask(page, f"/api/studies/{study}")["entries"][before:]
    assert [each["action"] for each in entries] == ["place clip", "tick item"]


def test_the_summary_is_signed_first_and_the_letter_with_its_exercise(page: Any, study: str) -> None:
    open_study(page, study)
    page.keyboard.press("F8")
    page.wait_for_selector("main.letters iframe")
    at_rest(page, study)
    sign(page, "letter", "sign the letter")
    page.wait_for_selector(".paper .caution")
    assert "the summary is not signed yet" in page.locator(".paper .caution").inner_text()
    sign(page, "summary", "sign the summary")
    page.wait_for_selector(".signed")
    page.select_option(".exercise select", index=1)
    page.fill(".exercise input:not([type])", "the whole left atrium")
    page.press("[aria-label='Signature of the letter'] .sign", "Enter")
    page.wait_for_function("() => document.querySelectorAll('.signed').length === 2")

    documents = ask(page, f"/api/studies/{study}")["documents"]
    assert [each["kind"] for each in documents] == ["summary", "letter"]


def test_proposals_stay_hidden_until_the_mentor_has_judged(
    chromium: Any, tmp_path: Path, cache: Path, shared: Path, study_files: dict[str, Path]
) -> None:
    service = new_service(tmp_path, 1.0, cache)
    try:
        context = new_context(chromium, enter(chromium, service))
        page = context.new_page()
        page.goto(f"http://127.0.0.1:{service.port}/")
        files = dict([next(iter(study_files.items()))])
        open_study(page, keep(service.data, read_once(files, tmp_path / "house.toml", cache=cache, shared=shared)))
        page.wait_for_selector("form.blind")
        assert page.locator(".finding").count() == 0
        page.keyboard.press("+")

        page.wait_for_selector(".good-for dd")
        assert page.locator("form.blind").count() == 0
        context.close()
    finally:
        service.kill_all()
