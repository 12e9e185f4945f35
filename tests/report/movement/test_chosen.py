"""Which movements get pictures, where the probe stands in them, and how far it is moved back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose_difference import twist_between
from fanlight.heart.standard_poses import standard_pose
from fanlight.report.movement.chosen import chosen_moves
from fanlight.report.movement.model_animal import model_animal, moved_poses
from fanlight.study import Breathing, EitherMovement, LandmarksBy, Species
from tests.report.movement.moves import FOUR, TABLES, moved_review, offset, stand

PAIR = EitherMovement(
    first="slide", first_sense=1, first_probability=0.7, second="tilt", second_sense=-1, second_probability=0.4,
    probability=0.96,
)  # fmt: skip


def test_a_movement_is_pictured_under_the_cause_of_its_correction_in_the_surest_clip() -> None:
    """The pictures belong to the words beside them, and show the clip of which they are likeliest true."""
    review = moved_review(stand(offset("tilt", 8.0, 0.96)), stand(offset("tilt", 12.0, 0.99), clip="clip02"))
    (found,) = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()

    assert found.cause == review.corrections[0].cause == "tilt_plus"
    assert (found.clip, found.view, found.stood) == ("clip02", FOUR, (("tilt", 12.0),))


def test_the_way_back_is_the_middle_of_the_range_that_the_letter_says() -> None:
    """ "6° to 12°" is drawn as 9° the other way; what reaches below what counts begins where it counts."""
    review = moved_review(stand(offset("tilt", 9.0, half=3.0)))
    assert "6° to 12°" in review.corrections[0].correction
    (found,) = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()
    (turn,) = found.back
    assert turn.movement is Movement.TILT
    assert turn.amount == pytest.approx(-9.0)

    review = moved_review(stand(offset("rock", -6.0, half=5.0)))  # 1 to 11, and 4 counts
    assert "4° to 11°" in review.corrections[0].correction
    (found,) = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()
    assert found.back[0].amount == pytest.approx(7.5)


def test_what_is_withheld_or_not_named_has_no_pictures() -> None:
    """Nobody is shown what to do with the probe on an animal that fights for air, nor what nothing is sure of."""
    tilted = stand(offset("tilt", 9.0))
    withheld = moved_review(tilted, breathing=Breathing.LABOURED)
    assert withheld.corrections[0].withheld
    assert chosen_moves(withheld.corrections, withheld.stands, TABLES, Breathing.NORMAL) == {}

    named = moved_review(tilted)
    by_network = replace(tilted, clips=(replace(tilted.clips[0], given_by=LandmarksBy.NETWORK),))
    silent = replace(tilted, clips=(replace(tilted.clips[0], silent="the landmarks fit no heart"),))
    for stands in ((), (by_network,), (silent,)):
        assert chosen_moves(named.corrections, stands, TABLES, Breathing.NORMAL) == {}
    assert (
        chosen_moves(moved_review().corrections, (tilted,), TABLES, Breathing.NORMAL) == {}
    )  # the letter does not name it


def test_an_either_or_has_both_ways_and_one_pose() -> None:
    """The means together are the pose that the landmarks ask for; each way back is the other sense."""
    review = moved_review(stand(offset("slide", 8.0, 0.7), offset("tilt", -6.0, 0.4), pairs=(PAIR,)))
    (found,) = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()

    assert found.stood == (("slide", 8.0), ("tilt", -6.0))
    assert [(turn.movement, np.sign(turn.amount)) for turn in found.back] == [(Movement.SLIDE, -1), (Movement.TILT, 1)]


def test_the_second_of_two_that_a_mentor_puts_in_place_of_the_first_is_drawn_alone() -> None:
    """The same pose before, the plane after it, and the way of the second."""
    review = moved_review(stand(offset("slide", 8.0, 0.7), offset("tilt", -6.0, 0.4), pairs=(PAIR,)))
    second = replace(review.corrections[0], cause="tilt_minus", either="")
    (found,) = chosen_moves((second,), review.stands, TABLES, Breathing.NORMAL).values()

    assert found.stood == (("slide", 8.0), ("tilt", -6.0))
    assert [turn.movement for turn in found.back] == [Movement.TILT]
    assert (found.either, found.is_open, found.others) == ("slide", False, 0)
    animal = model_animal(Species.DOG, 12.0)
    left = twist_between(standard_pose(animal, FOUR), moved_poses(animal, found).after)
    assert np.linalg.norm([left.tilt_deg, left.rock_deg, left.rotate_deg]) < 0.01


def test_of_an_either_or_the_movement_that_is_not_advised_now_is_not_drawn() -> None:
    """To another space goes nobody before breathing is known to be normal; no drawing may say otherwise."""
    pair = replace(PAIR, second="space", second_sense=1)
    review = moved_review(stand(offset("slide", 8.0, 0.7), offset("space", 0.8, 0.4), pairs=(pair,)))
    assert "towards the tail" in review.corrections[0].either

    drawn = {}
    for breathing in (Breathing.NORMAL, Breathing.NOT_STATED):
        (found,) = chosen_moves(review.corrections, review.stands, TABLES, breathing).values()
        drawn[breathing] = [turn.movement for turn in found.back]
        assert found.either == "space"
    assert drawn[Breathing.NORMAL] == [Movement.SLIDE, Movement.SPACE]
    assert drawn[Breathing.NOT_STATED] == [Movement.SLIDE]


@pytest.mark.parametrize("movement", ["space", "slide", "rotate", "tilt", "rock"])
@pytest.mark.parametrize("sense", [1, -1])
def test_before_stands_off_the_standard_plane_and_after_stands_on_it(movement: str, sense: int) -> None:
    """With a range even about its mean the movement leads back to the standard plane of the model."""
    far: dict[str, float] = {"space": 0.8, "slide": 8.0, "rotate": 15.0, "tilt": 9.0, "rock": 12.0}
    amount = sense * far[movement]
    review = moved_review(stand(offset(movement, amount)))
    (found,) = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()
    animal = model_animal(Species.DOG, 12.0)
    poses, standard = moved_poses(animal, found), standard_pose(animal, FOUR)

    expected = moved(animal, standard, Movement(movement), amount)
    assert poses.before.origin_mm == pytest.approx(expected.origin_mm)
    assert poses.before.axes == pytest.approx(expected.axes)
    back, away = (twist_between(standard, pose) for pose in (poses.after, poses.before))
    # A re-aimed slide returns to its place, and to its direction but for the aim that each pose has: a share of it.
    turn, from_turn = (float(np.linalg.norm([each.rotate_deg, each.tilt_deg, each.rock_deg])) for each in (back, away))
    assert np.linalg.norm(back.shift_mm) < 0.05
    assert turn < 0.1 * max(from_turn, 1.0)


def test_of_two_movements_in_a_clip_the_other_is_still_to_be_done() -> None:
    """A picture after one movement does not promise what two would give."""
    review = moved_review(stand(offset("tilt", 9.0), offset("rock", 14.0, 0.99)))
    moves = chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL)
    animal = model_animal(Species.DOG, 12.0)
    after = moved_poses(animal, moves["tilt_plus"]).after

    assert all(move.others == 1 and move.stood == (("tilt", 9.0), ("rock", 14.0)) for move in moves.values())
    left = twist_between(standard_pose(animal, FOUR), after)
    assert left.rock_deg == pytest.approx(14.0, abs=0.5)
    assert abs(left.tilt_deg) < 2.5  # rock and tilt turn about each other's axes
