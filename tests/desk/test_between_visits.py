"""Numbers are held against earlier visits of the animal by themselves, on screen and summary."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk
from fanlight.desk.earlier_numbers import EarlierNumbers
from fanlight.reference.load import load_house
from fanlight.store import Store, add_study, new_id, visits_before
from fanlight.study import ENGINE, GivenMeasurement, Identity, Measurement, StudyReview
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep

WHO = Identity(animal_name="Juniper", practice="Old Mill practice", owner="Ada Rowan")
COVERED = 'blind_share = 0.0\ncauses_first_share = 1.0\ncauses_first_since = "2020-01-01"'
MARCH, JUNE, SEPTEMBER = (datetime(2026, month, 1, 9) for month in (3, 6, 9))


def visit(day: datetime | None, la_ao: float, who: Identity = WHO) -> StudyReview:
    """Return a draft of a dog with a ratio in the machine's report."""
    review = draft()
    ratio = GivenMeasurement(
        quantity="la_ao", label="LA/Ao", value=la_ao, unit="1", given_by="machine report", method="2-D"
    )
    study = replace(
        review.study, identity=replace(who, examined_at=day), machine_measurements=(ratio,),
        request=replace(review.study.request, trainee_measurements=()),
    )  # fmt: skip
    return replace(review, study=study)


def with_engine(review: StudyReview, clip: str, lvidd_mm: float) -> StudyReview:
    """Return a draft with a diameter that the engine read off a clip."""

    def measured(name: str) -> tuple[Measurement, ...]:
        return (
            Measurement(
                name="lvidd", label="LVIDd", value=lvidd_mm, unit="mm", uncertainty=0.5, frames=(3,), clip=name,
                method="M-mode", given_by=ENGINE,
            ),
        )  # fmt: skip

    return replace(
        review,
        readings=tuple(
            replace(item, measured=measured(item.clip.name)) if item.clip.key == clip else item
            for item in review.readings
        ),
    )  # fmt: skip


def state(browser: Browser, study: str) -> Any:
    answer = browser.get(f"/api/studies/{study}/state")
    assert answer.status_code == 200, answer.text
    return answer.json()["review"]["meaning"]


def summary(browser: Browser, study: str) -> str:
    return str(browser.get(f"/api/studies/{study}/letter", params={"kind": "summary"}).text)


def test_the_earlier_visit_stands_in_the_row_and_on_the_summary(browser: Browser, store: Store) -> None:
    """HSUE2020, 12.5 %: two scans differ by up to 0.66 at 1.90."""
    keep(store, visit(MARCH, 1.5))
    study = keep(store, visit(JUNE, 2.3))
    (change,) = state(browser, study)["changes"]
    said = (
        "1 March 2026: 1.50 (machine report). +0.80 since: differs by more than 95 of 100 repeat scans of one heart do"
    )

    assert change["words"].startswith(said)
    assert (change["told"], change["given_by"], change["citation"]) == ("beyond", "machine report", "HSUE2020")
    assert said in summary(browser, study)
    assert "the veterinarian decides" in summary(browser, study)


def test_a_later_visit_and_one_of_the_same_day_are_no_earlier_ones(browser: Browser, store: Store) -> None:
    study = keep(store, visit(MARCH, 1.5))
    add_study(store, new_id(), title="re-scan", parent=study)
    keep(store, visit(MARCH, 1.6))
    keep(store, visit(JUNE, 2.3))
    meaning = state(browser, study)

    assert meaning["changes"] == []
    assert not [item for item in meaning["remarks"] if item["kind"] == "change"]


def test_the_order_of_days_counts_not_that_of_arrival(store: Store) -> None:
    september, march = keep(store, visit(SEPTEMBER, 1.5)), keep(store, visit(MARCH, 1.5))
    june = keep(store, visit(JUNE, 1.6))

    assert [item.study for item in visits_before(store, june, 4)] == [march]
    assert [item.study for item in visits_before(store, september, 4)] == [june, march]
    assert [item.study for item in visits_before(store, september, 1)] == [june]


def test_another_animal_or_practice_is_compared_with_nothing(browser: Browser, store: Store) -> None:
    for who in (replace(WHO, animal_name="Bruno"), replace(WHO, practice="Elsewhere"), replace(WHO, owner="B. Moss")):
        keep(store, visit(MARCH, 1.5, who))
    study = keep(store, visit(JUNE, 2.3))

    assert state(browser, study)["changes"] == []


def test_what_a_person_does_at_the_earlier_visit_counts_at_once(browser: Browser, store: Store) -> None:
    """A clip that was taken out there gives no number any more."""
    before = keep(store, with_engine(visit(MARCH, 1.5), "clip04", 30.0))
    study = keep(store, with_engine(visit(JUNE, 1.5), "clip04", 45.0))

    def rows() -> list[str]:
        return sorted(item["quantity"] for item in state(browser, study)["changes"])

    assert rows() == ["la_ao", "lvidd"]
    browser.act(before, "take clip out", "clip04")
    assert rows() == ["la_ao"]


