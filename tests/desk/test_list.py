"""The list of studies: the mentor's path, what the last letter asked for, re-scans, what is closed."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fanlight.desk import Desk
from fanlight.desk.engine import EngineState
from fanlight.desk.last_letter import asked_for
from fanlight.reference.desk import read_desk_settings
from fanlight.review.conclude import conclude
from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import DerivedKind, Store, keep_derived, path_bases, record_event
from fanlight.study import StudyReview, ViewReading, ViewSource
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
    assert browser.act(first, "accept findings", "clip02", criteria=[MISSED, MET]).status_code == 200
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
    assert line(browser, study)["said_of_last_letter"] == {}
    judged = browser.act(study, "judge advice", letter=asked["letter"], about=about, word="not mended").json()
    browser.act(study, "judge advice", letter=asked["letter"], about="exercise", word="done")
    text = letter()
    assert "Since the last letter" in text
    assert f"{correction['title']}: not mended yet" in text
    assert "done, well done." in text
    assert judged["state"]["advice"][0]["word"] == "not mended"
    assert line(browser, study)["said_of_last_letter"] == {about: "not mended", "exercise": "done"}

    browser.act(study, "judge advice", letter=asked["letter"], about=about, word="not said")
    assert correction["title"] not in letter()
    assert line(browser, study)["said_of_last_letter"] == {"exercise": "done"}
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


def test_both_pages_that_wait_for_a_letter_hear_of_it(
    desk: Desk, browser: Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two studies of one trainee ask for the same letter at once."""
    both_asked = threading.Event()

    def slowly(*known: Any) -> Any:
        assert both_asked.wait(60)
        return asked_for(*known)

    monkeypatch.setattr("fanlight.desk.last_letter.asked_for", slowly)
    first = signed_before(browser, store)
    studies = [keep(store, trained(), "second"), keep(store, trained(), "third")]
    start = desk.hub.last_id()
    for study in studies:
        assert browser.get(f"/api/studies/{study}").json()["last_letter"] is None
    both_asked.set()
    until(lambda: not desk.later.is_busy())

    async def heard(study: str) -> list[str]:
        lines = desk.hub.listen(study, start)
        return [await anext(lines), await asyncio.wait_for(anext(lines), 5)]

    for study in studies:
        assert "event: last letter" in asyncio.run(heard(study))[1]
        assert browser.get(f"/api/studies/{study}").json()["last_letter"]["study"] == first


def test_what_a_letter_asked_for_is_not_taken_from_half_a_draft(
    desk: Desk, browser: Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its study is being read again, and the draft it was signed on cannot be read any more: it waits for a new one."""
    monkeypatch.setattr("fanlight.desk.later._PAUSE_S", 0.05)
    first = signed_before(browser, store)
    record_again(store, first, clips=0)
    monkeypatch.setattr("fanlight.desk.last_letter.review_at", lambda *_: None)
    reading = EngineState(state="reading")
    real = desk.engine.state
    monkeypatch.setattr(desk.engine, "state", lambda study: reading if study == first else real(study))
    desk._forget(first)
    study = keep(store, trained(), "after")
    time.sleep(0.3)
    assert line(browser, study)["last_letter"] is None

    record_again(store, first, clips=6)
    monkeypatch.setattr(desk.engine, "state", real)
    asked = until(lambda: line(browser, study)["last_letter"])
    assert [item["criterion"] for item in asked["corrections"]] == [MISSED]


def record_again(store: Store, study: str, *, clips: int) -> None:
    """Keep what the engine says when a study is read again, as far as it has come."""
    review = trained()
    fingerprint = house_rows().fingerprint()
    record_event(store, study, StudyAssembled(study=review.study), house=fingerprint)
    if clips == len(review.readings):
        record_event(store, study, ReviewFinished(review=review), house=fingerprint)


def test_a_letter_keeps_what_it_asked_for_when_its_study_is_read_anew(browser: Browser, store: Store) -> None:
    """It was signed on the draft of its day."""
    first = signed_before(browser, store)
    other = trained()
    mended = replace(other, readings=tuple(replace(item, findings=()) for item in other.readings))
    record_event(store, first, ReviewFinished(review=mended), house=house_rows().fingerprint())
    study = keep(store, trained(), "after")

    asked = until(lambda: line(browser, study)["last_letter"])
    assert [item["criterion"] for item in asked["corrections"]] == [MISSED]


@pytest.fixture
def all_blind(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every clip is to be judged before its proposals are shown."""
    settings = replace(read_desk_settings(desk.house), blind_share=1.0)
    for module in ("decided_path", "blind"):
        monkeypatch.setattr(f"fanlight.desk.{module}.read_desk_settings", lambda _: settings)


@pytest.mark.usefixtures("all_blind")
@pytest.mark.parametrize("of", ["waiting", "closed"])
def test_the_list_shows_nothing_of_clips_that_are_judged_blind(browser: Browser, store: Store, of: str) -> None:
    """Not at first, before it was worked out, and not later; then it is what the page of the study shows."""
    proposed = draft()
    view = ViewReading(view=VIEW, source=ViewSource.RECOGNISED, probability=0.9)
    readings = tuple(replace(item, view=view) for item in proposed.readings)
    whole = conclude(proposed.study, readings, (), house_rows())
    assert any(step.view == VIEW and step.clips for step in whole.coverage.steps)
    study = keep(store, whole)
    if of == "closed":
        browser.act(study, "set closed", is_closed=True, reason="twice")

    assert line(browser, study, of)["path"] == []
    until(lambda: line(browser, study, of)["path"])
    assert clips_in(line(browser, study, of), VIEW) == 0
    assert line(browser, study, of)["n_unplaced"] == len(readings)

    browser.act(study, "judge blind", readings[0].clip.key, view=VIEW, verdicts=[])
    assert until(lambda: clips_in(line(browser, study, of), VIEW)) == 1


def test_a_path_of_another_house_is_worked_out_anew(desk: Desk, browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    browser.act(study, "take clip out", "clip01")
    until(lambda: not desk.later.is_busy())
    before = path_bases(store, (study,), house="another")[study]
    wrong = replace(draft().coverage, unplaced=(), steps=())
    keep_derived(store, DerivedKind.PATH, study, basis=str(before), value=wrong)

    assert until(lambda: line(browser, study)["path"])
    until(lambda: not desk.later.is_busy())
    assert line(browser, study)["n_unplaced"] > 0
