"""Animals of ring A and landmarks in their pictures that the tests of the pose fit share."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.movements import Movement
from fanlight.simulate.clip.ring import Ring
from measure._pose_cases import Quality, animal_of, pose_after, seen_at

FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"
MITRAL = "right_parasternal_short_axis_mitral_valve"
BASE = "right_parasternal_short_axis_aorta"
APICAL = "left_apical_four_chamber"
SEEDS = tuple(range(300, 307))  # effusion, normal, atrium, mitral, dilated, right, thick: one class each
NOISES = (0.02, 0.03)  # of the depth


@lru_cache(maxsize=16)
def animal(seed: int) -> Animal:
    return animal_of(seed, Ring.A)


def clip_of(
    seed: int, view: str, amounts: dict[Movement, float] | None = None, noise_fraction: float = 0.025,
    overlooked_fraction: float = 0.1,
) -> ClipSeen:  # fmt: skip
    """Return what is found after movements; slides are given for an animal of 10 kg."""
    subject = animal(seed)
    lengths = (Movement.SLIDE, Movement.PRESS)
    scaled = {
        kind: amount * (subject.thorax.scale_ratio if kind in lengths else 1.0)
        for kind, amount in (amounts or {}).items()
    }
    quality = Quality(noise_fraction=noise_fraction, overlooked_fraction=overlooked_fraction)
    return seen_at(subject, view, pose_after(subject, view, scaled), np.random.default_rng([seed, 5]), quality)
