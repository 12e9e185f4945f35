"""The review of an earlier visit: what is needed of it is read, whatever version wrote it; else it says why not."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from fanlight.intake.earlier_review import EarlierReviewError, read_earlier_review
from fanlight.report.json_file import review_as_plain
from fanlight.study import Identity, Measurement
from tests.report.sample import sample_review

NUMBER = Measurement(
    name="la_ao", label="LA:Ao", value=1.4, unit="1", given_by="machine report", method="2-D", sheet_only=True
)
IDENTITY = Identity(animal_name="Pip", case_number="7", owner="Ashdown", examined_at=datetime(2026, 3, 1, 9, 30))


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
    assert read.identity == Identity(animal_name="Pip", case_number="7")
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
