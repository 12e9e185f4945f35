"""Landmarks of drawn animals in the pictures of one window: where a recogniser or a mentor would mark them.

Every landmark of the model is put into the picture by the true pose. One near the plane and inside the sector is
found, but for some that are overlooked; its place carries noise of a share of the depth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal, animal_landmarks, draw_animal
from fanlight.heart.cycle import RESTING, Still, still
from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.seen import ClipSeen, Moment, SeenLandmark
from fanlight.heart.fit.visible import in_plane, in_sector
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import generator_of
from fanlight.simulate.steady.steady import PLAIN_WIDTH_DEG, WIDTHS_DEG
from fanlight.simulate.visit.hand import Scatter, draw_hand
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import Landmark, Species

STATES = {Moment.END_DIASTOLE: RESTING, Moment.END_SYSTOLE: still(Still.END_SYSTOLE)}
# At 10 kg: about where the far side of the heart lies in each window (as tests/heart/visible.py looks).
DEPTH_MM = {"right": 92.0, "left_apical": 118.0, "left_cranial": 96.0, "subcostal": 155.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """How well landmarks are found."""

    noise_fraction: float = 0.025  # of the depth, one standard deviation each way
    overlooked_fraction: float = 0.1
    false_fraction: float = 0.0  # of those far from the plane, how many are marked all the same


def animal_of(seed: int, ring: Ring) -> Animal:
    """Return the animal of a seed: every fourth a cat, classes and chests in turn; in ring C deformed and turned."""
    rng = np.random.default_rng([seed, 29])
    is_cat = seed % 4 == 3
    species = Species.CAT if is_cat else Species.DOG
    weight_kg = float(rng.uniform(2.5, 7.0) if is_cat else np.exp(rng.uniform(np.log(2.5), np.log(60.0))))
    animal = draw_animal(
        species=species,
        weight_kg=weight_kg,
        heart=tuple(HeartClass)[seed % len(HeartClass)],
        chest=tuple(Chest)[(seed // len(HeartClass)) % len(Chest)],
        seed=seed,
    )
    return generator_of(ring, species, weight_kg, rng).shape(animal)


def scatter_of(ring: Ring, level: HandLevel, seed: int) -> Scatter:
    """Return the small errors of one hand that are in every clip."""
    return draw_hand(level, np.random.default_rng([seed, 31]), is_shifted=ring is Ring.C).scatter


def scattered(scatter: Scatter, k: float, rng: np.random.Generator) -> dict[Movement, float]:
    """Return what a hand with this scatter is off in one clip: mm for slides, degrees for turns."""
    return {
        Movement.SLIDE: float(rng.normal(0.0, scatter.slide_mm * k)),
        Movement.ROTATE: float(rng.normal(0.0, scatter.rotate_deg)),
        Movement.TILT: float(rng.normal(0.0, scatter.tilt_deg)),
        Movement.ROCK: float(rng.normal(0.0, scatter.rock_deg)),
    }


def added(first: dict[Movement, float], second: dict[Movement, float]) -> dict[Movement, float]:
    """Return the sum of two sets of movements."""
    return {kind: first.get(kind, 0.0) + second.get(kind, 0.0) for kind in ORDER if kind in first or kind in second}


def pose_after(animal: Animal, view: str, amounts: dict[Movement, float]) -> Pose:
    """Return the pose that movements lead to from the standard one, in the order of the house."""
    pose = standard_pose(animal, view)
    for kind in ORDER:
        if amounts.get(kind, 0.0):
            pose = moved(animal, pose, kind, amounts[kind])
    return pose


def seen_at(
    animal: Animal, view: str, pose: Pose, rng: np.random.Generator, quality: Quality | None = None,
    asked: Sequence[Landmark] = tuple(Landmark),
) -> ClipSeen:  # fmt: skip
    """Return what is found in the picture of a pose."""
    how = quality or Quality()
    depth = next(mm for start, mm in DEPTH_MM.items() if view.startswith(start)) * animal.thorax.scale_ratio
    half = WIDTHS_DEG.get(view, PLAIN_WIDTH_DEG) / 2
    noise = how.noise_fraction * depth
    seen, missed = [], []
    for moment, state in STATES.items():
        places = animal_landmarks(animal, state)
        for mark in asked:
            right, off, down = pose.to_probe(places[mark])
            plane = float(in_plane(np.asarray(off / animal.anatomy.sizes.unit_mm)))
            sector = float(in_sector(np.asarray(right), np.asarray(down), depth, half))
            likely = plane * sector * (1.0 - how.overlooked_fraction) + how.false_fraction
            if rng.uniform() < likely:
                error = rng.normal(0.0, noise, 2)
                seen.append(
                    SeenLandmark(
                        landmark=mark, moment=moment, right_mm=float(right + error[0]),
                        down_mm=float(down + error[1]), sd_mm=noise,
                    )
                )  # fmt: skip
            else:
                missed.append((mark, moment))
    return ClipSeen(view=view, depth_mm=depth, half_width_deg=half, seen=tuple(seen), missed=tuple(missed))


def without(clip: ClipSeen, keep: Sequence[Landmark]) -> ClipSeen:
    """Return a clip in which only these landmarks were looked for."""
    return replace(
        clip,
        seen=tuple(one for one in clip.seen if one.landmark in keep),
        missed=tuple(pair for pair in clip.missed if pair[0] in keep),
    )
