"""Rods and eggs: the two solids that atria, auricles, vessels and papillary muscles are made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fanlight.heart.distance import Points, capsule, ellipsoid
from fanlight.heart.paint import Box, Window, box_around
from fanlight.heart.side_by_side import for_any
from fanlight.heart.triple import Triple

Array = Any  # an array of the array API standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Rod:
    """A tapered rod with round ends."""

    start: Triple
    end: Triple
    start_mm: float
    end_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Egg:
    """An ellipsoid along the heart's axes; its two halves along the depth may be longer, each by its own factor."""

    centre: Triple
    radii: Triple
    rightwards: float = 1.0  # the half at smaller c
    leftwards: float = 1.0  # the half at larger c


def rod_distance(p: Points, rod: Rod, xp: Any, more_mm: float = 0.0) -> Array:
    """Return the distance to a rod, thickened by `more_mm`."""
    return capsule(p, rod.start, rod.end, rod.start_mm + more_mm, rod.end_mm + more_mm, xp)


def egg_distance(p: Points, egg: Egg, xp: Any, more_mm: float = 0.0) -> Array:
    """Return the distance to an ellipsoid, its radii widened by `more_mm`."""
    a, b, c = egg.radii
    if for_any(egg.rightwards != 1.0) or for_any(egg.leftwards != 1.0):
        off = p[2] - egg.centre[2]
        p = (p[0], p[1], egg.centre[2] + xp.where(off < 0.0, off * (1.0 / egg.rightwards), off * (1.0 / egg.leftwards)))
    return ellipsoid(p, egg.centre, (a + more_mm, b + more_mm, c + more_mm), xp)


def solid_distance(p: Points, solid: Rod | Egg, xp: Any, more_mm: float = 0.0) -> Array:
    """Return the distance to a rod or an egg."""
    if isinstance(solid, Rod):
        return rod_distance(p, solid, xp, more_mm)
    return egg_distance(p, solid, xp, more_mm)


def solid_at(window: Window, solid: Rod | Egg, more_mm: float = 0.0) -> Array:
    """Return the distance to a rod or an egg at a window's points."""
    return solid_distance(window.points, solid, window.xp, more_mm)


def rods_box(*rods: Rod, more_mm: float = 0.0) -> Box:
    """Return the bounds of rods."""
    balls = [(r.start, r.start_mm + more_mm) for r in rods] + [(r.end, r.end_mm + more_mm) for r in rods]
    return box_around(*balls)


def egg_box(egg: Egg, more_mm: float) -> Box:
    """Return the bounds of an ellipsoid."""
    c, r = egg.centre, egg.radii
    return Box(
        low=(c[0] - r[0] - more_mm, c[1] - r[1] - more_mm, c[2] - egg.rightwards * (r[2] + more_mm)),
        high=(c[0] + r[0] + more_mm, c[1] + r[1] + more_mm, c[2] + egg.leftwards * (r[2] + more_mm)),
    )
