"""Hearts, moments and sampled blocks that the tests of the heart's shapes share."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.anatomy import Anatomy, draw_anatomy
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.sampled import Sampled
from fanlight.study import Species

SEED = 41  # ring A


class Middling:
    """A source of chance that always draws the middle: the heart that every other one scatters around."""

    def normal(self, mean: float = 0.0, spread: float = 1.0) -> float:
        return mean

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        return 0.5 * (low + high)


@lru_cache(maxsize=64)
def heart_of(
    weight_kg: float = 10.0,
    heart: HeartClass = HeartClass.NORMAL,
    species: Species = Species.DOG,
    chest: Chest = Chest.AVERAGE,
    seed: int | None = None,
) -> Anatomy:
    """Return the middling heart of a kind, or the one of a seed."""
    rng = Middling() if seed is None else np.random.default_rng(seed)
    return draw_anatomy(species=species, weight_kg=weight_kg, heart=heart, chest=chest, rng=rng)  # type: ignore[arg-type]


def moment(*, contraction: float = 0.0, filling: float = 0.0, inflow: float = 0.0, outflow: float = 0.0) -> CycleState:
    """Return a moment of the beat at which left and right heart do the same."""
    return CycleState(
        time_ms=0.0,
        beat=0,
        phase=0.0,
        contraction=contraction,
        right_contraction=contraction,
        base_descent=contraction,
        atrial_filling=filling,
        mitral_opening=inflow,
        tricuspid_opening=inflow,
        aortic_opening=outflow,
        pulmonic_opening=outflow,
        breath=0.0,
    )


END_DIASTOLE = moment()  # all valves shut
END_SYSTOLE = moment(contraction=1.0, filling=1.0)
EJECTION = moment(contraction=0.5, filling=0.5, outflow=1.0)
FILLING = moment(contraction=0.4, filling=0.7, inflow=1.0)
EARLY_DIASTOLE = moment(contraction=0.3, filling=0.9)


def block(
    anatomy: Anatomy, state: CycleState, low_mm: tuple[float, ...], high_mm: tuple[float, ...], step_mm: float
) -> tuple[Sampled, NDArray[np.float64]]:
    """Return the heart on a grid between two corners given in heart coordinates, and the grid (3, a, b, c)."""
    axes = [np.arange(lo, hi, step_mm) for lo, hi in zip(low_mm, high_mm, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"))
    frame = np.array([anatomy.frame.long, anatomy.frame.front, anatomy.frame.depth])
    x, y, z = np.einsum("hp,habc->pabc", frame, grid).astype(np.float32)
    return sample_heart(anatomy, state, x, y, z), grid


def whole(anatomy: Anatomy, state: CycleState, steps_per_unit: int) -> tuple[Sampled, float]:
    """Return the whole heart on a grid and the volume of a cell, mL."""
    u = anatomy.sizes.unit_mm
    spare = anatomy.disease.effusion_mm
    step = u / steps_per_unit
    low = (-1.9 * u - spare, -1.8 * u - spare, -2.0 * u - spare)
    high = (2.3 * u + spare, 1.8 * u + spare, 1.6 * u + spare)
    return block(anatomy, state, low, high, step)[0], step**3 / 1000.0
