"""One study over the wire: what a page gets, and what it does."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest

from fanlight.desk import Desk
from fanlight.desk.blind import hidden_clips, is_drawn
from fanlight.desk.hub import ALL, Hub
from fanlight.review.events import ClipFinished, ReviewFinished, StudyAssembled
from fanlight.store import (
    DamagedError,
    LockedError,
    NoRoomError,
    Store,
    StoreError,
    add_study,
    entries_of,
    record_event,
)
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import MET, MISSED, draft, house_rows, keep


@pytest.fixture
def study(store: Store) -> str:
    return keep(store, draft())


def test_the_page_holds_what_it_shows(browser: Browser, study: str) -> None:
    """Study, files, readings, what is decided, and the words to show it with; as the contract in docs/desk.md says."""
    page = browser.get(f"/api/studies/{study}").json()

    assert [item["number"] for item in page["study"]["clips"]] == [1, 2, 3, 4, 5, 6]
    assert page["engine"] == {"state": "idle", "error": None}
    assert [item["clip"]["number"] for item in page["readings"]] == [1, 2, 3, 4, 5, 6]
    for item in page["readings"]:
        assert bool(item["findings"]) is (item["clip"]["key"] not in page["blind"])
    steps = page["plan"]["steps"]
    assert [step["letter"] for step in steps] == [chr(97 + k) for k in range(len(steps))]
    assert all(step["must_show"] for step in steps)
    assert {finding["criterion"] for item in page["readings"] for finding in item["findings"]} <= set(page["criteria"])
    assert page["phrases"]
    assert (page["entries"], page["last_entry"], page["next_undo"]) == ([], "", "")
    assert page["review"]["coverage"]["unplaced"]


def test_a_page_works_out_once_which_clips_are_hidden(
    browser: Browser, study: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def counted(*asked: Any) -> frozenset[str]:
        calls.append(asked)
        return hidden_clips(*asked)

    monkeypatch.setattr("fanlight.desk.blind.hidden_clips", counted)

    assert browser.get(f"/api/studies/{study}").json()["blind"] == sorted(hidden_clips(*calls[0]))
    assert len(calls) == 1


def test_one_clip_is_what_it_is_on_the_page(browser: Browser, study: str) -> None:
    """The page has of each clip what path and list need, the clip has all of it; hidden there, hidden here."""
    page = browser.get(f"/api/studies/{study}").json()

    for item in page["readings"]:
        whole = browser.get(f"/api/studies/{study}/clips/{item['clip']['key']}").json()
        assert whole["mode"] == item["mode"]
        shown = [{key: found[key] for key in ("clip", "criterion", "verdict")} for found in whole["findings"]]
        assert shown == item["findings"]
        assert {"layout", "time", "verdicts", "frames_read"} <= set(whole)


def test_an_act_is_kept_once_however_often_it_is_sent(browser: Browser, study: str, store: Store) -> None:
    """A page that did not hear the answer sends the same again and gets the same answer."""
    key = new_id()
    view = "right_parasternal_long_axis_four_chamber"
    first = browser.act(study, "place clip", "clip01", key, view=view, valve=None)
    again = browser.act(study, "place clip", "clip01", key, view=view, valve=None)
    other = browser.act(study, "take clip out", "clip01", key)

    assert again.json() == first.json()
    assert len(entries_of(store, study)) == 1
    assert other.status_code == 409
    assert first.json()["review"]["views"]["clip01"]["view"] == view


def test_the_phrase_bank_grows_with_use(browser: Browser, study: str, store: Store) -> None:
    """Own words are offered again in the next study, the most used first; phrases of the house are counted."""
    key = browser.get(f"/api/studies/{study}").json()["phrases"][0]["key"]
    for finding, words, phrase in (
        ("a", "Seen once.", ""), ("b", "Seen twice.", "own-1"), ("c", "Seen twise.", ""), ("c", "Seen twice.", ""),
        ("d", "as the house says", key),
    ):  # fmt: skip
        assert (
            browser.act(study, "add finding", "clip01", finding=finding, words=words, phrase=phrase).status_code == 200
        )

    bank = browser.get(f"/api/studies/{keep(store, draft())}").json()["phrases"]

    assert [(item["words"], item["n_used"]) for item in bank if item["about"] == "own words"] == [
        ("Seen twice.", 2),
        ("Seen once.", 1),
    ]
    assert (bank[0]["key"], bank[0]["n_used"]) == (key, 1)
    assert len({item["key"] for item in bank}) == len(bank)


def test_phrases_that_touch_the_animal_are_offered_only_when_breathing_is_normal(browser: Browser, study: str) -> None:
    """The rule of all advice (tests/reference/test_handling.py); which phrase is handling was read by a person."""
    bank = browser.get(f"/api/studies/{study}").json()["phrases"]
    withheld = {item["key"]: set(item["withheld_when"]) for item in bank if item["withheld_when"]}

    assert {key for key, when in withheld.items() if when == {"not_stated", "laboured", "distressed"}} == {
        "too_little_contact", "ecg_on", "align_beam",
    }  # fmt: skip
    assert {key for key, when in withheld.items() if when == {"laboured", "distressed"}} == {"whole_chamber"}
    assert len(withheld) == 4


def test_undo_takes_back_and_redo_brings_back(browser: Browser, study: str) -> None:
    """Each answer names what the next undo and redo mean."""
    browser.act(study, "accept findings", "clip01", criteria=[MISSED])
    done = browser.act(study, "accept finding", "clip02", criterion=MISSED).json()
    assert done["next_undo"] == done["entry"]["id"]

    body = {"id": new_id(), "author": "M. Linden", "entry": done["next_undo"]}
    undone = browser.post(f"/api/studies/{study}/undo", body).json()
    assert [item["clip"] for item in undone["state"]["decisions"]] == ["clip01"]
    assert browser.post(f"/api/studies/{study}/undo", body).json() == undone

    redone = browser.post(f"/api/studies/{study}/undo", {**body, "id": new_id(), "entry": undone["next_redo"]}).json()
    assert redone["state"] == done["state"]
    assert browser.get(f"/api/studies/{study}/state").json()["state"] == done["state"]


@pytest.mark.parametrize(
    ("action", "clip", "payload", "status"),
    [
        ("accept finding", "clip01", {"criterion": "no such criterion"}, 409),
        ("accept finding", "clip99", {"criterion": MET}, 409),
        ("accept finding", "clip01", {}, 422),
        ("overrule finding", "clip01", {"criterion": MISSED, "verdict": "fine", "reason": "x"}, 422),
        ("overrule finding", "clip01", {"criterion": MISSED, "verdict": "met", "reason": " "}, 422),
        ("dance", "clip01", {}, 422),
        ("sign", "", {"document": "letter", "document_id": "x", "version": 1, "sha256": "x"}, 409),
        ("tick item", "clip01", {"requirement": "must show", "item": "x", "is_shown": "yes"}, 422),
    ],
)
def test_an_act_that_does_not_fit_is_refused(
    browser: Browser, study: str, store: Store, action: str, clip: str, payload: dict[str, Any], status: int
) -> None:
    """Nothing of it is kept, and the answer says what to do."""
    answer = browser.act(study, action, clip, **payload)

    assert answer.status_code == status, answer.text
    assert answer.json()["error"]["remedy"]
    assert entries_of(store, study) == ()


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (LockedError("db", "another program has been writing", "Try again."), 503),
        (NoRoomError("db", "no room is left on the disk", "Free some space."), 507),
        (DamagedError("db", "the database is damaged", "Restore the newest export."), 500),
    ],
)
def test_what_the_store_cannot_do_is_told_in_its_words(
    browser: Browser, study: str, monkeypatch: pytest.MonkeyPatch, error: StoreError, status: int
) -> None:
    """The page knows by the number whether it may send the act again."""

    def cannot(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr("fanlight.desk.study_api.add_entry", cannot)
    answer = browser.act(study, "take clip out", "clip01")

    assert answer.status_code == status
    assert answer.json()["error"] == {"what": error.found, "where": error.where, "remedy": error.remedy}


def test_an_act_needs_a_name(browser: Browser, study: str) -> None:
    act = {"id": new_id(), "author": " ", "clip": "clip01", "action": "take clip out"}
    answer = browser.post(f"/api/studies/{study}/entries", act)

    assert answer.status_code == 422
    assert "name" in answer.json()["error"]["what"]


@pytest.mark.parametrize("path", ["", "/state", "/clips/clip01", "/letter", "/clips/clip01/frames"])
def test_a_study_that_is_not_there_is_named(browser: Browser, path: str) -> None:
    answer = browser.get(f"/api/studies/{new_id()}{path}")

    assert answer.status_code in (404, 409)
    assert answer.json()["error"]["remedy"]


def test_the_list_says_who_called_it_urgent(browser: Browser, store: Store) -> None:
    """Urgent first, then by age; the small path stands beside each."""
    keep(store, draft(), "first")
    second = keep(store, draft(), "second")
    browser.act(second, "flag urgency", is_urgent=True, said_by="mentor", reason="fluid")

    studies = browser.get("/api/waiting").json()["studies"]

    assert [(item["title"], item["state"]) for item in studies] == [("second", "ready"), ("first", "ready")]
    assert studies[0]["urgent"] == {"by": "mentor", "words": "fluid"}
    assert studies[1]["urgent"] is None
    assert (studies[0]["animal"], studies[0]["species"], studies[0]["n_read"]) == ("Juniper", "dog", 6)
    assert {state for step in studies[0]["path"] for _, state in step["states"]} >= {"asked for and missing"}
    assert browser.get("/api/waiting", params={"after": "nonsense"}).status_code == 422


async def _take(lines: AsyncIterator[str], n: int) -> list[str]:
    return [await anext(lines) for _ in range(n)]


def test_a_page_that_comes_back_hears_what_it_missed() -> None:
    """By the id of the last thing it heard; passing things are not repeated, other studies not heard."""

    async def story() -> tuple[list[str], list[str]]:
        hub = Hub()
        seen = hub.last_id()
        lines = hub.listen("s", seen)
        hello = await anext(lines)
        hub.publish("s", "clip", {"clip": "a"})
        hub.publish("t", "clip", {"clip": "x"})
        hub.publish("s", "progress", {"done": 1}, is_kept=False)
        heard = [hello, *await _take(lines, 2)]
        await lines.aclose()  # type: ignore[attr-defined]
        hub.publish("s", "entry", {"id": "1"})
        last = heard[1].split("\n")[0].removeprefix("id: ")
        back = hub.listen("s", last)
        return heard, await _take(back, 2)

    heard, missed = asyncio.run(story())

    assert "event: hello" in heard[0]
    assert "event: clip" in heard[1]
    assert "event: progress" in heard[2]
    assert "id: " not in heard[2]
    assert "event: hello" in missed[0]
    assert "event: entry" in missed[1]


def test_a_page_that_missed_too_much_loads_anew() -> None:
    """After a restart of the service, or when more happened than is remembered."""

    async def first_line(after: str, n: int) -> str:
        hub = Hub()
        start = hub.last_id()
        for k in range(n):
            hub.publish("s", "clip", {"k": k})
        return await anext(hub.listen("s", after or start))

    assert "event: reset" in asyncio.run(first_line("0ld-12", 1))
    assert "event: reset" in asyncio.run(first_line("", 501))
    assert "event: hello" in asyncio.run(first_line("", 500))


def test_a_page_whose_study_was_forgotten_in_between_loads_anew() -> None:
    """A hundred other studies came between what it heard and what is kept; one that missed nothing goes on."""

    async def first_lines() -> list[str]:
        hub = Hub()
        hub.publish("s", "clip", {"k": 0})
        seen = hub.last_id()
        hub.publish("s", "clip", {"k": 1})  # missed
        for k in range(100):
            hub.publish(f"other {k}", "clip", {})
        gone = await anext(hub.listen("s", seen))
        late = hub.last_id()
        hub.publish("s", "clip", {"k": 2})
        return [gone, await anext(hub.listen("s", seen)), await anext(hub.listen("s", late))]

    gone, again, whole = asyncio.run(first_lines())

    assert "event: reset" in gone
    assert "event: reset" in again
    assert "event: hello" in whole


def test_acts_are_told_to_the_other_tabs(desk: Desk, browser: Browser, study: str) -> None:
    """Both at the study and, where it moves in the list, there."""
    start = desk.hub.last_id()
    browser.act(study, "flag urgency", is_urgent=True, said_by="practice", reason="")

    async def heard(channel: str) -> list[str]:
        return await _take(desk.hub.listen(channel, start), 2)

    assert json.loads(asyncio.run(heard(study))[1].split("data: ")[1])["action"] == "flag urgency"
    assert "event: study" in asyncio.run(heard(ALL))[1]


@pytest.fixture
def blind(store: Store) -> tuple[str, str]:
    """A study, and a clip of it that is judged before its proposals are shown."""
    while True:
        study = add_study(store, new_id(), title="Juniper").id
        if is_drawn(study, "clip01", 0.1):
            break
    review, house = draft(), house_rows().fingerprint()
    record_event(store, study, StudyAssembled(study=review.study), house=house)
    for item in review.readings:
        record_event(store, study, ClipFinished(reading=item, from_cache=False), house=house)
    record_event(store, study, ReviewFinished(review=review), house=house)
    return study, "clip01"


def test_a_hidden_proposal_cannot_be_decided(browser: Browser, blind: tuple[str, str], store: Store) -> None:
    """A page that is out of date, or a slip: what nobody saw is neither kept nor overruled."""
    study, clip = blind
    refused = [
        browser.act(study, "accept finding", clip, criterion=MISSED),
        browser.act(study, "accept findings", clip, criteria=[MISSED]),
        browser.act(study, "overrule finding", clip, criterion=MISSED, verdict="met", reason="seen"),
    ]
    assert [item.status_code for item in refused] == [409] * 3
    assert "Judge the clip first" in refused[0].json()["error"]["remedy"]
    assert entries_of(store, study) == ()

    browser.act(study, "judge blind", clip, view="", verdicts=[], words="")
    assert browser.act(study, "accept finding", clip, criterion=MISSED).status_code == 200


def test_only_the_first_judgement_of_a_clip_is_blind(browser: Browser, blind: tuple[str, str], store: Store) -> None:
    """Taking it back does not make the proposals unseen: the clip stays shown, and no second judgement is taken."""
    study, clip = blind
    key = new_id()
    first = browser.act(study, "judge blind", clip, key, view="", verdicts=[], words="").json()
    assert clip not in first["blind"]
    body = {"id": new_id(), "author": "M. Linden", "entry": first["next_undo"]}
    undone = browser.post(f"/api/studies/{study}/undo", body).json()
    again = browser.act(study, "judge blind", clip, view="", verdicts=[], words="")
    other = browser.act(study, "judge blind", "clip02" if "clip02" not in undone["blind"] else "none", view="",
                        verdicts=[], words="")  # fmt: skip

    assert (undone["state"]["blind"], clip in undone["blind"]) == ({}, False)
    assert browser.get(f"/api/studies/{study}/clips/{clip}").json()["findings"]
    assert (again.status_code, other.status_code) == (409, 409)
    assert "no judgement of it is blind" in again.json()["error"]["what"]
    assert browser.act(study, "judge blind", clip, key, view="", verdicts=[], words="").status_code == 200
    assert len(entries_of(store, study)) == 2
