"""Letter and summary: what the preview holds, what stands in the way of a signature, and what is frozen."""

from __future__ import annotations

import hashlib
from typing import Any

import httpx
import pytest

from fanlight.store import Store, documents_of, verify_store
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import MET, MISSED, draft, keep

EXERCISE = {
    "view": "right_parasternal_long_axis_four_chamber", "look_for": "the whole left atrium", "repetitions": 10,
    "due": "2026-12-24",
}  # fmt: skip


@pytest.fixture
def study(store: Store) -> str:
    return keep(store, draft())


def sign(browser: Browser, study: str, of: str, **more: Any) -> httpx.Response:
    body = {"id": new_id(), "author": "M. Linden", "kind": of, "exercise": None} | more
    return browser.post(f"/api/studies/{study}/sign", body)


def test_the_preview_holds_only_what_was_decided(browser: Browser, study: str) -> None:
    """It changes with each act, runs nothing, and says that it is a draft."""

    def letter() -> str:
        answer = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"})
        policy = answer.headers["content-security-policy"]
        assert "sandbox" in policy
        assert "script-src" not in policy
        return answer.text

    before = letter()
    assert "Draft, not signed" in before
    assert "What matters most" not in before
    assert "What is right" not in before

    browser.act(study, "accept findings", "clip02", criteria=[MISSED, MET])
    browser.act(study, "add finding", "clip01", finding="f", words="The <b>septum</b> bows.", phrase="")
    browser.act(study, "edit text", document="letter", part="opening", text="A good start & more.")
    after = letter()

    assert "What matters most" in after
    assert "clip 2" in after
    assert "Clip 1: The &lt;b&gt;septum&lt;/b&gt; bows." in after
    assert "A good start &amp; more." in after


def test_corrections_are_listed_as_the_letter_has_them(browser: Browser, study: str) -> None:
    """Undecided proposals are none; what was taken out stays in the list, so that it can come back."""

    def listed() -> list[tuple[str, bool, str]]:
        answer = browser.get(f"/api/studies/{study}/corrections").json()["corrections"]
        return [(item["criterion"], item["stands"], item["means"]) for item in answer]

    assert listed() == []
    browser.act(study, "accept findings", "clip02", criteria=[MISSED, MET])
    ((criterion, stands, drafted),) = listed()
    assert (criterion, stands) == (MISSED, True)

    browser.act(study, "edit text", document="letter", part=f"{MISSED}:low:means", text="Too dark to see a wall.")
    browser.act(study, "choose correction", criterion=MISSED, side="low", is_kept=False, reason="")

    assert listed() == [(MISSED, False, "Too dark to see a wall.")]
    item = browser.get(f"/api/studies/{study}/corrections").json()["corrections"][0]
    assert item["draft"]["means"] == drafted
    letter = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text
    assert "Too dark to see a wall." not in letter


def test_a_preview_may_be_scrolled_by_the_page_and_runs_nothing(browser: Browser, study: str) -> None:
    """The sandbox lets no script run; it only counts as the desk's own page. A signed paper does not even that."""
    browser.act(study, "accept finding", "clip02", criterion=MISSED)
    preview = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).headers["content-security-policy"]
    summary = sign(browser, study, "summary").json()["document"]
    paper = browser.get(f"/api/documents/{summary['id']}/summary.html").headers["content-security-policy"]

    assert "sandbox allow-same-origin;" in preview
    assert "sandbox;" in paper
    assert not [policy for policy in (preview, paper) if "script" in policy or "default-src 'none'" not in policy]


def test_summary_first_then_the_letter_with_its_exercise(browser: Browser, study: str, store: Store) -> None:
    """Frozen bytes keep their hash; what comes later is another version that replaces the first."""
    browser.act(study, "accept finding", "clip02", criterion=MISSED)
    early = sign(browser, study, "letter", exercise=EXERCISE)
    assert (early.status_code, early.json()["error"]["where"]) == (409, "summary")

    summary = sign(browser, study, "summary").json()["document"]
    bare = sign(browser, study, "letter")
    assert (bare.status_code, bare.json()["error"]["where"]) == (409, "exercise")
    key = new_id()
    letter = sign(browser, study, "letter", id=key, exercise=EXERCISE)
    again = sign(browser, study, "letter", id=key, exercise=EXERCISE)

    assert letter.status_code == 200, letter.text
    assert again.json() == letter.json()
    document = letter.json()["document"]
    assert [part["name"] for part in document["parts"]] == ["letter.pdf", "letter.html", "record.json"]
    for part in (*document["parts"], *summary["parts"]):
        paper = document if part in document["parts"] else summary
        got = browser.get(f"/api/documents/{paper['id']}/{part['name']}")
        assert hashlib.sha256(got.content).hexdigest() == part["sha256"]
        assert got.headers["content-type"].startswith(part["media_type"])
        if part["name"] == "letter.html":
            assert "Signed by M. Linden" in got.text
            assert "locally entered name, not authenticated" in got.text
            assert "10 times the view" in got.text
        if part["name"] == "letter.pdf":
            assert got.content.startswith(b"%PDF")
    blind = sign(browser, study, "letter", exercise=EXERCISE)
    assert blind.status_code == 409
    assert "version 1 of the letter stands already" in blind.json()["error"]["what"]
    assert "Load the study anew" in blind.json()["error"]["remedy"]
    seen = {"exercise": EXERCISE, "supersedes": document["id"]}
    addendum = sign(browser, study, "letter", **seen).json()["document"]
    assert (addendum["version"], addendum["supersedes"]) == (2, document["id"])
    assert len(documents_of(store, study)) == 3
    assert verify_store(store).damage == ()
    assert browser.get("/api/closed").json()["studies"][0]["id"] == study


