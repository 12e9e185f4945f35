"""From which amount on an offset counts: below it nobody would correct a hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.forward import LENGTHS, ORDER, TURNS
from fanlight.heart.movements import Movement

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Least amounts that count. Lengths as shares of the left ventricle's healthy diameter. Engineering judgement.

    Just above what a steady hand scatters, and below a clear fault (5 mm at 10 kg, 6° of tilt, 10° of rotation).
    """

    slide_ratio: float = 0.10
    press_ratio: float = 0.10
    space_ratio: float = 0.20
    rotate_deg: float = 5.0
    tilt_deg: float = 3.0
    rock_deg: float = 4.0

    def internal(self) -> Floats:
        """Return the limits (6,) in the order and units of the fit."""
        by_kind = {
            Movement.SPACE: self.space_ratio,
            Movement.SLIDE: self.slide_ratio,
            Movement.PRESS: self.press_ratio,
            Movement.ROTATE: np.radians(self.rotate_deg),
            Movement.TILT: np.radians(self.tilt_deg),
            Movement.ROCK: np.radians(self.rock_deg),
        }
        return np.array([by_kind[kind] for kind in ORDER])


def scales(unit_mm: float) -> Floats:
    """Return the factors (6,) from the fit's own units to spaces, mm and degrees."""
    return np.array([unit_mm if kind in LENGTHS else np.degrees(1.0) if kind in TURNS else 1.0 for kind in ORDER])


def unit_name(kind: Movement) -> str:
    """Return the unit in which a movement is told."""
    return "mm" if kind in LENGTHS else "deg" if kind in TURNS else "spaces"
