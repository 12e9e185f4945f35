"""The volume of a shape that is given as a signed distance, summed on a coarse grid."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from fanlight.heart.distance import Points
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.paint import Box

Array = Any  # an array of the array API standard
_STEPS = 24  # along each axis: within about a hundredth of a grid twice as fine


def summed_mm3(distance: Callable[[Points], Array], box: Box, motion: BaseMotion) -> float:
    """Return the volume now of a shape drawn at rest along the long axis.

    Parameters
    ----------
    distance : callable
        Signed distance at points in rest coordinates, mm: below 0 inside.
    box : Box
        Bounds of the shape in rest coordinates, mm.
    motion : BaseMotion
        Where the base has gone: below it all is shortened, above it stretched.
    """
    sides, cell = [], 1.0
    for low, high in zip(box.low, box.high, strict=True):
        step = (high - low) / _STEPS
        sides.append(low + step * (np.arange(_STEPS) + 0.5))
        cell *= step
    a, b, c = np.meshgrid(*sides, indexing="ij")
    share = np.clip(0.5 - distance((a, b, c)) / cell ** (1.0 / 3.0), 0.0, 1.0)  # cells on the border count in part
    above = 1.0 + motion.descent_mm * (1.0 - motion.kept) / (motion.top_mm - motion.base_mm)
    return float((share * np.where(a < motion.base_mm, motion.shortening, above)).sum()) * cell
