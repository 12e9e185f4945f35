"""A simulated study at the desk: nobody is kept out, how it looks, and how many keys it takes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.desk_browser.axe import violations
from tests.desk_browser.by_keyboard import Keyboard, decide_clips, say_something, sign_papers
from tests.desk_browser.conftest import SIZE, Service, all_sent, ask, at_rest, new_context, open_study, send

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "docs" / "images" / "desk"
MOST_BYTES = 300_000
SCHEMES = {"light": "light", "dim": "dark"}  # what the desk calls it, what a browser calls it


@pytest.fixture(scope="module")
def views(simulated_files: dict[str, Path]) -> dict[int, str]:
    """Number of each clip to the view that it shows, as the simulator knows it."""
    truth = simulated_files["request.toml"].parent.parent / "truth"
    names = [name for name in sorted(simulated_files) if name.endswith(".dcm")]
    known = [json.loads((truth / name).with_suffix(".json").read_text("utf-8")) for name in names]
    return {n: each["view"] for n, each in enumerate(known, start=1)}


@pytest.fixture(params=SCHEMES)
def scheme(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def at_desk(chromium: Any, service: Service, inside: Any, simulated: str, scheme: str) -> Iterator[Any]:
    """A page at the waiting studies, light or dim, while a simulated study waits."""
    context = new_context(chromium, inside, color_scheme=SCHEMES[scheme], reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    page.wait_for_selector(".line a")
    yield page
    context.close()


def told_otherwise(page: Any, address: str, change: Any) -> None:
    """Let an answer of the service reach the page changed: a state that would take long to come to."""

    def answer(route: Any) -> None:
        said = route.fetch()
        route.fulfill(response=said, json=change(said.json()))

    page.route(address, answer)


def test_nothing_keeps_anybody_out_of_the_list(at_desk: Any, chromium: Any, service: Service, scheme: str) -> None:
    """axe-core finds no violation at the entrance and in the list: filled, urgent, closed, empty."""
    page = at_desk
    found = {"waiting": violations(page)}
    page.click("text=show the closed ones")
    page.wait_for_selector("h1:has-text('Closed')")
    found["closed"] = violations(page)
    last: dict[str, Any] = {"study": "x", "signed_at": "2026-01-02T10:00:00Z", "exercise": None}
    last["corrections"] = [{"criterion": "depth_use", "title": "Use of the depth", "correction": "less depth"}]
    urgent = {"urgent": {"by": "practice", "words": "breathes fast"}, "last_letter": last}
    told_otherwise(
        page, "**/api/waiting*", lambda said: {**said, "studies": [{**e, **urgent} for e in said["studies"]]}
    )
    page.reload()
    page.wait_for_selector(".line.urgent")
    found["urgent"] = violations(page)
    page.unroute("**/api/waiting*")
    told_otherwise(page, "**/api/waiting*", lambda said: {**said, "studies": [], "n_all": 0})
    page.reload()
    page.wait_for_selector(".empty")
    found["empty"] = violations(page)
    context = new_context(chromium, color_scheme=SCHEMES[scheme])
    outside = context.new_page()
    outside.goto(f"http://127.0.0.1:{service.port}/")
    outside.wait_for_selector("h1")
    found["entrance"] = violations(outside)
    context.close()

    assert found == {place: [] for place in found}


def test_nothing_keeps_anybody_out_of_a_study(at_desk: Any, simulated: str) -> None:
    """axe-core finds no violation in the study: findings, what opens over them, marks, a clip that is judged blind."""
    page = at_desk
    open_study(page, simulated)
    page.wait_for_selector(".finding")
    found = {"study": violations(page)}
    opening = {
        "overrule": (".", "-", "form.overrule"),
        "phrases": ("/", "#phrases"),
        "marks": ("F2", ".marks-panel"),
        "help": ("?", "dialog[open]"),
    }
    for state, (*keys, shown) in opening.items():
        for key in keys:
            page.keyboard.press(key)
        page.wait_for_selector(shown)
        found[state] = violations(page)
        page.keyboard.press("Escape")
        page.wait_for_selector(shown, state="detached")
    for button, shown in (("request sheet", ".panel.sheet"), ("files", ".panel")):
        page.locator(".top button", has_text=button).click()
        page.wait_for_selector(shown)
        found[button] = violations(page)
        page.keyboard.press("Escape")
        page.wait_for_selector(shown, state="detached")
    told_otherwise(page, f"**/api/studies/{simulated}", with_all_blind)
    page.reload()
    page.wait_for_selector("form.blind")
    found["blind"] = violations(page)

    assert found == {place: [] for place in found}


def with_all_blind(said: dict[str, Any]) -> dict[str, Any]:
    bare = [{**each, "findings": [], "verdicts": []} for each in said["readings"]]
    return {**said, "blind": [each["clip"]["key"] for each in said["readings"]], "readings": bare}


def test_nothing_keeps_anybody_out_of_the_letters(at_desk: Any, simulated: str) -> None:
    """axe-core finds no violation where letters are made: previews, the question before a signature, an open call."""
    page = at_desk
    open_study(page, simulated)
    page.keyboard.press("F8")
    page.wait_for_selector("main.letters iframe")
    at_rest(page, simulated)
    found = {"letters": violations(page)}
    page.click("text=sign the summary")
    page.wait_for_selector("[aria-label='Signature of the summary'] .sign")
    found["signing"] = violations(page)
    page.click("text=not yet")
    page.fill(".calls form:last-of-type input", "fluid in the chest")
    page.keyboard.press("Enter")
    page.wait_for_selector(".call.open")
    found["call"] = violations(page)
    page.keyboard.press("F8")
    page.wait_for_selector("main.study")
    page.keyboard.press("Backspace")
    all_sent(page)

    assert found == {place: [] for place in found}
    assert ask(page, f"/api/studies/{simulated}/state")["state"]["calls"] == []


def test_pictures_of_each_place(
    at_desk: Any, simulated: str, scheme: str, pytestconfig: pytest.Config, tmp_path: Path
) -> None:
    """For the documentation: with --write-pictures they become docs/images/desk/. They show something, at true size."""
    page = at_desk
    folder = PICTURES if pytestconfig.getoption("--write-pictures", default=False) else tmp_path
    folder.mkdir(parents=True, exist_ok=True)
    shown = {}
    page.wait_for_selector(".line .fans svg")
    shown["waiting"] = page.screenshot()
    open_study(page, simulated)
    page.keyboard.press("ArrowDown")
    page.wait_for_selector(".stage-head h2:has-text('clip 2')")
    page.keyboard.press("Space")
    page.wait_for_selector(".finding.chosen")
    page.wait_for_function("() => Number(document.querySelector('.picture canvas').dataset.frame) >= 0")
    page.wait_for_timeout(300)
    shown["study"] = page.screenshot()
    page.keyboard.press("F8")
    for kind in ("summary", "letter"):
        page.frame_locator(f"iframe[title='Preview of the {kind}']").locator("h1").first.wait_for()
    page.wait_for_timeout(300)
    shown["letters"] = page.screenshot()

    for place, png in shown.items():
        path = folder / f"{place}-{scheme}.png"
        picture = Image.open(BytesIO(png)).convert("RGB")
        few = picture.quantize(256, dither=Image.Dither.NONE)
        few.save(path, optimize=True)
        grey = np.asarray(picture.convert("L"), float)
        assert picture.size == (SIZE["width"], SIZE["height"])
        assert grey.std() > 10, f"{path.name} is blank"
        assert (grey.mean() > 128) == (scheme == "light" and place != "study") or place == "study"
        assert path.stat().st_size <= MOST_BYTES


def test_a_study_by_keyboard_alone(
    chromium: Any, service: Service, inside: Any, simulated_files: dict[str, Path], views: dict[int, str]
) -> None:
    """At most four keys place and keep a clip that is diagnostic; the whole, both signatures too, keeps to the measure.

    The measure is 250 keys for a study of about 40 clips: half of it here, for a study of five.
    """
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    study = send(page, simulated_files)
    at_rest(page, study)
    open_study(page, study)
    hand = Keyboard(page)

    clips = decide_clips(hand, views)
    say_something(hand)
    sign_papers(hand, "the whole left atrium")

    told = ask(page, f"/api/studies/{study}")
    context.close()
    assert len(clips) == len(views)
    assert [clip for clip in clips if clip.is_diagnostic]
    assert [clip for clip in clips if clip.is_diagnostic and clip.keys > 4] == []
    assert hand.n <= 125, hand.by_part
    assert {key: each["view"] for key, each in told["state"]["placements"].items()} == {
        clip["key"]: views[clip["number"]] for clip in told["study"]["clips"]
    }
    findings = {(r["clip"]["key"], f["criterion"]) for r in told["readings"] for f in r["findings"]}
    findings |= {("", each["criterion"]) for each in told["review"]["study_findings"]}
    assert findings <= {(each["clip"], each["criterion"]) for each in told["state"]["decisions"]}
    assert [each["kind"] for each in told["documents"]] == ["summary", "letter"]
    assert told["state"]["exercise"]["look_for"] == "the whole left atrium"
