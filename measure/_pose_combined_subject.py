"""What the pose fit says of one drawn animal whose probe is wrong in two ways at once."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import numpy as np

from fanlight.heart.animal import Animal, animal_axes
from fanlight.heart.axis import Axis
from fanlight.heart.cycle import RESTING
from fanlight.heart.movements import Movement
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand_level import HandLevel
from measure._pose_cases import Quality, animal_of, scatter_of
from measure._pose_subject import GRADES, KINDS, NOISES, RIGHT, SINGLE, Amounts, _Scan, _window

Record = dict[str, Any]
PAIRS = tuple(combinations(KINDS, 2))
WITH_VIEWS = 60  # of each ring: the first seeds are fitted in three views as well, which takes four times as long
IN_TURN = 4  # seeds with one pair: every fourth animal is a cat, and each pair should meet both species


def measure_subject(job: tuple[int, Ring]) -> Record:
    """Return what is said of one animal beside what is true: of one clip, of the first also in three views."""
    seed, ring = job
    animal = animal_of(seed, ring)
    rng = np.random.default_rng([seed, 41])
    scan = _Scan(animal=animal, rng=rng, quality=Quality(noise_fraction=float(rng.uniform(*NOISES))))
    hand = scatter_of(ring, HandLevel.IMPROVING, seed)
    wrong = two_faults(animal, PAIRS[(seed // IN_TURN) % len(PAIRS)], rng)
    return {
        "seed": seed,
        "heart": animal.heart.value,
        "axis_deg": axis_deg(animal),
        "faults": [kind.value for kind in wrong],
        "single": _window([scan.clip(SINGLE[seed % len(SINGLE)], wrong, hand)]),
        "joint": _window([scan.clip(view, wrong, hand) for view in RIGHT if seed % 1_000 < WITH_VIEWS]),
    }


def two_faults(animal: Animal, kinds: tuple[Movement, Movement], rng: np.random.Generator) -> Amounts:
    """Return a clear fault of each of two kinds, each of either sense."""
    found: Amounts = {}
    for kind in kinds:
        known = FAULTS[KINDS[kind][int(rng.integers(2))]]
        amount = float(known.steps[int(rng.choice(GRADES)) - 1])
        found[kind] = amount * (animal.thorax.scale_ratio if known.grows_with_body else 1.0)
    return found


def axis_deg(animal: Animal) -> float:
    """Return how upright the heart stands: its long axis, from apex to base, above the level of the sternum."""
    return math.degrees(math.asin(float(animal_axes(animal, RESTING)[Axis.LV_LONG][2])))
