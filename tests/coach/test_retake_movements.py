"""A movement of the probe that the draft names is a retake with its change; what it explains is asked for once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.cli.check import change_lines
from fanlight.coach.rescue import with_rescues
from fanlight.coach.retake_movements import with_retakes_of_movements
from fanlight.coach.retakes import STOP, Retake, RetakeList
from fanlight.reference.causes import read_cause_limits, read_causes
from fanlight.reference.handling import handling_words
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.study import Breathing, CauseLevel, Correction, Explained, StudyReview
from tests.report.sample import sample_review

HOUSE = load_house()
TABLES = read_movements(HOUSE)
TILT = Correction(
    cause="tilt_plus", title="probe tilted too far", level=CauseLevel.HAND, when="the aorta comes in",
    correction="tilt the cable end cranioventral, 6° to 9°", right_when="the septum runs across", resolves=1,
    clips=("clip01", "clip02"), is_habit=False,
    explains=(Explained(criterion="aorta_unwanted", clip="clip01"), Explained(criterion="apex_shown", clip="clip02")),
)  # fmt: skip
GAIN = replace(TILT, cause="gain_high", title="gain too high", level=CauseLevel.CONSOLE, explains=())


def review_of(*corrections: Correction, breathing: Breathing = Breathing.NORMAL) -> StudyReview:
    review = sample_review()
    study = replace(review.study, request=replace(review.study.request, breathing=breathing))
    return replace(review, study=study, causes=(), corrections=corrections)


def asked(*retakes: Retake) -> RetakeList:
    return RetakeList(first_line="", retakes=retakes, not_said=())


def retake(criterion: str, *clips: int, weight: float = 3.0) -> Retake:
    return Retake(words=f"{criterion}.", clip_numbers=clips, weight=weight, criterion=criterion)


def found(before: RetakeList, review: StudyReview, most: int = 5) -> tuple[Retake, ...]:
    moved = with_retakes_of_movements(before, review, TABLES, most)
    words = handling_words(HOUSE.table("handling"))
    return with_rescues(moved, review, read_causes(HOUSE), read_cause_limits(HOUSE), words).retakes


def test_a_movement_is_asked_for_with_its_clips_and_its_change_in_words() -> None:
    (only,) = found(asked(), review_of(TILT))

    assert (only.words, only.clip_numbers) == ("Probe tilted too far.", (1, 2))
    assert change_lines(only) == [
        "The change: When the aorta comes in: tilt the cable end cranioventral, 6° to 9°. "
        "Right when the septum runs across."
    ]


def test_a_setting_is_no_movement() -> None:
    assert found(asked(), review_of(GAIN)) == ()


def test_what_a_movement_explains_is_not_asked_for_twice() -> None:
    before = asked(retake("aorta_unwanted", 1, 3), retake("apex_shown", 2), retake("septum_slope", 1))

    after = {item.criterion: item.clip_numbers for item in found(before, review_of(TILT))}

    assert after == {"": (1, 2), "aorta_unwanted": (3,), "septum_slope": (1,)}


def test_the_weightiest_stay_within_the_limit() -> None:
    air = Retake(words="No contact.", clip_numbers=(3,), weight=10.0)
    before = asked(air, retake("septum_slope", 1, weight=1.0))

    assert [item.words for item in found(before, review_of(TILT), most=2)] == ["No contact.", "Probe tilted too far."]


def test_of_two_movements_that_look_alike_the_other_is_told_as_well() -> None:
    either = replace(TILT, cause="tilt_plus_or_rock_minus", either="Try this one first; worse: go back.")
    (only,) = found(asked(), review_of(either))

    assert change_lines(only)[0].endswith("Right when the septum runs across. Try this one first; worse: go back.")


def test_a_movement_that_is_withheld_says_so_and_not_how() -> None:
    """Design §8: nothing is done about the probe while the animal fights for air."""
    held = replace(TILT, correction="", withheld="Advice is withheld.")
    (only,) = found(asked(), review_of(held, breathing=Breathing.LABOURED))

    assert change_lines(only) == ["The change: When the aorta comes in. Advice is withheld."]


def test_a_distressed_animal_is_left_alone() -> None:
    stopped = RetakeList(first_line=STOP, retakes=(), not_said=())

    assert found(stopped, review_of(TILT, breathing=Breathing.DISTRESSED)) == ()


@pytest.mark.parametrize("key", [row.key for row in TABLES.rows.values()])
def test_every_movement_of_the_house_can_be_asked_for(key: str) -> None:
    row = next(row for row in TABLES.rows.values() if row.key == key)
    (only,) = found(asked(), review_of(replace(TILT, cause=key)))

    assert only.weight == row.weight
