"""What the summary says that it rests on: a clip that nobody judged is not one that could not be assessed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from fanlight.reference.load import load_house
from fanlight.report.document import Paragraph
from fanlight.report.summary import build_summary
from fanlight.study import ClipReading, ClipVerdict, Purpose, Side, StudyReview, Verdict
from tests.report.sample import sample_review

WHEN = datetime(2026, 11, 25, 9, 0)


def judged(item: ClipReading, **verdicts: ClipVerdict) -> ClipReading:
    return replace(item, verdicts=tuple((Purpose(purpose), verdict) for purpose, verdict in verdicts.items()))


def cannot_tell(item: ClipReading) -> ClipReading:
    """Return a reading of which a person said that none of its criteria can be judged."""
    untold = tuple(
        replace(each, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, value=None, reason="a hand lies before it")
        for each in item.findings
    )
    return replace(item, findings=untold)


def rests_on(review: StudyReview) -> str:
    blocks = build_summary(review, {}, load_house(), WHEN).blocks
    (said,) = (each.text for each in blocks if isinstance(each, Paragraph) and " read: " in each.text)
    return said


def test_pictures_strips_and_what_nobody_judged_are_counted_apart() -> None:
    whole = replace(sample_review(), refused=())
    one, two, three, four, five, six = whole.readings
    readings = (
        judged(one, look=ClipVerdict.DIAGNOSTIC), judged(two, look=ClipVerdict.LIMITED),
        judged(three, measure=ClipVerdict.LIMITED, doppler=ClipVerdict.LIMITED), judged(replace(four, findings=())),
        judged(cannot_tell(five)), judged(six),
    )  # fmt: skip

    said = rests_on(replace(whole, readings=readings))

    assert said == (
        "6 stills and clips read: 1 diagnostic, 1 limited to look at; 1 judged for measuring or Doppler only; "
        "1 judged by single criteria only; 1 not assessable; 1 not judged."
    )


def test_a_study_on_which_nobody_decided_is_not_called_unusable() -> None:
    whole = replace(sample_review(), refused=())
    said = rests_on(replace(whole, readings=tuple(judged(replace(item, findings=())) for item in whole.readings)))

    n = len(whole.readings)
    assert said == f"{n} stills and clips read: {n} not judged."
