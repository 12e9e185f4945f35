"""How lengths of the tables grow with the body."""

from __future__ import annotations

import math

from fanlight.heart.animal import Animal

REFERENCE_WEIGHT_KG = 10.0  # lengths of the tables hold for this weight and grow with the cube root of the body's
_GATE_MM, _GATE_RANGE_MM = 2.0, (1.0, 4.0)  # in an animal of that weight; 2 to 5 mm are common practice, no source


def body_scale(animal: Animal) -> float:
    """Return how long this animal is beside one of the reference weight: lengths go as the cube root of mass."""
    return math.cbrt(animal.weight_kg / REFERENCE_WEIGHT_KG)


def gate_length_mm(body: float) -> float:
    """Return how long a steady hand makes the gate in an animal of this `body_scale`."""
    return min(max(_GATE_MM * body, _GATE_RANGE_MM[0]), _GATE_RANGE_MM[1])
