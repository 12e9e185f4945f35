"""An animal's heart at one moment of an even beat, as the rules of the standard views ask about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks
from fanlight.heart.axis import Axis
from fanlight.heart.cycle import RESTING, Still, still
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Vector
from fanlight.heart.view_rule import Near, Toward
from fanlight.study import Landmark


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeartAt:
    """Landmarks and axes of an animal at one moment of an even beat, and its size, for the rules below."""

    animal: Animal
    points: dict[Landmark, Vector]
    axes: dict[Axis, Vector]
    k: float  # cube root of weight over 10 kg

    def during(self, moment: Still) -> HeartAt:
        """Return the same heart at another moment."""
        return heart_at(self.animal, still(moment))

    @property
    def hanging(self) -> HeartAt:
        """Return the heart at end-diastole with the mitral leaflets hanging wide open."""
        return heart_at(self.animal, replace(RESTING, mitral_opening=1.0))

    def at(self, *names: Landmark) -> Vector:
        """Return the mean of landmarks."""
        return np.asarray(np.mean([self.points[name] for name in names], axis=0))

    def near(self, hold_mm: float, *names: Landmark) -> list[Near]:
        """Ask the plane to pass landmarks."""
        return [Near(point_mm=self.points[name], hold_mm=hold_mm * self.k) for name in names]

    def clear(self, clear_mm: float, hold_mm: float, *names: Landmark) -> list[Near]:
        """Ask the plane to keep clear of landmarks."""
        return [
            Near(point_mm=self.points[name], hold_mm=hold_mm * self.k, clear_mm=clear_mm * self.k) for name in names
        ]

    def toward(self, axis: Axis, hold_deg: float, sign: float = 1.0) -> Toward:
        """Ask for a direction of the heart."""
        return Toward(direction=sign * self.axes[axis], hold_deg=hold_deg)

    @property
    def transverse(self) -> Vector:
        """Return the direction across the left ventricle, along the septum: cranial and ventral."""
        return np.cross(self.axes[Axis.SEPTUM_NORMAL], self.axes[Axis.LV_LONG])

    def level(self, point_mm: Vector) -> float:
        """Return how far a point lies from the ventricle's centre towards the base, mm."""
        return float((point_mm - self.points[Landmark.LV_CENTRE]) @ self.axes[Axis.LV_LONG])

    def on_axis(self, level_mm: float) -> Vector:
        """Return the point of the ventricle's long axis at a level."""
        return np.asarray(self.points[Landmark.LV_CENTRE] + level_mm * self.axes[Axis.LV_LONG])


@lru_cache(maxsize=32)
def heart_at(animal: Animal, state: CycleState) -> HeartAt:
    """Return the heart of an animal at a moment of its cycle."""
    return HeartAt(
        animal=animal,
        points=animal_landmarks(animal, state),
        axes=animal_axes(animal, state),
        k=animal.thorax.scale_ratio,
    )


def unit_vector(vector: Vector) -> Vector:
    """Return a vector at length 1."""
    return np.asarray(vector / np.linalg.norm(vector))
