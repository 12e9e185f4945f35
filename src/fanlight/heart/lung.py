"""Where lung is kept from the chest wall: the cardiac notches, and how breathing slides their margins.

Everything in the chest that is not heart, diaphragm or fat is lung. Where the heart lies against the wall, lung leaves
a notch. A breath in lets the margin that lies towards the back slide down over the heart: a quiet one by a few mm, so
that the picture loses an edge; a deep one on and on, until no probe there sees the heart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import array_api_compat
import numpy as np

from fanlight.heart.distance import clamp
from fanlight.heart.pose import Vector

Array = Any  # an array of the array API standard

# Of its radius, by which a notch narrows in a quiet breath, and what is left of it however deep the breath.
# Engineering judgement, no source: lung comes from all sides, but most from the back.
NARROWS_FRACTION, LEAST_FRACTION = 0.08, 0.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Notch:
    """What lies within a radius of a line is free of lung: along a few spaces of the skin, or round a ligament."""

    start_mm: Vector  # (3,)
    end_mm: Vector  # (3,), another place than the start
    radius_mm: float  # over the skin
    inward: Vector  # (3,), unit: the way to the heart
    depth_ratio: float  # how much further the notch reaches that way than over the skin
    slide_mm: Vector  # (3,), by which a quiet breath in moves it; none: fat that lung cannot enter
    open_mm: float  # how far beyond the line, in the direction of the slide, the notch stays open: to the sternum
    side: int  # 1 left, -1 right: a lung keeps to its side of the chest; 0: across
    side_ends_y_mm: float  # where that side ends


def outside_notches_mm(notches: Sequence[Notch], breath: float, x: Array, y: Array, z: Array) -> Array:
    """Return how far outside every notch points lie, mm; negative inside one.

    Parameters
    ----------
    notches : sequence of Notch
        The notches of a chest, at the end of expiration.
    breath : float
        0 end of expiration, 1 end of a quiet breath in, above 1 a deeper one.
    x, y, z : array
        Points of the patient frame, mm, same shape.

    Raises
    ------
    ValueError
        If no notch is given: such a chest lets no probe see the heart.
    """

    def at(notch: Notch) -> tuple[tuple[float, float, float], float]:
        """Return where a notch begins, and its radius."""
        ax, ay, az = (float(v) for v in notch.start_mm + breath * notch.slide_mm)
        return (ax, ay, az), _radius_mm(notch, breath)

    return _outside(notches, at, (x, y, z))


def outside_notches_at(notches: Sequence[Notch], breaths: Sequence[float], x: Array, y: Array, z: Array) -> Array:
    """Return the same (m, n) at m moments of the breath side by side, NumPy points (n,)."""

    def at(notch: Notch) -> tuple[tuple[Array, Array, Array], Array]:
        starts = np.asarray([notch.start_mm + breath * notch.slide_mm for breath in breaths], np.float32)
        radius = np.asarray([_radius_mm(notch, breath) for breath in breaths], np.float32)
        ax, ay, az = starts.T[..., None]
        return (ax, ay, az), radius[:, None]

    return _outside(notches, at, (x, y, z))


def _radius_mm(notch: Notch, breath: float) -> float:
    """Return a notch's radius: in a breath what lung can enter narrows."""
    narrows = bool(notch.slide_mm.any())
    return notch.radius_mm * max(LEAST_FRACTION, 1.0 - NARROWS_FRACTION * breath) if narrows else notch.radius_mm


def _outside(
    notches: Sequence[Notch], at: Callable[[Notch], tuple[Any, Any]], points: tuple[Array, Array, Array]
) -> Array:
    """Return how far outside every notch points lie; `at` tells where one begins, and its radius."""
    xp = array_api_compat.array_namespace(*points)
    x, y, z = points
    least = None
    for notch in notches:
        (ax, ay, az), radius = at(notch)
        bx, by, bz = (float(v) for v in notch.end_mm - notch.start_mm)
        ix, iy, iz = (float(v) for v in notch.inward)
        dx, dy, dz = x - ax, y - ay, z - az
        along = clamp((dx * bx + dy * by + dz * bz) / (bx * bx + by * by + bz * bz), 0.0, 1.0, xp)
        dx, dy, dz = dx - along * bx, dy - along * by, dz - along * bz
        slide = float(np.linalg.norm(notch.slide_mm))
        if slide > 0.0:
            sx, sy, sz = (float(v) for v in notch.slide_mm / slide)
            down = clamp(dx * sx + dy * sy + dz * sz, 0.0, notch.open_mm, xp)
            dx, dy, dz = dx - down * sx, dy - down * sy, dz - down * sz
        deep = dx * ix + dy * iy + dz * iz
        squeezed = 1.0 - 1.0 / (notch.depth_ratio * notch.depth_ratio)
        away = xp.sqrt(xp.maximum(dx * dx + dy * dy + dz * dz - squeezed * deep * deep, 0.0)) - radius
        if notch.side:
            away = xp.maximum(away, (notch.side_ends_y_mm - y) * notch.side)
        least = away if least is None else xp.minimum(least, away)
    if least is None:
        raise ValueError("a chest without a cardiac notch lets no probe see the heart; give at least one notch")
    return least
