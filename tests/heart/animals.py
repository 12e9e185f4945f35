"""Animals and coarse pictures that the tests of thorax, poses and movements share."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fanlight.heart.animal import Animal, draw_animal, sample
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.pose import Pose
from fanlight.heart.thorax import REST
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
ROWS = 96  # of the coarse pictures
HALF_SECTOR_DEG = 45.0


@lru_cache(maxsize=64)
def animal_of(size: str, heart: HeartClass = HeartClass.NORMAL, seed: int = SEED) -> Animal:
    """Return the animal of one of SIZES."""
    species, weight_kg, chest = SIZES[size]
    return draw_animal(species=species, weight_kg=weight_kg, heart=heart, chest=chest, seed=seed)


def picture(animal: Animal, pose: Pose, *, depth_mm: float, state: CycleState = REST) -> np.ndarray:
    """Return the tissue (row, col) in a sector of 45 degrees to each side; 0 outside it. Pixels are square."""
    step = depth_mm / ROWS
    down = (np.arange(ROWS) + 0.5) * step
    reach = int(np.ceil(np.sin(np.radians(HALF_SECTOR_DEG)) * ROWS))
    across = (np.arange(-reach, reach) + 0.5) * step
    depth, side = np.meshgrid(down, across, indexing="ij")
    in_sector = (np.abs(np.arctan2(side, depth)) < np.radians(HALF_SECTOR_DEG)) & (np.hypot(side, depth) < depth_mm)
    points = pose.to_patient(np.stack([side[in_sector], np.zeros(in_sector.sum()), depth[in_sector]], axis=-1))
    x, y, z = (np.ascontiguousarray(points[:, i], dtype=np.float32) for i in range(3))
    labels = np.zeros(depth.shape, np.uint8)
    labels[in_sector] = np.asarray(sample(animal, state, x, y, z).tissue)
    return labels