def test_an_addendum_says_what_it_replaces_and_what_it_changed(browser: Browser, study: str) -> None:
    """And the version before stays readable, byte for byte."""
    browser.act(study, "accept finding", "clip02", criterion=MISSED)
    sign(browser, study, "summary")
    first = sign(browser, study, "letter", exercise=EXERCISE).json()["document"]
    before = browser.get(f"/api/documents/{first['id']}/letter.html").text
    same = sign(browser, study, "letter", exercise=EXERCISE, supersedes=first["id"]).json()["document"]
    browser.act(study, "add finding", "clip01", finding="f", words="The septum bows.", phrase="")
    browser.act(study, "edit text", document="letter", part="closing", text="Call me.")
    second = sign(
        browser, study, "letter", exercise=EXERCISE | {"repetitions": 20}, author="A. Other", supersedes=same["id"]
    ).json()["document"]

    unchanged = browser.get(f"/api/documents/{same['id']}/letter.html").text
    after = browser.get(f"/api/documents/{second['id']}/letter.html").text
    assert "Addendum" not in before
    assert "Nothing in its words has changed." in unchanged
    assert "Version 3; it replaces what M. Linden signed on" in after
    assert "Changed: from the mentor, next exercise, the closing words." in after
    assert "Signed by A. Other" in after
    assert browser.get(f"/api/documents/{first['id']}/letter.html").text == before


def test_excerpts_that_cannot_be_cut_are_named_in_the_letter(browser: Browser, study: str) -> None:
    """The clips of this study lie nowhere."""
    browser.act(study, "accept finding", "clip02", criterion=MISSED)
    preview = browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text
    sign(browser, study, "summary")
    letter = sign(browser, study, "letter", exercise=EXERCISE).json()["document"]

    signed = browser.get(f"/api/documents/{letter['id']}/letter.html").text
    assert "Will play in the signed letter: Overall gain (Clip 2, frames 1 to 24: one beat)" in preview
    assert "Moving excerpts left out" in signed
    assert "Clip 2, frame 13, overall gain: its frames cannot be decoded." in signed


def test_an_open_call_stops_the_signature(browser: Browser, study: str) -> None:
    """Until somebody was called, what was said is written down, and it was understood."""
    browser.act(study, "open call", call="k", finding="Much fluid around the heart")
    stopped = sign(browser, study, "summary")
    browser.act(study, "record call", call="k", whom="Dr Aster", called_at="2026-11-25T21:00:00+00:00", said="drain it")
    still = sign(browser, study, "summary")
    browser.act(study, "acknowledge call", call="k", by_whom="Dr Aster", words="at once")

    for answer in (stopped, still):
        assert answer.status_code == 409
        assert "Much fluid around the heart" in answer.json()["error"]["what"]
    assert sign(browser, study, "summary").status_code == 200


def test_two_animals_in_one_study_stop_the_signature(browser: Browser, store: Store) -> None:
    """A letter about the wrong animal is a clinical error: the error names what differs and in which files."""
    study = keep(store, draft(mismatches=("weight in kg: 4.1 in a.dcm, 12 in b.dcm",)))

    answer = sign(browser, study, "summary")

    assert answer.status_code == 409
    assert "4.1 in a.dcm, 12 in b.dcm" in answer.json()["error"]["what"]
    assert documents_of(store, study) == ()


@pytest.mark.parametrize(
    ("more", "status", "where"),
    [
        ({"author": "  "}, 409, "author"),
        ({"kind": "poem"}, 422, "kind"),
        ({"id": "1"}, 422, "id"),
        ({"kind": "summary", "exercise": EXERCISE | {"repetitions": 0}}, 422, "exercise"),
    ],
)
def test_a_signature_that_lacks_something_is_refused(
    browser: Browser, study: str, store: Store, more: dict[str, Any], status: int, where: str
) -> None:
    answer = sign(browser, study, "summary", **more)

    assert (answer.status_code, answer.json()["error"]["where"]) == (status, where)
    assert documents_of(store, study) == ()
