"""What must not slip past a signature: what is not read, and what is done while the paper is being made."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk, DeskError, letters
from fanlight.desk.engine import EngineState
from fanlight.intake import Limits
from fanlight.review.events import FileRefused
from fanlight.store import DocumentKind, Store, add_entry, add_file, documents_of, record_event, study_state
from fanlight.store.actions import Action, EditText, OpenCall, TakeClipOut
from fanlight.study import House, Refusal
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, house_rows, keep
from tests.desk.test_engine import PlayedEngine, wait_until_idle, whole
from tests.desk.test_letters import EXERCISE, sign


@pytest.fixture
def study(store: Store) -> str:
    return keep(store, draft())


def act(store: Store, study: str, action: Action) -> None:
    add_entry(store, study, action, author="M. Linden", entry=new_id())


def during(monkeypatch: pytest.MonkeyPatch, does: Callable[[], Any], *, times: int = 1) -> list[int]:
    """Have something happen each time a paper was made, before it is signed."""
    made: list[int] = []
    frozen = letters._frozen

    def slow(*given: Any) -> Any:
        parts = frozen(*given)
        made.append(1)
        if len(made) <= times:
            does()
        return parts

    monkeypatch.setattr(letters, "_frozen", slow)
    return made


def test_an_act_while_the_paper_is_made_is_in_the_paper(
    browser: Browser, study: str, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The paper is made again, so that what was decided before the signature stands in it."""
    text = EditText(document=DocumentKind.SUMMARY, part="opening", text="Seen at the last moment.")
    made = during(monkeypatch, lambda: act(store, study, text))
    document = sign(browser, study, "summary").json()["document"]

    assert "Seen at the last moment." in browser.get(f"/api/documents/{document['id']}/summary.html").text
    assert len(made) == 2


def test_a_call_opened_while_the_paper_is_made_stops_the_signature(
    browser: Browser, study: str, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    during(monkeypatch, lambda: act(store, study, OpenCall(call="k", finding="Fluid around the heart")))
    answer = sign(browser, study, "summary")

    assert (answer.status_code, answer.json()["error"]["where"]) == (409, "call")
    assert documents_of(store, study) == ()


def test_acts_without_end_are_told(browser: Browser, study: str, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page that writes on and on does not hold the signature for ever."""
    made = during(monkeypatch, lambda: act(store, study, TakeClipOut(clip="clip02")), times=99)
    answer = sign(browser, study, "summary")

    assert answer.status_code == 409
    assert "while the paper was being made" in answer.json()["error"]["what"]
    assert len(made) == 3
    assert documents_of(store, study) == ()


def test_the_same_request_twice_at_once_gives_one_paper(
    desk: Desk, browser: Browser, study: str, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page lost the answer and sends again while the first is still at work."""
    signing = letters.Signing(id=new_id(), author="M. Linden", kind=DocumentKind.SUMMARY)
    during(monkeypatch, lambda: letters.sign(desk, study, signing))
    answer = sign(browser, study, "summary", id=signing.id)

    assert answer.status_code == 200, answer.text
    assert [item.id for item in documents_of(store, study)] == [signing.id]


def test_a_refused_addendum_leaves_the_exercise_alone(browser: Browser, study: str, store: Store) -> None:
    """Who has not seen the newest version changes nothing of it."""
    sign(browser, study, "summary")
    sign(browser, study, "letter", exercise=EXERCISE)
    answer = sign(browser, study, "letter", exercise=EXERCISE | {"repetitions": 99})

    assert answer.status_code == 409
    exercise = study_state(store, study).exercise
    assert exercise is not None
    assert exercise.repetitions == EXERCISE["repetitions"]


def test_what_is_not_read_stops_the_signature_until_it_was_read_again(
    desk: Desk, browser: Browser, study: str, store: Store, house: House, tmp_path: Path
) -> None:
    """The engine gives up with a new file: it is named, and "read again" is one request; then the paper is signed."""
    engine = PlayedEngine(
        store, house, on_event=desk._on_event, on_failure=desk._on_failure, cache=None, scratch=tmp_path,
        limits=Limits(), quiet_s=0.3,
    )  # fmt: skip
    desk.engine.close()
    desk.engine = engine
    add_file(store, study, file=new_id(), name="new.dcm", chunks=[b"n"])
    unheard = sign(browser, study, "summary")
    assert (unheard.status_code, unheard.json()["error"]["what"]) == (409, "not read yet: new.dcm")
    fates = browser.get(f"/api/studies/{study}").json()["files"]
    assert [(item["name"], item["fate"]) for item in fates] == [("new.dcm", "received")]
    assert browser.get("/api/waiting").json()["studies"][0]["state"] == "receiving"

    engine.play = lambda _: [("failed", "ValueError: odd", "")]
    engine.all_sent(study)
    wait_until_idle(engine, study)
    stopped = sign(browser, study, "summary")
    error = stopped.json()["error"]
    assert stopped.status_code == 409
    assert "gave up on this study" in error["what"]
    assert "not read: new.dcm" in error["what"]
    assert "read again" in error["remedy"]
    assert browser.get(f"/api/studies/{study}").json()["engine"]["error"]["what"]

    engine.play = whole
    again = browser.post(f"/api/studies/{study}/complete")
    assert (again.status_code, again.json()["error"]) == (202, None)
    wait_until_idle(engine, study)
    page = browser.get(f"/api/studies/{study}").json()
    assert page["engine"] == {"state": "idle", "error": None}
    assert [item["fate"] for item in page["files"]] == ["passed over"]
    assert sign(browser, study, "summary").status_code == 200
    engine.close()


def test_a_clip_that_was_not_read_is_named(
    desk: Desk, browser: Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the clips of the study, those without a reading."""
    review = draft()
    study = keep(store, review)
    error = DeskError(HTTPStatus.INTERNAL_SERVER_ERROR, "the study could not be read (odd)", study, "Report it.")
    monkeypatch.setattr(desk.engine, "state", lambda _: EngineState(state="idle", error=error))
    # Another house: none of its clips was read with it.
    monkeypatch.setattr(desk, "house", House(tables={**house_rows().tables, "another": {}}))
    what = sign(browser, study, "summary").json()["error"]["what"]

    assert f"not read: {', '.join(sorted(clip.name for clip in review.study.clips))}" in what


def test_a_refused_file_does_not_stop_the_signature(browser: Browser, study: str, store: Store) -> None:
    """It is broken, it is named, and nothing more will come of it."""
    refusal = Refusal(name="broken.dcm", expected="a whole file", found="half of one", remedy="Send it again.")
    record_event(store, study, FileRefused(refusal=refusal), house=house_rows().fingerprint())

    assert sign(browser, study, "summary").status_code == 200
