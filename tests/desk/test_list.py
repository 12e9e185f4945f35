"""The list of studies: the mentor's path, what the last letter asked for, re-scans, what is closed."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fanlight.desk import Desk
from fanlight.review.events import StudyAssembled
from fanlight.store import Store, record_event
from fanlight.study import StudyReview
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import MET, MISSED, draft, house_rows, keep

VIEW = "right_parasternal_long_axis_four_chamber"
EXERCISE = {"view": VIEW, "look_for": "the whole left atrium", "repetitions": 10, "due": None}


def trained() -> StudyReview:
    review = draft()
    request = replace(review.study.request, trainee="T. Rowan")
    return replace(review, study=replace(review.study, request=request))


def line(browser: Browser, study: str, of: str = "waiting") -> Any:
    return next(item for item in browser.get(f"/api/{of}").json()["studies"] if item["id"] == study)


def until(found: Callable[[], Any]) -> Any:
    """What is worked out beside the requests is there soon."""
    end = time.monotonic() + 20
    while not (value := found()):
        assert time.monotonic() < end
        time.sleep(0.02)
    return value


def clips_in(item: Any, view: str) -> int:
    return sum(step["n_clips"] for step in item["path"] if step["view"] == view)


def test_the_small_path_shows_what_the_mentor_placed(browser: Browser, store: Store) -> None:
    """As the page of the study has it, and no other."""
    study = keep(store, draft())
    before = clips_in(line(browser, study), VIEW)
    loose = browser.get(f"/api/studies/{study}").json()["review"]["coverage"]["unplaced"]
    placed = browser.act(study, "place clip", loose[0], view=VIEW, valve=None).json()

    assert until(lambda: clips_in(line(browser, study), VIEW) == before + 1)
    item = line(browser, study)
    coverage = placed["review"]["coverage"]
    assert [(step["view"], step["states"], step["n_clips"]) for step in item["path"]] == [
        (step["view"], step["states"], len(step["clips"])) for step in coverage["steps"]
    ]
    assert item["n_unplaced"] == len(coverage["unplaced"])

    browser.post(f"/api/studies/{study}/undo", {"id": new_id(), "author": "M", "entry": placed["next_undo"]})
    assert until(lambda: clips_in(line(browser, study), VIEW) == before)


def test_a_list_that_nothing_changed_works_nothing_out(
    desk: Desk, browser: Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = keep(store, draft())
    browser.act(study, "take clip out", "clip01")
    line(browser, study)
    until(lambda: not desk.later.is_busy())
    wanted: list[Any] = []
    monkeypatch.setattr(desk.later, "want", lambda name, deed: wanted.append(name))
    line(browser, study)

    assert wanted == []


def signed_before(browser: Browser, store: Store) -> str:
    """A study of the same trainee whose letter was signed: one correction, one exercise."""
    first = keep(store, trained(), "before")
    browser.act(first, "accept findings", "clip02", criteria=[MISSED, MET])
    for kind, exercise in (("summary", None), ("letter", EXERCISE)):
        body = {"id": new_id(), "author": "M. Linden", "kind": kind, "exercise": exercise}
        answer = browser.post(f"/api/studies/{first}/sign", body)
        assert answer.status_code == 200, answer.text
    return first


def test_what_the_last_letter_asked_for_stands_beside_the_next_study(browser: Browser, store: Store) -> None:
    """As it stood when it was signed, whatever is done in that study later."""
    first = signed_before(browser, store)
    browser.act(first, "choose correction", criterion=MISSED, side="low", is_kept=False)
    study = keep(store, trained(), "after")
    asked = until(lambda: line(browser, study)["last_letter"])

    assert asked["study"] == first
    assert [item["criterion"] for item in asked["corrections"]] == [MISSED]
    assert asked["exercise"]["look_for"] == "the whole left atrium"
    assert browser.get(f"/api/studies/{study}").json()["last_letter"] == asked


def test_the_new_letter_says_what_the_mentor_says_of_it_and_nothing_else(browser: Browser, store: Store) -> None:
    signed_before(browser, store)
    study = keep(store, trained(), "after")
    asked = until(lambda: line(browser, study)["last_letter"])
    correction = asked["corrections"][0]
    about = f"{correction['criterion']}:{correction['side']}"

    def letter() -> str:
        return browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text

    assert "Since the last letter" not in letter()
    judged = browser.act(study, "judge advice", letter=asked["letter"], about=about, word="not mended").json()
    browser.act(study, "judge advice", letter=asked["letter"], about="exercise", word="done")
    text = letter()
    assert "Since the last letter" in text
    assert f"{correction['title']}: not mended yet" in text
    assert "done, well done." in text
    assert judged["state"]["advice"][0]["word"] == "not mended"

    browser.act(study, "judge advice", letter=asked["letter"], about=about, word="not said")
    assert correction["title"] not in letter()
    assert "Since the last letter" not in browser.get(f"/api/studies/{study}/letter", params={"kind": "summary"}).text


def test_a_rescan_stands_on_the_thread_that_asked_for_it(desk: Desk, browser: Browser, store: Store) -> None:
    first = keep(store, draft(), "Juno")
    request = {"id": new_id(), "author": "M. Linden", "kind": "request for more images", "words": "Deeper, please."}
    browser.post(f"/api/studies/{first}/messages", request)
    assert [item["words"] for item in line(browser, first)["waits_for_rescan"]] == ["Deeper, please."]

    again = new_id()
    browser.post("/api/studies", {"id": again, "title": "Juno again", "parent": first})
    assembled = StudyAssembled(study=draft().study)
    record_event(store, again, assembled, house=house_rows().fingerprint())
    desk._on_event(again, assembled)  # as the engine does once the headers are read

    assert line(browser, first)["waits_for_rescan"] == []
    assert line(browser, again)["rescan_of"]["id"] == first
    page = browser.get(f"/api/studies/{first}").json()
    said = page["messages"][-1]
    assert (said["kind"], said["study"], said["answers"]) == ("re-scan sent", again, request["id"])
    assert [item["id"] for item in page["thread"]] == [first, again]


def test_a_mentor_closes_a_study_and_opens_it_again(browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    browser.act(study, "set closed", is_closed=True, reason="sent twice")
    assert line(browser, study, "closed")["id"] == study
    browser.act(study, "set closed", is_closed=False)
    assert line(browser, study)["id"] == study

    browser.act(study, "open call", call="k", finding="fluid")
    refused = browser.act(study, "set closed", is_closed=True)
    assert refused.status_code == 409
    assert "fluid" in refused.json()["error"]["what"]