def test_what_the_engine_read_stays_off_the_summary(browser: Browser, store: Store) -> None:
    """Rows that stand on the desk alone are compared there alone (M-mode 9.3 %, ACVIM2018C10: 9.7 mm at 37.5)."""
    keep(store, with_engine(visit(MARCH, 1.5), "clip04", 30.0))
    study = keep(store, with_engine(visit(JUNE, 1.5), "clip04", 45.0))
    (change,) = (item for item in state(browser, study)["changes"] if item["quantity"] == "lvidd")

    assert change["words"].startswith("1 March 2026: 30.0 mm (engine). +15.0 mm since: differs by more than")
    assert change["sheet_only"]
    assert "30.0 mm" not in summary(browser, study)


@pytest.mark.parametrize("settings", ["blind_share = 1.0", COVERED])
def test_blind_clips_and_covered_studies_leak_no_number_of_the_engine(
    store: Store, tmp_path: Path, settings: str
) -> None:
    """Neither of this visit nor of the earlier one; what was given with the studies is compared all the same."""
    keep(store, with_engine(visit(MARCH, 1.5), "clip04", 30.0))
    study = keep(store, with_engine(visit(JUNE, 2.3), "clip04", 45.0))
    file = tmp_path / "house.toml"
    file.write_text(f"[desk.settings]\n{settings}\n", "utf-8")
    with Desk(store, load_house(file)) as hiding:
        page = Browser(hiding)
        page.enter()
        told = json.dumps(state(page, study))
        paper = summary(page, study)
        page.close()

    assert "1 March 2026: 1.50 (machine report)" in told
    for words in ("30.0 mm", "45.0 mm", "15.0 mm"):
        assert words not in told
        assert words not in paper


def test_an_earlier_visit_that_is_still_covered_lends_no_number_of_the_engine(desk: Desk, store: Store) -> None:
    """The studies are drawn one by one: this one may be open while the earlier one is not."""
    earlier = keep(store, with_engine(visit(MARCH, 1.5), "clip04", 30.0))
    study = keep(store, with_engine(visit(JUNE, 2.3), "clip04", 45.0))
    shown = EarlierNumbers().of(desk, study)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fanlight.desk.blind.is_drawn_whole", lambda _, each: each == earlier)
        hidden = EarlierNumbers().of(desk, study)

    assert [item.quantity for item in shown] == ["lvidd", "la_ao"]
    assert [item.quantity for item in hidden] == ["la_ao"]


def test_a_study_without_a_day_is_of_the_day_on_which_it_came(browser: Browser, store: Store) -> None:
    keep(store, visit(None, 1.5))
    study = keep(store, visit(datetime(2099, 6, 1, 9), 2.3))
    (change,) = state(browser, study)["changes"]

    assert "(the day it was received): 1.50 (machine report). +0.80 since" in change["words"]


def test_an_older_visit_speaks_of_what_the_newer_one_does_not_hold(browser: Browser, store: Store) -> None:
    keep(store, with_engine(visit(MARCH, 1.3), "clip04", 30.0))
    keep(store, visit(JUNE, 1.5))
    study = keep(store, with_engine(visit(SEPTEMBER, 2.3), "clip04", 45.0))
    told = {item["quantity"]: item["words"] for item in state(browser, study)["changes"]}

    assert told["la_ao"].startswith("1 June 2026: 1.50 (machine report). +0.80 since")
    assert told["lvidd"].startswith("1 March 2026: 30.0 mm (engine). +15.0 mm since")


@pytest.mark.parametrize(
    ("then", "now", "n_visits"),
    [
        (replace(WHO, owner=""), WHO, 0),  # one name at one practice may be a dog's and a cat's
        (replace(WHO, owner="", case_number="101"), replace(WHO, owner="", case_number="202"), 0),
        (replace(WHO, case_number="101"), replace(WHO, case_number="202"), 0),
        (replace(WHO, owner="", case_number="101"), replace(WHO, owner="", case_number="101"), 1),
    ],
)
def test_only_who_is_surely_the_same_animal_is_held_against(
    store: Store, then: Identity, now: Identity, n_visits: int
) -> None:
    keep(store, visit(MARCH, 1.5, then))
    study = keep(store, visit(JUNE, 2.3, now))

    assert len(visits_before(store, study, 4)) == n_visits


def test_a_study_that_does_not_name_its_own_day_is_compared_with_nothing(store: Store) -> None:
    keep(store, visit(MARCH, 1.5))

    assert visits_before(store, keep(store, visit(None, 2.3)), 4) == ()


def test_what_is_still_covered_is_not_told_as_not_measured_again(
    desk: Desk, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The earlier visit is open and this study covered: nobody may know yet what it gives."""
    keep(store, with_engine(visit(MARCH, 1.5), "clip04", 30.0))
    study = keep(store, with_engine(visit(JUNE, 2.3), "clip04", 45.0))

    def hidden(_: Desk, of: str, clips: Iterable[str], __: object) -> frozenset[str]:
        return frozenset(clips) if of == study and is_covered else frozenset()

    monkeypatch.setattr("fanlight.desk.earlier_numbers.hidden_of", hidden)
    held = {}
    for is_covered in (True, False):
        draft_beside = desk.draft(study)
        assert draft_beside is not None
        held[is_covered] = {item.quantity for item in draft_beside.study.request.earlier}

    assert held == {True: {"la_ao"}, False: {"la_ao", "lvidd"}}
