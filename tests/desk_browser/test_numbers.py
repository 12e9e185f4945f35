"""Measurements on the desk: beside the strip that they were read off, and all of them in a panel."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.desk.test_strips_read import PEAK_CM_S, spectrum
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import all_sent, ask, at_rest, open_study, state_of, turn

VIEW = "right_parasternal_short_axis_pulmonary_artery"  # by pulsed wave it serves the pulmonic valve alone
SHEET = """
[request]
question = "A murmur."
question_key = "murmur"
training_level = "practice"

[animal]
species = "dog"
breed = "Beagle"
weight_kg = 12
age_years = 6

[[measurement]]
quantity = "lvidd"
value = 34.1
unit = "mm"
method = "M-mode"
file = "strip.dcm"

[[measurement]]
label = "Left ear"
value = 3
unit = "cm"
"""


@pytest.fixture(scope="module")
def study_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("strip")
    sheet = folder / "request.toml"
    sheet.write_text(SHEET, "utf-8")
    return {"strip.dcm": spectrum(folder / "strip.dcm"), "request.toml": sheet}


@pytest.fixture(scope="module")
def letter_of(study: str) -> Any:
    def letter(page: Any) -> str:
        steps = ask(page, f"/api/studies/{study}")["plan"]["steps"]
        return str(next(each["letter"] for each in steps if each["view"] == VIEW))

    return letter


def test_a_strip_has_its_numbers_once_it_is_placed_and_none_when_that_is_taken_back(
    page: Any, study: str, letter_of: Any
) -> None:
    open_study(page, study)
    page.wait_for_selector(".clip-numbers:has-text('Not measured: whose flow it is, is not known; name the valve.')")
    page.keyboard.press(letter_of(page))
    value = page.locator(".clip-numbers li", has_text="Pulmonary peak velocity").locator(".value")
    value.wait_for()

    found = re.match(r"([\d.]+) ± ([\d.]+) m/s$", value.inner_text())
    assert found
    assert float(found[1]) == pytest.approx(-PEAK_CM_S / 100, rel=0.05)
    page.keyboard.press("Backspace")
    page.wait_for_selector(".clip-numbers:has-text('name the valve')")
    all_sent(page)
    at_rest(page, study)


def test_the_panel_shows_what_was_given_and_what_was_read(page: Any, study: str, letter_of: Any) -> None:
    """With the interval, the reason and what is not judged; it opens in the letters too, and leads to the clip."""
    open_study(page, study)
    page.keyboard.press(letter_of(page))
    page.wait_for_selector(".clip-numbers li")
    page.click(".top button:has-text('measurements')")
    panel = page.locator(".panel.numbers")
    given = panel.locator("section[aria-label='Given with the study']")
    read = panel.locator("section[aria-label='Measured by the engine']")

    assert "34.1 mm" in given.locator("tr", has_text="LVIDd").first.inner_text()
    assert given.locator("tr", has_text="LVIDd").first.locator("svg.interval").count() > 0
    assert "the tables have no quantity of this name" in given.locator("tr", has_text="Left ear").inner_text()
    assert "pulsed-wave Doppler · pulmonic valve" in read.inner_text()
    assert "note below" in read.locator("tr", has_text="Pulmonary peak velocity").inner_text()
    assert "Not judged: " in read.locator("tr.note").first.inner_text()
    assert "enters no summary" in panel.locator(".caution").inner_text()
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []
    page.keyboard.press("Escape")
    assert panel.count() == 0

    all_sent(page)
    page.keyboard.press("F8")
    page.wait_for_selector("main.letters iframe")
    summary = page.frame_locator("iframe[title='Preview of the summary']").locator("body")
    summary.locator("text=The engine measured numbers too").wait_for()
    assert "Pulmonary peak velocity" not in summary.inner_text()  # no table bears it out
    page.click(".top button:has-text('measurements')")
    read.locator("button", has_text="clip 1").click()
    page.wait_for_selector(".stage-head h2:text-is('clip 1')")
    assert panel.count() == 0
    at_rest(page, study)


def test_what_stages_wait_for_is_named_in_the_panel(page: Any, study: str) -> None:
    """By keys and by pointer, and taken back by keys; past failure is stage C whatever the sizes (KEENE2019)."""
    open_study(page, study)
    page.click(".top button:has-text('measurements')")
    form = page.locator(".panel.numbers section.named")
    assert "until you name: lesion, heart failure, treatment" in form.inner_text()
    form.locator("label:has-text('myxomatous mitral valve disease') input").focus()
    page.keyboard.press("Space")
    page.wait_for_selector(".named :text('until you name: heart failure, treatment')")
    form.locator("label:has-text('in the past') input").check()
    form.locator("input.mentor").fill("none")
    page.keyboard.press("Tab")
    stage = page.locator(".together li", has_text="stage C")
    stage.wait_for()
    assert "A stage is the veterinarian's" in stage.inner_text()
    assert "until you name" not in form.inner_text()
    form.locator("summary").click()
    form.locator(".sign select").first.select_option("not there")
    page.wait_for_selector(".named summary:has-text('1 sign said')")
    for _ in ("light", "dim"):
        turn(page)
        assert violations(page) == []
    named = state_of(page, study)["named"]
    assert named["lesions"] == ["myxomatous_mitral_valve_disease"]
    assert (named["failure"], named["treatment"]) == ("past", "none")
    assert len(named["signs_absent"]) == 1

    page.keyboard.press("Escape")
    for _ in range(4):
        page.keyboard.press("Backspace")
    assert state_of(page, study)["named"] is None
