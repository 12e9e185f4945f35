"""The same view in another study of the same animal."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fanlight.review.events import StudyAssembled
from fanlight.store import Store, add_study, earlier_studies, new_id, record_event
from fanlight.study import Identity, Mode, ModeReading, StudyReview
from tests.desk.browser import Browser
from tests.desk.drafts import draft, house_rows, keep

VIEW = "right_parasternal_long_axis_four_chamber"
WHO = Identity(animal_name="Juniper", practice="Old Mill practice", owner="Ada Rowan")


def of(who: Identity) -> StudyReview:
    review = draft()
    return replace(review, study=replace(review.study, identity=who))


def beside(browser: Browser, study: str, mode: str = "two_d") -> Any:
    answer = browser.get(f"/api/studies/{study}/earlier", params={"view": VIEW, "mode": mode})
    assert answer.status_code == 200, answer.text
    return answer.json()["found"]


def test_it_is_found_with_its_reading_where_the_mentor_placed_it(browser: Browser, store: Store) -> None:
    first = keep(store, of(WHO), "first")
    study = keep(store, of(WHO), "second")
    for clip in ("clip01", "clip02", "clip03", "clip04", "clip05", "clip06"):
        browser.act(first, "take clip out", clip)
    assert beside(browser, study) is None
    browser.act(first, "place clip", "clip04", view=VIEW, valve=None)
    found = beside(browser, study)

    assert (found["study"], found["clip"]["key"], found["title"]) == (first, "clip04", "Juniper")
    assert found["reading"]["clip"]["key"] == "clip04"


def test_the_same_mode_goes_before_the_first_clip(browser: Browser, store: Store) -> None:
    review = of(WHO)
    colour = ModeReading(mode=Mode.COLOUR, probability=0.9, reasons=())
    readings = tuple(
        replace(item, mode=colour) if item.clip.key == "clip05" else item for item in review.readings
    )  # fmt: skip
    first = keep(store, replace(review, readings=readings), "first")
    study = keep(store, of(WHO), "second")
    for item in readings:
        browser.act(first, "place clip", item.clip.key, view=VIEW, valve=None)

    assert beside(browser, study, "colour")["clip"]["key"] == "clip05"
    assert beside(browser, study, "two_d")["clip"]["key"] != "clip05"


def test_the_nearest_study_comes_first_and_other_animals_never(store: Store) -> None:
    """Of the same case, or the same animal and practice by their files; an owner's names may come in any order."""
    other = [replace(WHO, animal_name="Bruno"), replace(WHO, practice="Elsewhere"), replace(WHO, owner="B. Moss")]
    for who in other:
        keep(store, of(who))
    oldest = keep(store, of(replace(WHO, owner="Rowan, Ada")))
    old = keep(store, of(replace(WHO, owner="")))
    mine = keep(store, of(WHO))
    later = add_study(store, new_id(), title="re-scan", parent=mine).id

    assert [item.id for item in earlier_studies(store, mine)] == [old, oldest, later]


def test_one_case_number_is_one_animal_whatever_its_owner(store: Store) -> None:
    old = keep(store, of(replace(WHO, owner="B. Moss", case_number="Q-1")))
    mine = keep(store, of(replace(WHO, case_number="Q-1")))

    assert [item.id for item in earlier_studies(store, mine)] == [old]


def test_files_without_a_name_tie_nothing_together(store: Store) -> None:
    nobody = replace(WHO, animal_name=" ")
    keep(store, of(nobody))
    bare = add_study(store, new_id(), title="bare").id
    record_event(store, bare, StudyAssembled(study=of(nobody).study), house=house_rows().fingerprint())

    assert earlier_studies(store, bare) == ()
    assert earlier_studies(store, add_study(store, new_id(), title="no files").id) == ()
