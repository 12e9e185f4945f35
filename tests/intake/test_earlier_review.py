"""The review of an earlier visit: what is needed of it is read, whatever version wrote it; else it says why not."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from fanlight.coach.record import record_of
from fanlight.intake.earlier_review import EarlierReviewError, read_earlier_review
from fanlight.report.json_file import review_as_plain
from fanlight.study import Identity, Measurement
from tests.report.sample import sample_change, sample_review

NUMBER = Measurement(
    name="la_ao", label="LA:Ao", value=1.4, unit="1", given_by="machine report", method="2-D", sheet_only=True
)
IDENTITY = Identity(
    animal_name="Pip", case_number="7", owner="Ashdown", practice="Brook Lane", examined_at=datetime(2026, 3, 1, 9, 30),
)  # fmt: skip


def plain(**changes: Any) -> dict[str, Any]:
    review = sample_review()
    whole = replace(
        review,
        study=replace(review.study, identity=replace(IDENTITY, **changes)),
        measurements=(NUMBER, replace(NUMBER, value=None), replace(NUMBER, name="")),
    )
    return review_as_plain(whole)


def test_date_animal_and_numbers_are_read() -> None:
    read = read_earlier_review(json.dumps(plain()).encode(), "review.json")

    assert read.examined_on == date(2026, 3, 1)
    assert read.identity == Identity(animal_name="Pip", case_number="7", practice=IDENTITY.practice)
    assert read.measurements == (NUMBER,)


def test_a_review_of_another_version_is_read() -> None:
    """Fields that came later are not there, and others are there that this version does not know."""
    old = plain()
    del old["meaning"]
    for item in old["measurements"]:
        del item["sheet_only"], item["validity"], item["readings"]
        item["colour"] = "blue"

    assert read_earlier_review(json.dumps(old).encode(), "old.json").measurements[0].value == 1.4


@pytest.mark.parametrize(
    "data", [b"", b"\xff", b"[]", b"{}", b'{"measurements": 3}', b'{"measurements": [1], "study": {"identity": {}}}']
)
def test_what_is_no_review_is_named(data: bytes) -> None:
    with pytest.raises(EarlierReviewError, match=r"notes\.txt: expected the review\.json of an earlier visit, found"):
        read_earlier_review(data, "notes.txt")


def test_a_review_without_a_date_says_what_to_do() -> None:
    with pytest.raises(EarlierReviewError, match=r"found no date of examination. Type its numbers as \[\[earlier\]\]"):
        read_earlier_review(json.dumps(plain(examined_at=None)).encode(), "review.json")


def test_the_record_is_that_of_the_review_itself() -> None:
    """What is read from the file is what the values say: the same advice, the same standings."""
    cause, change = sample_change()
    sample = sample_review()
    review = replace(sample, study=replace(sample.study, identity=IDENTITY), causes=(cause,), corrections=(change,))
    read = read_earlier_review(json.dumps(review_as_plain(review)).encode(), "review.json")

    assert read.record(0.5) == record_of(review, 0.5)
    assert [item.about for item in read.advice] == ["sample_low:low", "sample_low:low", "cause:depth_large"]
    assert {item.met for item in read.record(0.5).standings if item.criterion == "sample_met"} == {5, 1}


def test_words_that_came_later_are_passed_over() -> None:
    later = plain()
    later["readings"][0]["findings"][0]["verdict"] = "splendid"
    later["readings"][1]["mode"]["mode"] = "holographic"

    read = read_earlier_review(json.dumps(later).encode(), "review.json")

    assert len(read.shown) == len(read_earlier_review(json.dumps(plain()).encode(), "review.json").shown) - 1
    assert sum(item.mode is None for item in read.shown) == 4


def test_a_review_without_findings_has_numbers_only() -> None:
    bare = plain()
    for name in ("readings", "priorities", "corrections", "causes", "study_findings"):
        del bare[name]

    read = read_earlier_review(json.dumps(bare).encode(), "review.json")

    assert (read.advice, read.shown) == ((), ())
    assert read.measurements == (NUMBER,)


def test_only_what_is_broken_is_lost_and_it_is_named() -> None:
    """File, place and remedy; numbers, the other readings and the advice stay."""
    whole = read_earlier_review(json.dumps(plain()).encode(), "old.json")
    broken = plain()
    del broken["readings"][0]["findings"][0]["verdict"]
    broken["readings"][1]["mode"] = None
    broken["measurements"].insert(0, {"value": 3.0, "name": "lvidd"})
    broken["priorities"].append(7)
    read = read_earlier_review(json.dumps(broken).encode(), "old.json")

    assert read.measurements == whole.measurements
    assert read.advice == whole.advice
    assert len(whole.shown) > len(read.shown) > 0
    assert [item.name for item in read.refused] == ["old.json"] * 4
    said = " ".join(map(str, read.refused))
    for place in ("number 1: no field 'label'", "reading of clip 1, finding 1: no field 'verdict'", "reading 2: "):
        assert place in said
    assert "All else in the file was used" in said


@pytest.mark.parametrize("name", ["readings", "priorities", "corrections", "causes", "study_findings"])
def test_a_part_that_is_no_list_leaves_the_others(name: str) -> None:
    read = read_earlier_review(json.dumps({**plain(), name: 3}).encode(), "old.json")

    assert read.measurements == (NUMBER,)
    assert any("no list" in item.found for item in read.refused)
