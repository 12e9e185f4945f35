"""One invented animal: heart, chest and rhythm drawn from a seed, and what lies at any point of it at any moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import array_api_compat
import numpy as np

from fanlight.heart.anatomy import Anatomy, draw_anatomy
from fanlight.heart.axis import Axis
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.landmarks import axes, landmarks
from fanlight.heart.pose import Vector
from fanlight.heart.rhythm import Arrhythmia, Rhythm, draw_rhythm
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.sampled import Sampled
from fanlight.heart.thorax import Thorax, draw_thorax, heart_shift_mm, sample_thorax
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark
from fanlight.study.patient import Species

Array = Any  # an array of the array API standard


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Animal:
    """An invented dog or cat."""

    species: Species
    weight_kg: float
    heart: HeartClass
    chest: Chest
    anatomy: Anatomy
    thorax: Thorax
    rhythm: Rhythm


def draw_animal(
    *,
    species: Species,
    weight_kg: float,
    heart: HeartClass,
    chest: Chest,
    seed: int,
    arrhythmia: Arrhythmia = "sinus",
) -> Animal:
    """Return the animal of this kind that belongs to a seed.

    Heart, chest and rhythm draw from streams of their own, so that a change in how one is drawn leaves the others.
    """
    for_heart, for_chest, for_rhythm = np.random.default_rng(seed).spawn(3)
    anatomy = draw_anatomy(species=species, weight_kg=weight_kg, heart=heart, chest=chest, rng=for_heart)
    return Animal(
        species=species,
        weight_kg=weight_kg,
        heart=heart,
        chest=chest,
        anatomy=anatomy,
        thorax=draw_thorax(species=species, weight_kg=weight_kg, chest=chest, anatomy=anatomy, rng=for_chest),
        rhythm=draw_rhythm(species=species, weight_kg=weight_kg, rng=for_rhythm, arrhythmia=arrhythmia),
    )


def sample(animal: Animal, state: CycleState, x: Array, y: Array, z: Array) -> Sampled:
    """Return what lies at points of the patient frame (mm): the heart, moved by the breath, over the chest.

    Parameters
    ----------
    animal : Animal
        The animal.
    state : CycleState
        The moment.
    x, y, z : array
        Points, mm, same shape. Any array library of the array API standard.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    moved_x, moved_y, moved_z = (float(v) for v in heart_shift_mm(animal.thorax, state.breath))
    heart = sample_heart(animal.anatomy, state, x - moved_x, y - moved_y, z - moved_z)
    chest = sample_thorax(animal.thorax, state.breath, x, y, z)
    is_heart = heart.tissue != int(Tissue.OUTSIDE)
    return Sampled(
        tissue=xp.where(is_heart, heart.tissue, chest.tissue),
        edge_mm=xp.where(is_heart, heart.edge_mm, chest.edge_mm),
        material_mm=(
            xp.where(is_heart, heart.material_mm[0], chest.material_mm[0]),
            xp.where(is_heart, heart.material_mm[1], chest.material_mm[1]),
            xp.where(is_heart, heart.material_mm[2], chest.material_mm[2]),
        ),
    )


def animal_landmarks(animal: Animal, state: CycleState) -> dict[Landmark, Vector]:
    """Return the landmarks of the heart at this moment, mm, with the shift of the breath."""
    shift = heart_shift_mm(animal.thorax, state.breath)
    return {name: np.asarray(point + shift) for name, point in landmarks(animal.anatomy, state).items()}


def animal_axes(animal: Animal, state: CycleState) -> dict[Axis, Vector]:
    """Return the directions of the heart at this moment; the breath moves the heart without turning it."""
    return axes(animal.anatomy, state)
