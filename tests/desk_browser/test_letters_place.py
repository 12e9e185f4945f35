"""The letters in a real browser: an urgent finding and its call, what stands in the way, versions and their hashes."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest

from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import all_sent, ask, new_context, open_study, sign, to_the_letters
from tests.desk_browser.read_once import Keep


@pytest.fixture
def letters(chromium: Any, service: Any, inside: Any, kept: Keep, study_files: dict[str, Path]) -> Any:
    """The letters of a study of their own, with one finding of the mentor's; the page and the study's id."""
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    study = kept(dict([next(iter(study_files.items()))]))
    open_study(page, study)
    to_the_letters(page, study, "Fluid around the heart.")
    yield page, study
    context.close()


def test_an_urgent_finding_is_called_before_anything_is_signed(letters: Any) -> None:
    """By keyboard: the finding opens the call; whom, when, what was said, and that it was understood."""
    page, study = letters
    page.press(".own-findings button[aria-label^='Urgent']", "Enter")
    page.wait_for_selector(".call.open")
    sign(page, "summary", "sign the summary")
    page.wait_for_selector(".asking .caution:has-text('waits for its call: Fluid around the heart')")

    page.focus(".call.open input >> nth=0")
    page.keyboard.type("Dr Aster")
    page.fill(".call.open input[type=datetime-local]", "2026-11-25T21:04")
    page.focus(".call.open input >> nth=2")
    page.keyboard.type("Drain it today.")
    page.keyboard.press("Enter")
    page.wait_for_selector(".call.open button:has-text('Dr Aster understood it')")
    page.fill(".call.open input >> nth=3", "At four.")
    page.press(".call.open button:has-text('understood it')", "Enter")
    page.wait_for_selector(".call.done:has-text('At four.')")
    all_sent(page)
    (call,) = ask(page, f"/api/studies/{study}/state")["state"]["calls"]
    local = page.evaluate("new Date('2026-11-25T21:04').getTime()")
    said = page.evaluate("at => new Date(at).getTime()", call["made"][0]["called_at"])

    assert (call["is_open"], call["made"][0]["whom"], call["made"][0]["said"]) == (False, "Dr Aster", "Drain it today.")
    assert said == local
    page.press("[aria-label='Signature of the summary'] .sign", "Enter")
    page.wait_for_selector("section[aria-label=Summary] .signed")


def test_the_keyboard_goes_on_from_where_the_form_stood(letters: Any) -> None:
    """WCAG 2.4.3: the form goes when it is answered; the focus would fall back to the top of the page."""
    page, _ = letters
    page.click("section.paper[aria-label=Letter] >> text=sign the letter")
    page.press("[aria-label='Signature of the letter'] button:has-text('not yet')", "Enter")
    page.wait_for_selector("section[aria-label=Letter] header .sign:focus")


def test_every_version_stays_below_its_paper_with_its_hash(letters: Any) -> None:
    """The bytes that are served have the hash shown; the thread tells of the addendum; the page keeps to WCAG."""
    page, _ = letters
    sign(page, "summary", "sign the summary")
    page.wait_for_selector("section[aria-label=Summary] .signed")
    page.fill("section[aria-label=Summary] textarea >> nth=1", "Call me at any hour.")
    page.press("section[aria-label=Summary] textarea >> nth=1", "Tab")
    sign(page, "summary", "sign an addendum")
    page.wait_for_selector("section[aria-label=Summary] .signed:has-text('version 2 of 2')")
    page.press("section[aria-label=Summary] .signed:focus", "Enter")  # the keyboard is where the form stood

    shown = page.locator("section[aria-label=Summary] .versions li")
    assert "stands" in shown.nth(0).inner_text()
    assert "replaced by version 2" in shown.nth(1).inner_text()
    hashes = page.locator("section[aria-label=Summary] .hash").all_inner_texts()
    links = page.locator("section[aria-label=Summary] .part a[download]")
    served = [page.request.get(page.evaluate("a => a.href", links.nth(n).element_handle())).body() for n in range(4)]
    assert [hashlib.sha256(data).hexdigest() for data in served] == hashes
    assert len(set(hashes)) == 4
    assert "Changed: the closing words." in served[1].decode()
    assert page.locator(".thread li:has-text('addendum to the summary, version 2')").count() == 1
    assert violations(page) == []


def test_a_preview_stays_where_it_was_scrolled_to(letters: Any) -> None:
    page, _ = letters
    frame = "section[aria-label=Summary] .living iframe:not(.to-come)"
    page.wait_for_function(
        "frame => document.querySelector(frame)?.contentDocument?.querySelector('footer')", arg=frame
    )
    page.evaluate("frame => document.querySelector(frame).contentWindow.scrollTo(0, 200)", frame)
    page.fill("section[aria-label=Summary] textarea >> nth=0", "A calm scan.")
    page.press("section[aria-label=Summary] textarea >> nth=0", "Tab")
    page.wait_for_function(
        "frame => document.querySelector(frame)?.contentDocument?.body?.innerText.includes('A calm scan.')", arg=frame
    )

    assert page.evaluate("frame => document.querySelector(frame).contentWindow.scrollY", frame) == 200


def lose_next_answer(page: Any, address: str) -> None:
    """The service hears the next request there, and the page never hears the answer."""

    def lose(route: Any) -> None:
        route.fetch()
        route.abort()

    page.route(address, lose, times=1)


def test_what_is_sent_again_after_a_lost_answer_counts_once(letters: Any) -> None:
    """A message of the thread, a signature; and what is typed of an exercise outlives a look at the study."""
    page, study = letters
    lose_next_answer(page, "**/messages")
    page.fill(".thread textarea", "Deeper, please.")
    page.press(".thread form >> nth=0 >> button", "Enter")
    page.wait_for_selector(".thread form .caution")
    page.press(".thread form >> nth=0 >> button", "Enter")
    page.wait_for_selector(".thread li:has-text('Deeper, please.')")
    lose_next_answer(page, "**/sign")
    sign(page, "summary", "sign the summary")
    page.wait_for_selector("[aria-label='Signature of the summary'] .caution")
    page.press("[aria-label='Signature of the summary'] .sign", "Enter")
    page.wait_for_selector(".told:has-text('The summary is signed.')")
    page.fill(".exercise input.mentor", "the whole left atrium")
    page.keyboard.press("F8")
    page.wait_for_selector("main.study")
    page.keyboard.press("F8")
    page.wait_for_selector("main.letters")
    assert page.input_value(".exercise input.mentor") == "the whole left atrium"
    page.select_option(".exercise select", index=1)
    all_sent(page)

    told = ask(page, f"/api/studies/{study}")
    assert [each["words"] for each in told["messages"]] == ["Deeper, please."]
    assert [(each["kind"], each["version"]) for each in told["documents"]] == [("summary", 1)]
    assert told["state"]["exercise"]["look_for"] == "the whole left atrium"
    assert page.locator(".usual-caution:has-text('licensed veterinarian')").count() == 1


def test_a_signature_on_an_older_version_is_refused_in_words(letters: Any) -> None:
    """Two pages: the second signs what the first never saw; the first is told, and may sign after it has."""
    page, study = letters
    page.click("section.paper[aria-label=Summary] >> text=sign the summary")
    page.wait_for_selector("[aria-label='Signature of the summary'] .sign")
    other = page.context.new_page()
    other.goto(page.url)
    other.wait_for_selector("main.letters iframe")
    sign(other, "summary", "sign the summary")
    other.wait_for_selector("section[aria-label=Summary] .signed")
    page.press("[aria-label='Signature of the summary'] .sign", "Enter")
    page.wait_for_selector("[aria-label='Signature of the summary'] .caution")
    assert len(ask(page, f"/api/studies/{study}")["documents"]) == 1
    page.press("[aria-label='Signature of the summary'] .sign", "Enter")

    page.wait_for_selector("section[aria-label=Summary] .signed:has-text('version 2 of 2')")
