"""One animal's heart as numbers: axes, sizes and what disease did to it. Everything else follows from these."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fanlight.heart.anatomy_sizes import Sizes, draw_sizes
from fanlight.heart.disease import Disease, reshape
from fanlight.heart.heart_frame import HeartFrame, heart_frame
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.warp import Warp
from fanlight.reference.load import load_house
from fanlight.study import House, Species

# A deep, narrow chest stands the heart up, a round one lets it lie down. Tens of degrees between breeds are common
# practice without a source; the mean of each shape stays modest, the individual adds its own.
_UPRIGHT_DEG = {Chest.DEEP: 7.0, Chest.AVERAGE: 0.0, Chest.BARREL: -6.0}
_AXIS_SD_DEG = 3.5  # each way
_AXIS_LIMIT_DEG = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Anatomy:
    """A heart at rest, from which ``sample_heart`` and ``landmarks`` build every moment of the beat."""

    species: Species
    weight_kg: float
    heart: HeartClass
    chest: Chest
    frame: HeartFrame
    sizes: Sizes
    disease: Disease
    seed_phase: float  # 0 to 1, varies small details that no measurement rests on
    warp: Warp | None = None  # a free deformation outside the family that the model draws (ring C)


@lru_cache(maxsize=1)  # reading the tables takes as long as all else of a heart; nobody changes them
def _shipped_house() -> House:
    return load_house()


def draw_anatomy(
    *,
    species: Species,
    weight_kg: float,
    heart: HeartClass,
    chest: Chest,
    rng: np.random.Generator,
    house: House | None = None,
) -> Anatomy:
    """Return one heart of this kind.

    Parameters
    ----------
    species, weight_kg, heart, chest
        The animal that is wanted.
    rng : numpy.random.Generator
        Source of everything individual; the same state gives the same heart.
    house : House, optional
        Tables whose intervals the sizes are drawn from; the shipped ones by default.

    Raises
    ------
    ValueError
        If the tables do not cover the weight.
    """
    tables = _shipped_house() if house is None else house

    def angle() -> float:
        return float(np.clip(rng.normal(0.0, _AXIS_SD_DEG), -_AXIS_LIMIT_DEG, _AXIS_LIMIT_DEG))

    frame = heart_frame(upright_deg=_UPRIGHT_DEG[chest] + angle(), sideways_deg=angle(), roll_deg=angle())
    healthy = draw_sizes(species=species, weight_kg=weight_kg, house=tables, rng=rng)
    sizes, disease = reshape(healthy, heart, species, weight_kg, rng)
    return Anatomy(
        species=species,
        weight_kg=weight_kg,
        heart=heart,
        chest=chest,
        frame=frame,
        sizes=sizes,
        disease=disease,
        seed_phase=float(rng.uniform()),
    )
