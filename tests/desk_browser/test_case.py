"""A case over time: images are asked for again, the re-scan comes, both stand side by side, the study is closed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.desk_browser.conftest import MENTOR, all_sent, ask, at_rest, open_study, send

ASKED = "The same again, with less depth."


def test_a_rescan_answers_its_request_and_stands_beside_the_first(page: Any, study_files: dict[str, Path]) -> None:
    first = send(page, study_files)
    open_study(page, first)
    page.keyboard.press("a")
    page.wait_for_selector(".step.here .tile[aria-current]")
    all_sent(page)
    page.keyboard.press("F8")
    page.fill(".thread textarea", ASKED)
    page.click(".thread button:has-text('put it on the thread')")
    page.wait_for_selector(".thread .links strong:has-text('waits for a re-scan')")
    page.evaluate("location.hash = '#/'")
    page.wait_for_selector(f".line .waits:has-text('{ASKED}')")

    page.select_option(".drop select", first)
    page.set_input_files(".drop input >> nth=0", [str(path) for path in study_files.values()])
    page.wait_for_selector(".intake:has-text('re-scan') a")
    again = str(page.get_attribute(".intake:has-text('re-scan') a", "href")).rsplit("/", 1)[-1]
    page.wait_for_selector(f'.line:has(a[href="#/study/{again}"]) .state:text("read 3 of 3")')
    # the first study's line is told by an event of its own; other studies of this service may wait for theirs
    line = f'.line:has(> a[href="#/study/{first}"])'
    page.wait_for_selector(f"{line} .waits", state="detached")
    assert page.locator(line).count() == 1
    messages = ask(page, f"/api/studies/{first}")["messages"]
    assert [(each["kind"], each["author"]) for each in messages] == [
        ("request for more images", MENTOR), ("re-scan sent", "Fanlight")
    ]  # fmt: skip
    assert (messages[1]["study"], messages[1]["answers"]) == (again, messages[0]["id"])

    open_study(page, again)
    page.keyboard.press("a")
    page.wait_for_selector(".step.here .tile[aria-current]")
    all_sent(page)
    page.keyboard.press("F4")
    page.wait_for_function("() => document.querySelectorAll('.picture canvas[data-frame]').length === 2")
    captions = page.locator("figure.beside figcaption").all_inner_texts()
    assert captions[0].startswith("this study, ")
    assert "each at its own speed" in captions[1]  # speckle has no beats to hold on to
    page.keyboard.press("Space")
    frames = "() => [...document.querySelectorAll('.picture canvas')].map((each) => Number(each.dataset.frame))"
    before = page.evaluate(frames)
    for _ in range(50):  # 10 s
        now = page.evaluate(f"() => new Promise((done) => setTimeout(() => done(({frames})()), 200))")
        if now == before:
            break
        before = now  # the last picture that was asked for before the key is still drawn
    else:
        pytest.fail("the pictures do not stand still after the key")
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"next => String(({frames})()) === next", arg=",".join(str((n + 1) % 50) for n in before))
    page.keyboard.press("F4")
    page.wait_for_function("() => document.querySelectorAll('.picture canvas').length === 1")


def test_a_study_is_closed_by_hand_and_opened_again(page: Any, study_files: dict[str, Path]) -> None:
    study = send(page, study_files)
    open_study(page, study)
    at_rest(page, study)
    page.keyboard.press("F8")
    page.click(".closing summary")
    page.fill(".closing input", "sent twice")
    page.click(".closing button")
    page.wait_for_selector(".closing h2:has-text('Closed')")
    all_sent(page)
    assert study in [each["id"] for each in ask(page, "/api/closed")["studies"]]

    page.click(".closing button")
    page.wait_for_selector(".closing h2:has-text('Waiting')")
    all_sent(page)
    assert study in [each["id"] for each in ask(page, "/api/waiting")["studies"]]
