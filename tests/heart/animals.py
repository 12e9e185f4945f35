"""Animals and coarse pictures that the tests of thorax, poses and movements share."""

from __future__ import annotations

from functools import lru_cache

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import standard_pose
from fanlight.study.patient import Species

# The sizes that the model is asked to hold for, each with a chest that such an animal may have.
SIZES = {
    "dog 3 kg": (Species.DOG, 3.0, Chest.AVERAGE),
    "dog 10 kg": (Species.DOG, 10.0, Chest.AVERAGE),
    "dog 25 kg": (Species.DOG, 25.0, Chest.BARREL),
    "dog 45 kg": (Species.DOG, 45.0, Chest.DEEP),
    "cat 4 kg": (Species.CAT, 4.0, Chest.AVERAGE),
}
SEED = 303  # ring A


@lru_cache(maxsize=64)
def animal_of(size: str, heart: HeartClass = HeartClass.NORMAL, seed: int = SEED) -> Animal:
    """Return the animal of one of SIZES."""
    species, weight_kg, chest = SIZES[size]
    return draw_animal(species=species, weight_kg=weight_kg, heart=heart, chest=chest, seed=seed)


# Every size with a healthy heart, and one size with every kind of heart.
ALL_CASES = [(size, HeartClass.NORMAL) for size in SIZES] + [
    ("dog 10 kg", heart) for heart in HeartClass if heart is not HeartClass.NORMAL
]


@lru_cache(maxsize=512)
def standard_pose_of(size: str, heart: HeartClass, view: str) -> Pose:
    """Return the pose of a standard view on one of the animals."""
    return standard_pose(animal_of(size, heart), view)
