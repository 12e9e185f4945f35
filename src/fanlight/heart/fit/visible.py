"""How likely a landmark is found in a picture: it lies near the plane, inside the sector, and somebody sees it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# The network learns a landmark as there within 0.15 units of the plane, as gone beyond 0.30 (training/label_sets.py).
OFF_UNITS, OFF_SOFT_UNITS = 0.225, 0.045
SECTOR_SOFT = 0.03  # of depth, and of the half width: a landmark on the border is as often cut off as not
FOUND, FALSE = 0.88, 0.01  # of those in the plane how many are found; of those far from it. Engineering judgement


def in_plane(off_units: Floats) -> Floats:
    """Return how likely landmarks so far off the plane count as lying in it."""
    return np.asarray(1.0 / (1.0 + np.exp((np.abs(off_units) - OFF_UNITS) / OFF_SOFT_UNITS)))


def in_sector(right_mm: Floats, down_mm: Floats, depth_mm: float, half_width_deg: float) -> Floats:
    """Return how likely places of the plane count as inside the sector."""
    range_mm = np.hypot(right_mm, down_mm)
    beside_deg = np.degrees(np.abs(np.arctan2(right_mm, down_mm)))
    below = (range_mm / depth_mm - 1.0) / SECTOR_SOFT
    beside = (beside_deg / half_width_deg - 1.0) / SECTOR_SOFT
    return np.asarray(1.0 / (1.0 + np.exp(np.clip(below, -60, 60))) / (1.0 + np.exp(np.clip(beside, -60, 60))))


def found(plane: Floats, sector: Floats) -> Floats:
    """Return how likely landmarks are found."""
    return FALSE + (FOUND - FALSE) * plane * sector
