"""Draws of one movement, told in the units of the house."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.limits import scales, unit_name
from fanlight.heart.fit.pose_values import Estimate, Offset

Floats = NDArray[np.float64]


def offset_of(amounts: Floats, kind: int, limit: float, unit_mm: float) -> Offset:
    """Return what draws (N,) of one movement say, in the fit's units."""
    factor = float(scales(unit_mm)[kind])
    return Offset(
        movement=ORDER[kind],
        unit=unit_name(ORDER[kind]),
        amount=estimate(amounts * factor),
        limit=limit * factor,
        plus_probability=float(np.mean(amounts > limit)),
        minus_probability=float(np.mean(amounts < -limit)),
    )


def estimate(draws: Floats) -> Estimate:
    """Return mean and central 90 % of draws (N,)."""
    low, high = np.percentile(draws, [5.0, 95.0])
    return Estimate(mean=float(np.mean(draws)), low=float(low), high=float(high))
