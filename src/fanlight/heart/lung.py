"""Where lung is kept from the chest wall: the cardiac notches, and how breathing closes them.

Everything in the chest that is not heart, diaphragm or fat is lung. Where the heart lies against the wall, lung leaves
a notch; a breath in lets its margins slide over the heart until the notch is all but shut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import array_api_compat

from fanlight.heart.pose import Vector

Array = Any  # an array of the array API standard

# Engineering judgement, no source: a full breath in leaves a notch a fraction of its radius, so that a probe that stood
# well sees through a slit or through lung; quiet breathing goes a part of that way.
SHUT_FRACTION = 0.70


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Notch:
    """What lies within a radius of a line is free of lung: along a few spaces of the skin, or round a ligament."""

    start_mm: Vector  # (3,)
    end_mm: Vector  # (3,), another place than the start
    radius_mm: float
    follows_breath: bool  # False: fat that lung cannot enter


def outside_notches_mm(notches: Sequence[Notch], breath: float, x: Array, y: Array, z: Array) -> Array:
    """Return how far outside every notch points lie, mm; negative inside one.

    Raises
    ------
    ValueError
        If no notch is given: such a chest lets no probe see the heart.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    least = None
    for notch in notches:
        ax, ay, az = (float(v) for v in notch.start_mm)
        bx, by, bz = (float(v) for v in notch.end_mm - notch.start_mm)
        dx, dy, dz = x - ax, y - ay, z - az
        along = xp.clip((dx * bx + dy * by + dz * bz) / (bx * bx + by * by + bz * bz), 0.0, 1.0)
        dx, dy, dz = dx - along * bx, dy - along * by, dz - along * bz
        radius = notch.radius_mm * (1.0 - SHUT_FRACTION * breath if notch.follows_breath else 1.0)
        away = xp.sqrt(dx * dx + dy * dy + dz * dz) - radius
        least = away if least is None else xp.minimum(least, away)
    if least is None:
        raise ValueError("a chest without a cardiac notch lets no probe see the heart; give at least one notch")
    return least
