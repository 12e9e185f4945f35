"""The one change that would rescue a retake, or the plain word that none is sure enough."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.cli.check import change_lines
from fanlight.coach.causes.find import CauseTables, find_causes
from fanlight.coach.rescue import NOT_SURE, with_rescues
from fanlight.coach.retakes import Retake, RetakeList, list_retakes
from fanlight.reference.causes import read_cause_limits, read_causes, read_try_words, read_weights
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import Reach, handling_words
from fanlight.reference.load import load_house
from fanlight.study import Breathing, CauseFound, CauseLevel, ClipReading, Explained, StudyReview
from tests.coach.causes.test_find import clip
from tests.report.sample import sample_review

HOUSE = load_house()
ROWS, LIMITS, CRITERIA = read_causes(HOUSE), read_cause_limits(HOUSE), read_criteria(HOUSE)
HANDLING = handling_words(HOUSE.table("handling"))
TABLES = CauseTables(rows=ROWS, weights=read_weights(HOUSE), limits=LIMITS, criteria=CRITERIA, sure_from=0.5)


def review_of(*causes: CauseFound, breathing: Breathing = Breathing.NORMAL) -> StudyReview:
    review = sample_review()
    study = replace(review.study, request=replace(review.study.request, breathing=breathing))
    return replace(review, study=study, causes=causes)


def cause(key: str, probability: float, *clips: int, criterion: str = "overall_gain") -> CauseFound:
    keys = tuple(f"clip{number:02d}" for number in clips)
    tells = [Explained(criterion=name, clip=f"clip{n:02d}") for name in ROWS[key].telling for n in (1, 2)]
    return CauseFound(
        cause=key, title=ROWS[key].title, level=ROWS[key].level, probability=probability, habit=0.5, is_habit=False,
        clips=keys, explains=(*(Explained(criterion=criterion, clip=each) for each in keys), *tells),
    )  # fmt: skip


def retake(*clips: int, criterion: str = "overall_gain") -> RetakeList:
    asked = Retake(words="Store again.", clip_numbers=clips, weight=3.0, criterion=criterion)
    return RetakeList(first_line="", retakes=(asked,), not_said=())


def rescued(found: RetakeList, review: StudyReview) -> Retake:
    (only,) = with_rescues(found, review, ROWS, LIMITS, HANDLING).retakes
    return only


def test_the_cause_behind_the_finding_gives_its_change_in_words() -> None:
    found = rescued(retake(1, 2), review_of(cause("gain_high", 0.97, 1, 2)))

    assert found.change is not None
    row = ROWS["gain_high"]
    assert change_lines(found) == [f"The change: When {row.when}: {row.correction}. Right when {row.right_when}."]
    assert found.no_change == ""


@pytest.mark.parametrize(
    ("key", "probability", "is_named"),
    [
        ("gain_high", LIMITS.console_from, True),
        ("gain_high", LIMITS.console_from - 0.01, False),
        ("contact_lifted", LIMITS.hand_from, True),
        ("contact_lifted", LIMITS.hand_from - 0.01, False),
        ("contact_dry", LIMITS.console_from, True),  # gel spoils nothing
        ("contact_dry", LIMITS.console_from - 0.01, False),
    ],
)
def test_a_change_is_named_from_the_limit_of_its_level_on(key: str, probability: float, is_named: bool) -> None:
    found = rescued(retake(1), review_of(cause(key, probability, 1)))

    assert (found.change is not None) is is_named
    assert found.no_change == ("" if is_named else NOT_SURE)
    assert is_named or change_lines(found) == [NOT_SURE]


def tried(found: RetakeList, review: StudyReview) -> list[str]:
    (only,) = with_rescues(found, review, ROWS, LIMITS, HANDLING, read_try_words(HOUSE)).retakes
    return change_lines(only)


def test_where_nothing_is_sure_a_setting_that_is_undone_at_once_is_tried() -> None:
    row, words = ROWS["gain_high"], read_try_words(HOUSE)
    likely = cause("gain_high", LIMITS.try_from, 1)
    said = f"When {row.when}: {row.correction}. Right when {row.right_when}."

    assert tried(retake(1), review_of(likely)) == [f"The change: {words} {said}"]
    assert tried(retake(1), review_of(replace(likely, probability=LIMITS.try_from - 0.01))) == [NOT_SURE]
    assert tried(retake(1), review_of(cause("contact_lifted", LIMITS.hand_from - 0.01, 1))) == [NOT_SURE]
    sure = cause("gain_low", 0.999, 1)
    assert words not in tried(retake(1, 2), review_of(replace(likely, clips=("clip01", "clip02")), sure))[0]


def test_what_the_animal_brings_and_what_one_of_two_may_be_is_never_named() -> None:
    animal = replace(cause("gain_high", 0.999, 1), level=CauseLevel.ANIMAL)
    either = replace(cause("gain_high", 0.999, 1), alternatives=("gain_low",))

    assert rescued(retake(1), review_of(animal)).change is None
    assert rescued(retake(1), review_of(either)).change is None


def test_a_cause_of_another_finding_or_clip_rescues_nothing() -> None:
    assert rescued(retake(1), review_of(cause("gain_high", 0.999, 2))).change is None
    assert rescued(retake(1), review_of(cause("gain_high", 0.999, 1, criterion="cavity_haze"))).change is None


def test_never_more_than_one_change_and_the_one_that_mends_most_clips() -> None:
    found = rescued(
        retake(1, 2, 3), review_of(cause("contact_dry", 0.999, 1), cause("gain_low", 0.96, 2, 3))
    )  # fmt: skip

    assert found.change is not None
    assert (found.change.cause, found.change.clip_numbers) == ("gain_low", (2, 3))
    assert change_lines(found)[0].startswith("The change (clip 2, 3): When ")
    assert len(change_lines(found)) == 1


def test_of_two_that_mend_as_many_clips_the_more_probable_is_named() -> None:
    found = rescued(retake(1), review_of(cause("gain_low", 0.96, 1), cause("contact_dry", 0.999, 1)))

    assert found.change is not None
    assert found.change.cause == "contact_dry"


@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED])
def test_handling_is_withheld_unless_breathing_is_normal(breathing: Breathing) -> None:
    """Design §8: handling advice needs normal breathing; then it never holds the breath or closes the mouth."""
    lung = cause("lung_between", 0.999, 1, criterion="lung_cover")
    held = rescued(retake(1, criterion="lung_cover"), review_of(lung, breathing=breathing))
    free = rescued(retake(1, criterion="lung_cover"), review_of(lung))

    assert held.change is not None
    assert held.change.correction == ""
    assert "withheld" in change_lines(held)[0]
    assert ROWS["lung_between"].correction not in change_lines(held)[0]
    assert free.change is not None
    assert free.change.correction == ROWS["lung_between"].correction


def test_what_is_missing_has_no_change_and_needs_no_excuse() -> None:
    missing = Retake(words="Not stored yet: a view.", clip_numbers=(), weight=6.0)
    found = rescued(RetakeList(first_line="", retakes=(missing,), not_said=()), review_of())

    assert (found.change, found.no_change) == (None, "")
    assert change_lines(found) == []


def test_no_row_of_the_house_brings_a_number_into_the_list() -> None:
    for row in ROWS.values():
        assert not any(ch.isdigit() for ch in row.when + row.correction + row.right_when), row.key


def study_of(*clips: ClipReading) -> StudyReview:
    review = review_of(*find_causes(clips, TABLES))
    return replace(review, readings=clips, study_findings=(), refused=())


def test_a_whole_study_of_short_clips_is_rescued_by_the_store_length() -> None:
    """A clip that ends too early in every view is the machine's setting (common practice, no source)."""
    (short,) = {sign for sign in TABLES.weights.by_chance if sign[0] == "beats_in_clip"}
    review = study_of(*(clip(number, short) for number in range(1, 6)))
    found = with_rescues(list_retakes(review, CRITERIA, 5, 0.5), review, ROWS, LIMITS, HANDLING)
    beats = next(item for item in found.retakes if item.criterion == "beats_in_clip")

    assert beats.clip_numbers == (1, 2, 3, 4, 5)
    assert beats.change is not None
    assert beats.change.cause == "store_length_short"
    assert beats.change.clip_numbers == beats.clip_numbers


@pytest.mark.parametrize("breathing", [Breathing.LABOURED, Breathing.DISTRESSED])
def test_no_change_moves_the_probe_while_the_animal_fights_for_air(breathing: Breathing) -> None:
    moves = [key for key, row in ROWS.items() if HANDLING.reach(row.correction) is Reach.MOVES]
    assert moves
    for key in moves:
        found = rescued(retake(1, 2), review_of(cause(key, 0.999, 1, 2), breathing=breathing))
        assert found.change is not None, key
        assert (found.change.correction, bool(found.change.withheld)) == ("", True), key
