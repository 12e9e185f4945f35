"""An atrioventricular valve: two leaflets of fixed length that swing on a round annulus.

The leaflets are drawn as chains of two links in the plane from septal to parietal hinge and carried along the other
axis of the annulus, shrinking towards the commissures as the chord does. In this plane lengths count in radii.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fanlight.heart.distance import Points, clamp, stick
from fanlight.heart.side_by_side import most
from fanlight.heart.triple import Triple, add, dot

Array = Any  # an array of the array API standard
Flat = tuple[float, float]  # (septal to parietal, towards the atrium), in radii
_MIN_CHORD = 0.18  # near the commissures the leaflets end in the ring


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafletShape:
    """Lengths of a leaflet's two links and their directions, from its hinge; 0 degrees points across the opening."""

    links: Flat
    shut_deg: Flat
    open_deg: Flat
    prolapsed_deg: Flat = (0.0, 0.0)
    prolapsed_links: Flat = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AvValve:
    """The valve now, in rest coordinates of the heart."""

    centre: Triple
    up: Triple  # unit vector towards the atrium
    across: Triple  # unit vector from septal to parietal hinge
    along: Triple  # unit vector along the line between the commissures
    radius_mm: float
    septal: tuple[Flat, Flat, Flat]  # hinge, bend, tip
    parietal: tuple[Flat, Flat, Flat]
    shut: tuple[Flat, Flat, Flat, Flat, Flat]  # the closed line, hinge to hinge: parts atrium and ventricle
    half_mm: float  # half the thickness of a leaflet

    def at(self, flat: Flat, along: float = 0.0) -> Triple:
        """Return a point of the leaflet plane, moved `along` radii towards a commissure."""
        chord = math.sqrt(max(1.0 - along * along, _MIN_CHORD**2))
        p = add(self.centre, self.across, flat[0] * chord * self.radius_mm)
        p = add(p, self.up, flat[1] * chord * self.radius_mm)
        return add(p, self.along, along * self.radius_mm)


def chain(shape: LeafletShape, opening: float, prolapse: float) -> tuple[Flat, Flat, Flat]:
    """Return hinge, bend and tip of a septal leaflet; a parietal one is its mirror image."""
    point = (-1.0, 0.0)
    points = [point]
    shut_share = prolapse * max(1.0 - 4.0 * opening, 0.0)  # a leaflet that opens leaves its prolapse first
    for i in range(2):
        shut = shape.shut_deg[i] + shut_share * (shape.prolapsed_deg[i] - shape.shut_deg[i])
        length = shape.links[i] + shut_share * (shape.prolapsed_links[i] - shape.links[i])
        angle = math.radians(shut + opening * (shape.open_deg[i] - shut))
        point = (point[0] + length * math.cos(angle), point[1] + length * math.sin(angle))
        points.append(point)
    return points[0], points[1], points[2]


def mirrored(points: tuple[Flat, Flat, Flat]) -> tuple[Flat, Flat, Flat]:
    """Return a leaflet seen from the other side."""
    return tuple((-u, a) for u, a in points)  # type: ignore[return-value]


def make_valve(
    *,
    centre: Triple,
    up: Triple,
    across: Triple,
    along: Triple,
    radius_mm: float,
    half_mm: float,
    septal: LeafletShape,
    parietal: LeafletShape,
    opening: float,
    prolapse: float,
    septal_opening: float | None = None,
) -> AvValve:
    """Return the valve at this opening (0 shut, 1 wide open) and prolapse (0 none).

    `septal_opening` gives the septal leaflet an opening of its own, where something stands in its way.
    """
    return AvValve(
        centre=centre,
        up=up,
        across=across,
        along=along,
        radius_mm=radius_mm,
        septal=chain(septal, opening if septal_opening is None else septal_opening, prolapse),
        parietal=mirrored(chain(parietal, opening, prolapse)),
        shut=_shut(septal, parietal, prolapse),
        half_mm=half_mm,
    )


@lru_cache(maxsize=256)  # the same at all moments but those of a valve that prolapses
def _shut(septal: LeafletShape, parietal: LeafletShape, prolapse: float) -> tuple[Flat, Flat, Flat, Flat, Flat]:
    """Return the closed line, hinge to hinge."""
    left, right = chain(septal, 0.0, prolapse), mirrored(chain(parietal, 0.0, prolapse))
    meet = (0.5 * (left[2][0] + right[2][0]), 0.5 * (left[2][1] + right[2][1]))
    return left[0], left[1], meet, right[1], right[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnValve:
    """Points in the valve's own plane; across and up in radii of the chord at that place."""

    across: Array
    up: Array
    chord_mm: Array
    ring_mm: Array  # distance outside the cylinder through the annulus
    side_mm: Array  # distance beyond the commissures


def on_valve(valve: AvValve, p: Points, xp: Any) -> OnValve:
    """Return the points in the valve's plane."""
    x = _coordinate(p, valve.centre, valve.across)
    y = _coordinate(p, valve.centre, valve.along)
    z = _coordinate(p, valve.centre, valve.up)
    r = valve.radius_mm
    chord = xp.sqrt(clamp(r * r - y * y, (_MIN_CHORD * r) ** 2, r * r, xp))
    return OnValve(
        across=x / chord, up=z / chord, chord_mm=chord, ring_mm=xp.sqrt(x * x + y * y) - r, side_mm=xp.abs(y) - r
    )


def _coordinate(p: Points, origin: Triple, axis: Triple) -> Array:
    return p[0] * axis[0] + p[1] * axis[1] + p[2] * axis[2] - dot(origin, axis)


def leaflet_distances(valve: AvValve, q: OnValve, xp: Any) -> tuple[Array, Array]:
    """Return the distances to the septal and the parietal leaflet."""
    out = []
    r = valve.radius_mm
    # Towards the commissures the sheet leans, which would thin it: the chord's slope makes up for that.
    half = valve.half_mm * (0.75 + 0.25 * r / q.chord_mm)
    # There a fibrous collar joins the leaflets to the ring.
    collar = xp.maximum(xp.abs(q.ring_mm) - valve.half_mm, xp.abs(q.up * q.chord_mm + 0.01 * r) - 0.11 * r)
    for (hinge, bend, tip), side in ((valve.septal, 1.0), (valve.parietal, -1.0)):
        near = xp.minimum(stick(q.across, q.up, hinge, bend, xp), stick(q.across, q.up, bend, tip, xp))
        sheet = xp.maximum(near * q.chord_mm - half, q.side_mm - valve.half_mm)
        out.append(xp.minimum(sheet, xp.maximum(collar, q.across * q.chord_mm * side)))
    return out[0], out[1]


def above_shut_mm(valve: AvValve, q: OnValve, xp: Any) -> Array:
    """Return the height of points above the closed leaflets, mm (below 0 on the ventricle's side)."""
    line: Array | None = None
    for (u0, a0), (u1, a1) in zip(valve.shut, valve.shut[1:], strict=False):
        width = most(u1 - u0, 1e-3)
        step = clamp(q.across - u0, 0.0, width, xp) * ((a1 - a0) / width)
        line = step if line is None else line + step
    return (q.up - line - valve.shut[0][1]) * q.chord_mm
