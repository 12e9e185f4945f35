"""What letters advised is signed with them, and the next letter carries the real record of it."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from fanlight.desk.advice_record import NAME
from fanlight.desk.changes import part_of
from fanlight.store import Store, documents_of
from fanlight.study import StudyReview, Verdict
from tests.coach.causes.test_find import DEEP
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import MET, MISSED, draft, keep
from tests.desk.test_changes import drafted
from tests.desk.test_letters import EXERCISE

ABOUT = f"{MISSED}:low"


def trained(*, trainee: str = "T. Rowan", is_mended: bool = False) -> StudyReview:
    """The usual draft of a trainee; mended: the gain is met where it was missed."""
    review = draft()
    study = replace(review.study, request=replace(review.study.request, trainee=trainee))
    readings = tuple(
        replace(
            item,
            findings=tuple(
                replace(each, verdict=Verdict.MET) if is_mended and each.criterion == MISSED else each
                for each in item.findings
            ),
        )
        for item in review.readings
    )
    return replace(review, study=study, readings=readings)


def decide(browser: Browser, store: Store, review: StudyReview) -> str:
    study = keep(store, review)
    assert browser.act(study, "accept findings", "clip02", criteria=[MISSED, MET]).status_code == 200
    return study


def sign(browser: Browser, study: str) -> dict[str, Any]:
    for kind, exercise in (("summary", None), ("letter", EXERCISE)):
        body = {"id": new_id(), "author": "M. Linden", "kind": kind, "exercise": exercise}
        answer = browser.post(f"/api/studies/{study}/sign", body)
        assert answer.status_code == 200, answer.text
    document: dict[str, Any] = answer.json()["document"]
    return document


def record(browser: Browser, document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = browser.get(f"/api/documents/{document['id']}/{NAME}").json()
    return found


def letter(browser: Browser, study: str) -> str:
    return browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text


def test_the_record_is_signed_with_the_letter_as_open_data(browser: Browser, store: Store) -> None:
    """Only what was decided, in the mentor's own words; a letter to nobody has none."""
    study = decide(browser, store, trained())
    browser.act(study, "edit text", document="letter", part=f"{ABOUT}:correction", text="More gain, please.")
    found = record(browser, sign(browser, study))

    assert (found["form"], found["trainee"], found["practice"]) == (1, "T. Rowan", "Brook Lane")
    assert [(item["about"], item["correction"]) for item in found["advice"]] == [(ABOUT, "More gain, please.")]
    assert {(item["criterion"], item["low"], item["met"]) for item in found["standings"]} == {
        (MISSED, 1, 0),
        (MET, 0, 1),
    }
    nobody = sign(browser, decide(browser, store, trained(trainee="")))
    assert [part["name"] for part in nobody["parts"]] == ["letter.pdf", "letter.html"]


def test_what_was_thrown_out_of_the_letter_was_not_advised(browser: Browser, store: Store) -> None:
    study = decide(browser, store, trained())
    browser.act(study, "choose correction", criterion=MISSED, side="low", is_kept=False, reason="")

    assert record(browser, sign(browser, study))["advice"] == []


def test_an_advice_that_is_given_again_carries_its_record(browser: Browser, store: Store) -> None:
    """Given twice before, and still missed each time; another trainee's letter does not count."""
    sign(browser, decide(browser, store, trained()))
    sign(browser, decide(browser, store, trained(trainee="S. Birch")))
    second = decide(browser, store, trained())
    assert "given in 1 earlier study, mended in none" in letter(browser, second)
    sign(browser, second)

    third = decide(browser, store, trained())
    assert "given in 2 earlier studies, mended in none" in letter(browser, third)
    first_again = letter(browser, decide(browser, store, trained(trainee="A. New")))
    assert "earlier stud" not in first_again


def test_what_is_met_now_is_praised_when_the_mentor_has_decided_it(browser: Browser, store: Store) -> None:
    sign(browser, decide(browser, store, trained()))
    undecided = keep(store, trained(is_mended=True))
    assert "Since the last letter" not in letter(browser, undecided)

    study = decide(browser, store, trained(is_mended=True))
    text = letter(browser, study)
    assert "Since the last letter" in text
    assert "advised last time, mended now (clip 2). Well done." in text


def test_the_mentors_word_goes_before_and_is_counted(browser: Browser, store: Store) -> None:
    first = sign(browser, decide(browser, store, trained()))
    second = decide(browser, store, trained())
    browser.act(second, "judge advice", letter=first["id"], about=ABOUT, word="mended")
    text = letter(browser, second)
    assert "mended, well done." in text
    assert "advised last time, mended now" not in text
    assert record(browser, sign(browser, second))["said"] == [[ABOUT, "mended"]]

    third = letter(browser, decide(browser, store, trained()))
    assert "given in 2 earlier studies, mended in 1" in third


def test_an_addendum_stands_for_its_study_once(browser: Browser, store: Store) -> None:
    study = decide(browser, store, trained())
    first = sign(browser, study)
    body = {"id": new_id(), "author": "M. Linden", "kind": "letter", "exercise": EXERCISE, "supersedes": first["id"]}
    assert browser.post(f"/api/studies/{study}/sign", body).status_code == 200
    assert len(documents_of(store, study)) == 3

    assert "given in 1 earlier study, mended in none" in letter(browser, decide(browser, store, trained()))


def test_a_record_of_a_later_form_is_left_alone(browser: Browser, store: Store, monkeypatch: Any) -> None:
    monkeypatch.setattr("fanlight.desk.advice_record._FORM", 2)
    document = sign(browser, decide(browser, store, trained()))
    assert record(browser, document)["form"] == 2
    monkeypatch.undo()

    assert "earlier stud" not in letter(browser, decide(browser, store, trained()))
    assert json.dumps(document)  # the letter itself is as it was


def test_a_kept_change_is_advice_too_in_the_mentors_words_and_carries_its_record(
    browser: Browser, store: Store
) -> None:
    def deep() -> str:
        review = drafted(DEEP, 5)
        study = keep(store, review)
        for item in review.readings:
            browser.act(study, "accept findings", item.clip.key, criteria=[each.criterion for each in item.findings])
        return study

    first = deep()
    thrown = record(browser, sign(browser, first))  # nobody kept the change: it was not advised
    second = deep()
    browser.act(second, "judge change", cause="depth_large", word="kept")
    browser.act(second, "edit text", document="letter", part=part_of("depth_large"), text="Less depth, please.")
    found = record(browser, sign(browser, second))
    third = deep()
    browser.act(third, "judge change", cause="depth_large", word="kept")

    assert not any(item["about"].startswith("cause:") for item in thrown["advice"])
    (change,) = (item for item in found["advice"] if item["about"] == "cause:depth_large")
    assert change["correction"] == "Less depth, please."
    assert {criterion for criterion, _ in change["signs"]} == {name for name, _ in DEEP}
    text = letter(browser, third)
    assert text.index("Given in 1 earlier study, mended in none.") < text.index("What matters most")
