"""The diaphragm: a dome that closes the chest behind the heart, with the liver behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Array = Any  # an array of the array API standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Diaphragm:
    """A paraboloid open towards the tail. Its top lies nearest the heart."""

    top_x_mm: float  # at the end of expiration
    centre_y_mm: float
    centre_z_mm: float
    curve_y_mm: float  # radius of curvature at the top, across
    curve_z_mm: float  # and upwards
    thickness_mm: float
    travel_mm: float  # backwards, over a quiet breath in


def behind_top_mm(diaphragm: Diaphragm, y: Array, z: Array) -> Array:
    """Return how far behind its top the dome lies at (y, z), mm."""
    across, up = y - diaphragm.centre_y_mm, z - diaphragm.centre_z_mm
    return across * across / (2.0 * diaphragm.curve_y_mm) + up * up / (2.0 * diaphragm.curve_z_mm)


def before_diaphragm_mm(diaphragm: Diaphragm, breath: float, x: Array, y: Array, z: Array) -> Array:
    """Return how far in front of the dome points lie along the body, mm; negative in diaphragm and belly."""
    return x - (diaphragm.top_x_mm - breath * diaphragm.travel_mm) + behind_top_mm(diaphragm, y, z)
