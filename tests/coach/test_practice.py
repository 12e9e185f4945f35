"""What several hands of one practice have in common is the machine's, and is said once, to the practice."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.coach.practice import ScannedStudy, shared_habits
from fanlight.reference.causes import read_cause_limits, read_causes
from fanlight.reference.handling import handling_words
from fanlight.reference.letter import read_least_trainees
from fanlight.reference.load import load_house
from fanlight.study import CauseFound

HOUSE = load_house()
ROWS, LIMITS = read_causes(HOUSE), read_cause_limits(HOUSE)
LEAST = read_least_trainees(HOUSE)


def cause(key: str, probability: float = 0.99, *, is_habit: bool = True) -> CauseFound:
    return CauseFound(
        cause=key, title=ROWS[key].title, level=ROWS[key].level, probability=probability, habit=0.9,
        is_habit=is_habit, clips=("c",), explains=(),
    )  # fmt: skip


def study(trainee: str, *causes: CauseFound, practice: str = "Brook Lane") -> ScannedStudy:
    return ScannedStudy(trainee=trainee, practice=practice, causes=causes)


def keys(*studies: ScannedStudy) -> list[str]:
    found = shared_habits(studies, ROWS, LIMITS.console_from, LEAST)
    return [item.cause for each in found for item in each.habits]


def test_the_same_setting_in_three_hands_is_told_once_with_its_counts() -> None:
    deep = cause("depth_large")
    hands = (study("A", deep), study("A", deep), study("b  c", deep), study("B C"), study("D", deep), study("E"))
    (found,) = shared_habits(hands, ROWS, LIMITS.console_from, LEAST)
    (habit,) = found.habits

    assert (found.practice, found.n_trainees, found.n_studies) == ("Brook Lane", 4, 6)
    assert (habit.cause, habit.n_trainees, habit.n_studies) == ("depth_large", 3, 4)
    assert habit.correction == ROWS["depth_large"].correction


def test_two_hands_are_no_matter_of_the_practice() -> None:
    assert keys(*(study(name, cause("depth_large")) for name in ("A", "B", "b"))) == []


def test_hands_of_two_practices_are_not_added_up() -> None:
    deep = cause("depth_large")

    assert keys(study("A", deep), study("B", deep), study("C", deep, practice="Elsewhere")) == []
    assert keys(study("A", deep), study("B", deep), study("C", deep, practice=" brook lane ")) == ["depth_large"]


@pytest.mark.parametrize(
    "told",
    [
        cause("contact_dry"),  # of the hand
        cause("depth_large", is_habit=False),
        cause("depth_large", LIMITS.console_from - 0.01),
    ],
)
def test_what_sits_in_the_hand_is_no_habit_or_is_not_sure_is_not_told(told: CauseFound) -> None:
    assert keys(*(study(name, told) for name in "ABCD")) == []


def test_what_is_wrong_in_most_hands_comes_first() -> None:
    deep, squares = cause("depth_large"), cause("export_compressed")
    hands = (*(study(name, deep, squares) for name in "ABC"), study("D", squares))

    assert keys(*hands) == ["export_compressed", "depth_large"]


def test_who_names_no_trainee_or_practice_counts_for_nobody() -> None:
    deep = cause("depth_large")

    assert shared_habits([study("", deep), study("A", deep, practice=" ")], ROWS, LIMITS.console_from, LEAST) == ()


def test_the_number_of_hands_is_a_house_setting_of_two_or_more(tmp_path: Path) -> None:
    own = tmp_path / "house.toml"
    own.write_text("[letter.practice]\ntrainees_min = 1\n")

    with pytest.raises(ValueError, match=r"letter\.practice\.trainees_min must be a whole number of 2 or more, got 1"):
        read_least_trainees(load_house(own))


def test_of_a_setting_whose_change_touches_the_animal_too_only_the_machine_is_told() -> None:
    otherwise = handling_words(HOUSE.table("handling")).otherwise
    hands = [study(name, cause("fundamental_imaging")) for name in "ABC"]
    (found,) = shared_habits(hands, ROWS, LIMITS.console_from, LEAST, otherwise)

    assert [item.correction for item in found.habits] == ["switch harmonic imaging on"]
