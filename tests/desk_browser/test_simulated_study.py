"""A simulated study at the desk: nobody is kept out, how it looks, and how many keys it takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.by_keyboard import Keyboard, decide_clips, say_something, sign_papers
from tests.desk_browser.conftest import (
    SCHEMES,
    all_sent,
    ask,
    at_rest,
    new_context,
    open_study,
    send,
    told_otherwise,
)


def test_nothing_keeps_anybody_out_of_the_list(at_desk: Any, chromium: Any, service: Service, scheme: str) -> None:
    """axe-core finds no violation at the entrance and in the list: filled, urgent, closed, empty."""
    page = at_desk
    found = {"waiting": violations(page)}
    page.click("text=show the closed ones")
    page.wait_for_selector("h1:has-text('Closed')")
    found["closed"] = violations(page)
    last: dict[str, Any] = {"study": "x", "signed_at": "2026-01-02T10:00:00Z", "exercise": None}
    last["corrections"] = [{"criterion": "depth_use", "title": "Use of the depth", "correction": "less depth"}]
    last["changes"] = []
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
    told_otherwise(page, f"**/api/studies/{simulated}", with_last_letter)
    page.reload()
    page.click(".top button:has-text('last letter: 3 points to say')")
    page.wait_for_selector(".panel.advice")
    found["advice"] = violations(page)
    page.keyboard.press("Escape")
    page.unroute(f"**/api/studies/{simulated}")
    told_otherwise(page, f"**/api/studies/{simulated}", with_all_blind)
    page.reload()
    page.wait_for_selector("form.blind")
    found["blind"] = violations(page)

    assert found == {place: [] for place in found}


def with_last_letter(said: dict[str, Any]) -> dict[str, Any]:
    correction = {"criterion": "depth_use", "side": "high", "title": "Use of the depth", "correction": "less depth"}
    exercise = {"view": said["plan"]["steps"][0]["view"], "look_for": "the whole atrium", "repetitions": 10}
    last = {"letter": "x", "study": "x", "signed_at": "2026-01-02T10:00:00Z", "animal": "Juno"}
    more = {"corrections": [correction], "exercise": exercise, "exercise_title": "long axis"}
    more["changes"] = [{"cause": "depth_large", "title": "depth too large", "correction": "less depth"}]
    return {**said, "last_letter": {**last, **more}}


def with_messages(said: dict[str, Any]) -> dict[str, Any]:
    one = {"id": "m1", "study": said["id"], "author": "M. Linden", "at": "2026-01-02T10:00:00Z", "answers": ""}
    asked = {**one, "kind": "request for more images", "words": "Less depth, please."}
    reply = {**one, "id": "m2", "kind": "reply", "words": "Tomorrow.", "answers": "m1"}
    return {**said, "messages": [asked, reply]}


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
    told_otherwise(page, f"**/api/studies/{simulated}", with_messages)
    page.reload()
    page.wait_for_selector(".thread li:has-text('Less depth, please.')")
    found["thread"] = violations(page)
    page.unroute(f"**/api/studies/{simulated}")
    page.keyboard.press("F8")
    page.wait_for_selector("main.study")
    page.keyboard.press("Backspace")
    all_sent(page)

    assert found == {place: [] for place in found}
    assert ask(page, f"/api/studies/{simulated}/state")["state"]["calls"] == []


def test_a_study_by_keyboard_alone(
    chromium: Any, service: Service, inside: Any, simulated_files: dict[str, Path], views: dict[int, str],
    valves: dict[int, str],
) -> None:  # fmt: skip
    """At most four keys place and keep a clip that is diagnostic; the whole, both signatures too, keeps to the measure.

    The measure is 250 keys for a study of about 40 clips: half of it here, for a study of eight.
    """
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    study = send(page, simulated_files)
    at_rest(page, study)
    open_study(page, study)
    hand = Keyboard(page)

    clips = decide_clips(hand, views, valves)
    say_something(hand)
    all_sent(page)
    at_rest(page, study)  # strips are measured anew when they are placed
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
    said = {clip["number"]: told["state"]["placements"][clip["key"]]["valve"] for clip in told["study"]["clips"]}
    assert {number: valve for number, valve in said.items() if valve} == valves
    findings = {(r["clip"]["key"], f["criterion"]) for r in told["readings"] for f in r["findings"]}
    findings |= {("", each["criterion"]) for each in told["review"]["study_findings"]}
    assert findings <= {(each["clip"], each["criterion"]) for each in told["state"]["decisions"]}
    assert [each["kind"] for each in told["documents"]] == ["summary", "letter"]
    assert told["state"]["exercise"]["look_for"] == "the whole left atrium"
