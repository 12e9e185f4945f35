"""How lengths of the tables grow with the body."""

from __future__ import annotations

import math

from fanlight.heart.animal import Animal

REFERENCE_WEIGHT_KG = 10.0  # lengths of the tables hold for this weight and grow with the cube root of the body's


def body_scale(animal: Animal) -> float:
    """Return how long this animal is beside one of the reference weight: lengths go as the cube root of mass."""
    return math.cbrt(animal.weight_kg / REFERENCE_WEIGHT_KG)
