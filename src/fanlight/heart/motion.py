"""How fast what lies at points of the patient moves: blood that flows, walls that beat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Array = Any  # an array of the array API standard


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """Velocity at points of the patient frame. All arrays have the shape of the points."""

    velocity_mm_s: tuple[Array, Array, Array]  # x, y, z of the patient, float32
    unsteady_mm_s: Array  # float32, standard deviation about it, the same in all directions: 0 where flow is laminar
