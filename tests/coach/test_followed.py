"""What became of earlier advice: counted from findings in clips of the same kind, and never guessed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from fanlight.coach.followed import follow
from fanlight.coach.record import advice_in, record_of
from fanlight.study import (
    AdviceGiven,
    Band,
    ClipReading,
    ClipVerdict,
    Finding,
    FollowUp,
    Mode,
    Outcome,
    Side,
    StudyRecord,
    Verdict,
    ViewReading,
    ViewSource,
    about_cause,
    about_criterion,
)
from tests.coach.test_coach import criterion
from tests.report.sample import reading, sample_change, sample_review

LONG, SHORT = "right_long", "right_short"
TITLES = {LONG: "Right long axis", SHORT: "Right short axis"}
CRITERIA = {
    "depth": criterion("depth", 5.0, right="The depth is well used."),
    "gain": criterion("gain", 3.0, right="The gain is right."),
    "ecg": replace(criterion("ecg", 2.0, right="An ECG runs along."), study_level=True),
}
DEPTH = AdviceGiven(
    about=about_criterion("depth", Side.LOW), title="Depth", correction="take depth away", signs=(("depth", Side.LOW),)
)


def clip(
    number: int, view: str, *, mode: Mode = Mode.TWO_D, confidence: float = 0.9, **stood: Side | Verdict
) -> ClipReading:
    """Return a clip on which criteria were met (Side.INSIDE), missed on a side, or could not be assessed."""
    findings = tuple(
        Finding(
            criterion=key, clip=f"clip{number:02d}", value=1.0, unit="1", band=Band(met_low=0.0), reason="a reason",
            verdict=side if isinstance(side, Verdict) else Verdict.MET if side is Side.INSIDE else Verdict.MISSED,
            side=Side.LOW if isinstance(side, Verdict) else side, confidence=confidence,
        )
        for key, side in stood.items()
    )  # fmt: skip
    source = ViewSource.SERIES_TEXT if view else ViewSource.NOT_KNOWN
    return replace(
        reading(number, findings, ClipVerdict.LIMITED, mode=mode), view=ViewReading(view=view, source=source)
    )


def record(day: int, *clips: ClipReading, advice: tuple[AdviceGiven, ...] = (DEPTH,), **changes: str) -> StudyRecord:
    review = replace(sample_review(), readings=clips, study_findings=(), priorities=())
    made = record_of(review, 0.5)
    who: dict[str, Any] = {"trainee": "T. Okafor", "practice": "Brook Lane"} | changes
    return replace(made, examined_at=datetime(2026, 3, day), advice=advice, **who)


def followed(*earlier: StudyRecord, now: tuple[ClipReading, ...], day: int = 20, **changes: str) -> FollowUp:
    return follow(earlier, record(day, *now, advice=(), **changes), now, CRITERIA, TITLES, 0.8, 0.5)


MISSED = clip(1, LONG, depth=Side.LOW)


@pytest.mark.parametrize(
    ("now", "outcome", "tried"),
    [
        ((clip(4, LONG, depth=Side.INSIDE),), Outcome.MENDED, ("clip04",)),
        ((clip(4, LONG, depth=Side.LOW),), Outcome.STILL_THERE, ("clip04",)),
        ((clip(4, LONG, depth=Side.HIGH),), Outcome.OVERDONE, ("clip04",)),
        ((clip(4, LONG, depth=Verdict.BORDERLINE),), Outcome.BORDERLINE, ("clip04",)),
        ((clip(4, LONG, depth=Verdict.NOT_ASSESSABLE),), Outcome.NOT_TOLD, ()),
        ((clip(4, LONG, depth=Side.INSIDE, confidence=0.4),), Outcome.NOT_TOLD, ()),
        ((clip(4, SHORT, depth=Side.INSIDE),), Outcome.NOT_TOLD, ()),  # another view
        ((clip(4, LONG, depth=Side.INSIDE, mode=Mode.COLOUR),), Outcome.NOT_TOLD, ()),  # another mode
        ((clip(4, LONG, gain=Side.INSIDE),), Outcome.NOT_TOLD, ()),  # not judged
        ((), Outcome.NOT_TOLD, ()),
        ((clip(4, LONG, depth=Side.INSIDE), clip(5, LONG, depth=Side.LOW)), Outcome.STILL_THERE, ("clip04", "clip05")),
    ],
)
def test_an_advice_is_held_against_clips_of_the_kind_that_missed_it(
    now: tuple[ClipReading, ...], outcome: Outcome, tried: tuple[str, ...]
) -> None:
    (found,) = followed(record(1, MISSED), now=now).advice

    assert (found.outcome, found.tried_in) == (outcome, tried)


def test_one_slip_among_many_does_not_undo_a_mending() -> None:
    """The same share as of what is right (house setting): four of five."""
    four = tuple(clip(n, LONG, depth=Side.INSIDE) for n in (4, 5, 6, 7))
    (found,) = followed(record(1, MISSED), now=(*four, clip(8, LONG, depth=Side.LOW))).advice

    assert found.outcome is Outcome.MENDED


def test_where_the_view_was_not_known_any_clip_of_the_mode_tells() -> None:
    (found,) = followed(record(1, clip(1, "", depth=Side.LOW)), now=(clip(4, SHORT, depth=Side.INSIDE),)).advice
    (other,) = followed(record(1, MISSED), now=(clip(4, "", depth=Side.INSIDE),)).advice

    assert found.outcome is Outcome.MENDED
    assert other.outcome is Outcome.NOT_TOLD  # which view that is nobody knows


def test_a_cause_is_mended_when_all_of_its_criteria_are() -> None:
    deep = replace(DEPTH, about=about_cause("depth_large"), signs=(("depth", Side.LOW), ("gain", Side.HIGH)))
    then = record(1, clip(1, LONG, depth=Side.LOW, gain=Side.HIGH), advice=(deep,))

    (half,) = followed(then, now=(clip(4, LONG, depth=Side.INSIDE, gain=Side.HIGH),)).advice
    (whole,) = followed(then, now=(clip(4, LONG, depth=Side.INSIDE, gain=Side.INSIDE),)).advice

    assert (half.outcome, half.met_in, half.left_in) == (
        Outcome.PARTLY, ("depth (Right long axis)",), ("gain (Right long axis)",),
    )  # fmt: skip
    assert whole.outcome is Outcome.MENDED


def test_an_advice_about_two_views_is_not_mended_where_one_of_them_could_be_judged() -> None:
    then = record(1, clip(1, LONG, depth=Side.LOW), clip(2, SHORT, depth=Side.LOW))
    one = (clip(4, LONG, depth=Side.INSIDE), clip(5, SHORT, depth=Verdict.NOT_ASSESSABLE))

    (part,) = followed(then, now=one).advice
    (whole,) = followed(then, now=(*one, clip(6, SHORT, depth=Side.INSIDE))).advice
    (missed,) = followed(then, now=(clip(4, LONG, depth=Side.INSIDE), clip(5, SHORT, depth=Side.LOW))).advice

    assert (part.outcome, part.met_in, part.left_in, part.not_judged_in) == (
        Outcome.PARTLY, ("Right long axis",), (), ("Right short axis",),
    )  # fmt: skip
    assert (part.mended, part.partly) == (0, 1)
    assert (whole.outcome, whole.not_judged_in) == (Outcome.MENDED, ())
    assert (missed.outcome, missed.left_in) == (Outcome.PARTLY, ("Right short axis",))


def test_a_view_in_another_mode_is_called_by_both() -> None:
    then = record(1, clip(1, LONG, depth=Side.LOW, mode=Mode.COLOUR), clip(2, "", depth=Side.LOW, mode=Mode.COLOUR))
    (found,) = followed(then, now=(clip(4, SHORT, depth=Side.INSIDE, mode=Mode.COLOUR),)).advice

    assert (found.met_in, found.not_judged_in) == (("colour Doppler",), ("Right long axis, colour Doppler",))


def test_worse_goes_before_better_where_nothing_is_met() -> None:
    then = record(1, clip(1, LONG, depth=Side.LOW), clip(2, SHORT, depth=Side.LOW))
    (found,) = followed(then, now=(clip(4, LONG, depth=Verdict.BORDERLINE), clip(5, SHORT, depth=Side.LOW))).advice

    assert found.outcome is Outcome.STILL_THERE


@pytest.mark.parametrize("name", ["t. okafor", " T.  Okafor ", "T.\u00a0OKAFOR"])
def test_a_name_typed_otherwise_is_the_same_trainee(name: str) -> None:
    assert followed(record(1, MISSED, trainee=name, practice="brook  LANE"), now=(MISSED,)).not_followed == ()
    assert followed(record(1, MISSED, trainee="Okafor T."), now=(MISSED,)).advice == ()


def test_the_record_counts_what_the_study_after_each_advice_showed() -> None:
    """Given on the 1st, 2nd, 3rd and 4th: still there, mended, not to be told, still there."""
    found = followed(
        record(4, MISSED), record(1, MISSED),  # in any order
        record(3, clip(1, LONG, depth=Side.INSIDE), clip(2, SHORT, depth=Side.LOW)),
        record(2, MISSED), now=(clip(4, LONG, depth=Side.LOW),),
    )  # fmt: skip
    (item,) = found.advice

    assert (item.given, item.mended, item.not_told, item.outcome) == (4, 1, 1, Outcome.STILL_THERE)
    assert found.since == datetime(2026, 3, 4)


def test_an_advice_of_an_older_study_keeps_its_record_and_has_no_outcome_now() -> None:
    found = followed(record(1, MISSED), record(2, clip(1, LONG, depth=Side.INSIDE), advice=()), now=(MISSED,))
    (item,) = found.advice

    assert (item.given, item.mended, item.outcome, item.tried_in) == (1, 1, None, ())
    assert found.record("depth:low") is item
    assert found.record("gain:low") is None


def test_what_was_missed_and_is_met_now_is_praised_with_its_view() -> None:
    then = record(1, clip(1, LONG, depth=Side.LOW, gain=Side.LOW), clip(2, SHORT, gain=Side.INSIDE), advice=())
    now = (clip(4, LONG, depth=Side.INSIDE, gain=Side.LOW), clip(5, SHORT, depth=Side.INSIDE))
    (praised,) = followed(then, now=now).met_now

    assert (praised.criterion, praised.words, praised.views, praised.clips) == (
        "depth", "The depth is well used.", ("Right long axis",), ("clip04",),
    )  # fmt: skip


def test_a_single_slip_last_time_earns_no_praise() -> None:
    mostly = tuple(clip(n, LONG, depth=Side.INSIDE) for n in (1, 2, 3, 4))
    found = followed(record(1, *mostly, clip(5, LONG, depth=Side.LOW)), now=(clip(4, LONG, depth=Side.INSIDE),))

    assert found.met_now == ()


def test_what_is_judged_of_the_whole_study_is_not_counted_clip_by_clip() -> None:
    found = followed(record(1, clip(1, LONG, ecg=Side.LOW)), now=(clip(4, LONG, ecg=Side.INSIDE),))

    assert found.met_now == ()


@pytest.mark.parametrize(
    ("changes", "now", "why"),
    [
        ({"trainee": "A. Other"}, {}, "went to another trainee"),
        ({"practice": "Elsewhere"}, {}, "went to another trainee"),
        ({"trainee": ""}, {}, "request sheet of that study names no trainee"),
        ({}, {"trainee": ""}, "request sheet of this study names no trainee"),
    ],
)
def test_the_advice_to_another_hand_is_not_followed_and_says_so(
    changes: dict[str, Any], now: dict[str, Any], why: str
) -> None:
    found = followed(record(1, MISSED, **changes), now=(MISSED,), **now)

    assert (found.advice, found.since) == ((), None)
    assert why in found.not_followed[0]
    assert found.not_followed[0].startswith("The advice of 1 March 2026 is not followed up")


def test_a_study_of_no_earlier_day_and_an_empty_one_do_not_count() -> None:
    later = followed(record(21, MISSED), now=(MISSED,))
    empty = followed(replace(record(1, advice=())), now=(MISSED,))

    assert "no earlier than this one" in later.not_followed[0]
    assert "neither advice nor findings" in empty.not_followed[0]


def test_the_same_review_given_twice_counts_once() -> None:
    (item,) = followed(record(1, MISSED), record(1, MISSED), now=(MISSED,)).advice

    assert item.given == 1


def test_what_was_withheld_was_not_advised() -> None:
    review = sample_review()
    cause, change = sample_change()
    given = advice_in(review.priorities, (change,), (cause,), review.readings)
    held = advice_in((), (replace(change, correction="", withheld="why"),), (cause,), review.readings)

    assert [item.about for item in given] == ["sample_low:low", "sample_low:low", "cause:depth_large"]
    assert given[-1].signs == (("sample_low", Side.LOW),)
    assert held == ()


def test_what_a_person_said_goes_before_the_findings() -> None:
    """In this study, and in those whose outcome was counted before."""
    said = ((DEPTH.about, Outcome.MENDED),)
    then = replace(record(2, MISSED), said=said)
    now = replace(record(20, MISSED, advice=()), said=((DEPTH.about, Outcome.STILL_THERE),))
    (item,) = follow((record(1, MISSED), then), now, (MISSED,), CRITERIA, TITLES, 0.8, 0.5).advice

    assert (item.given, item.mended, item.outcome, item.is_said) == (2, 1, Outcome.STILL_THERE, True)
