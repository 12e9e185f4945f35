"""A view that was only recognised is called so wherever it is written, and never counts as said."""

from __future__ import annotations

from dataclasses import replace

from fanlight.report import words
from fanlight.report.recognised import recognised_words
from fanlight.study import ViewReading, ViewSource
from tests.report.sample import sample_review

RECOGNISED = ViewReading(view="v0", source=ViewSource.RECOGNISED, probability=0.93)


def test_a_recognised_view_is_named_with_its_probability() -> None:
    titles = {"v0": "Long axis"}
    assert words.view(RECOGNISED, titles) == "Long axis, recognised, 93 %"
    assert words.view(replace(RECOGNISED, source=ViewSource.VIEW_CODE), titles) == "Long axis"


def test_the_draft_says_which_views_nobody_named() -> None:
    review = sample_review()
    assert recognised_words(review) == ""
    first, second, *rest = review.readings
    some = replace(review, readings=(replace(first, view=RECOGNISED), replace(second, view=RECOGNISED), *rest))
    told = recognised_words(some)
    assert told.startswith("The view of clips 1 and 2 was recognised from the picture and named by nobody")
