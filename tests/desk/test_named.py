"""What the mentor names on the desk: stages and scores speak of it there and on the summary, and it is taken back."""

from __future__ import annotations

from dataclasses import replace

from fanlight.desk.as_left import as_left
from fanlight.desk.decided import for_papers, for_screen
from fanlight.desk.decided_named import with_named
from fanlight.desk.page_words import words_part
from fanlight.store import Store
from fanlight.store.actions import NameFacts
from fanlight.study import HeartFailure, Named
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, house_rows, keep, state_after

MMVD = "myxomatous_mitral_valve_disease"
SAID = NameFacts(lesions=(MMVD,), failure=HeartFailure.PAST, treatment="none")


def test_a_stage_waits_for_what_is_named_and_speaks_of_it_on_screen_and_paper() -> None:
    """Past failure is stage C whatever the sizes (KEENE2019 by secondary tables, as tests/validity/meaning has it)."""
    bare, said = state_after(), state_after(SAID)

    assert for_papers(as_left(draft(), bare, house_rows())).meaning.gradings == ()
    for review in (
        for_papers(as_left(draft(), said, house_rows())),
        for_screen(as_left(draft(), said, house_rows())),
    ):
        (stage,) = (item for item in review.meaning.gradings if item.title.startswith("Stage"))
        assert stage.result.startswith("stage C")
        assert review.meaning.named.startswith("M. Linden: myxomatous mitral valve disease;")
        assert review.meaning.waits_for == ()


def test_the_desk_stands_in_the_place_of_the_marks_file() -> None:
    """Also where the desk says less; a lesion or sign that the house does not know grades nothing."""
    named = Named(by="A. Other", lesions=("subaortic_stenosis",), failure=HeartFailure.NONE, treatment="none")
    study = replace(draft().study, request=replace(draft().study.request, named=named))

    assert with_named(study, state_after(), house_rows()) is study
    less = with_named(study, state_after(NameFacts(lesions=(MMVD, "gone"), signs=("gone",))), house_rows())
    assert less.request.named == Named(by="M. Linden", lesions=(MMVD,))
    assert less.identity == study.identity


def test_it_is_kept_printed_and_taken_back(browser: Browser, store: Store) -> None:
    study = keep(store, draft())

    def summary() -> str:
        return browser.get(f"/api/studies/{study}/letter", params={"kind": "summary"}).text

    assert "Stage C: heart failure" not in summary()
    said = browser.act(study, "name facts", lesions=[MMVD], failure="past", treatment="none")
    assert said.status_code == 200, said.text
    assert "Stage C: heart failure" in summary()
    told = browser.get(f"/api/studies/{study}/state").json()
    assert told["state"]["named"]["by"] == "M. Linden"
    assert [item["result"][:7] for item in told["review"]["meaning"]["gradings"]][:1] == ["stage C"]

    undo = {"id": new_id(), "author": "M. Linden", "entry": told["next_undo"]}
    assert browser.post(f"/api/studies/{study}/undo", undo).status_code == 200
    assert "Stage C: heart failure" not in summary()


def test_a_page_is_told_which_lesions_a_stage_grades_and_what_can_be_seen() -> None:
    words = words_part(house_rows())

    assert words["lesions"][MMVD]["species"] == ["dog"]
    assert len(words["lesions"][MMVD]["gradings"]) == 2
    assert words["lesions"]["congestive_heart_failure"]["gradings"] == []
    assert "thromboembolism" in words["signs"]
