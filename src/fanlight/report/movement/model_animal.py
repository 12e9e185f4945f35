"""The model animal that the pictures are drawn from, and where the probe stands on it before and after a movement."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose
from fanlight.heart.pose_difference import carried_out
from fanlight.heart.standard_poses import standard_pose
from fanlight.report.movement.chosen import ChosenMove, Turn, steps_of
from fanlight.study.patient import Species

MODEL_SEED = 1  # of ring A: one model for all, of an ordinary chest, so that pictures of two letters can be compared
USUAL_KG = {Species.DOG: 10.0, Species.CAT: 4.0}  # for the drawing, where no weight is known


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MovedPoses:
    """Where the probe stood, and where it stands after the movement that is asked for."""

    before: Pose
    after: Pose


@lru_cache(maxsize=16)  # a letter draws several movements on one animal, and a desk draws its preview again and again
def model_animal(species: Species, weight_kg: float) -> Animal:
    """Return a healthy animal of this size with an average chest.

    Raises
    ------
    ValueError
        If the model makes no animal of that weight.
    """
    return draw_animal(
        species=species, weight_kg=weight_kg, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=MODEL_SEED
    )


def moved_poses(animal: Animal, move: ChosenMove) -> MovedPoses:
    """Return the likeliest pose of the clip on this animal, and the one after the movement.

    Of two movements that no picture tells apart both are taken back: whichever is right leads there.

    Raises
    ------
    ValueError
        If no standard plane is known of the view, or the movement would leave this side of the chest.
    """
    standard = standard_pose(animal, move.view)
    before = carried_out(animal, standard, steps_of(move.stood))
    if not move.either:
        return MovedPoses(before=before, after=after_turn(animal, before, move.back[0]))
    taken_back = (move.back[0].movement.value, move.either)
    left = tuple(each for each in move.stood if each[0] not in taken_back)
    return MovedPoses(before=before, after=carried_out(animal, standard, steps_of(left)))


def after_turn(animal: Animal, pose: Pose, turn: Turn) -> Pose:
    """Return the pose after one movement of the hand; a slide stays aimed at the point that it is aimed at."""
    return moved(animal, pose, Movement(turn.movement), turn.amount)
