"""A great vessel's root with three sinuses and a valve of three cusps, for the aorta and the pulmonary trunk alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from fanlight.heart.distance import Points, clamp, stick
from fanlight.heart.side_by_side import for_any
from fanlight.heart.triple import Triple, add, dot, mix

Array = Any  # an array of the array API standard
_SHUT_BELOW = 0.06  # opening under which the cusps still touch along their free edges
_SINUS_LENGTH = 0.95  # of the root's diameter, from the annulus to the sinotubular rim (engineering judgement)
_EDGE_HEIGHT = 0.62  # of the sinus: where the free edges end at the wall
_OPEN_EDGE = 0.80  # of the radius there: how far from the axis the free edges of wide open cusps stand
_MIDDLE_HEIGHT = 0.36  # and in the middle of the shut valve


@dataclass(frozen=True, slots=True, kw_only=True)
class Root:
    """A vessel's root now, in rest coordinates of the heart."""

    centre: Triple  # of the annulus
    axis: Triple  # unit vector, downstream
    first_cusp: Triple  # unit vector from the axis to the middle of the first cusp, across the axis
    second: Triple  # axis x first_cusp
    diameter_mm: float  # at the sinuses, mean
    opening: float
    half_mm: float  # half the thickness of a cusp
    trefoil: float  # how far the sinuses bulge, share of the radius

    @property
    def length_mm(self) -> float:
        """Distance from the annulus to the sinotubular rim."""
        return _SINUS_LENGTH * self.diameter_mm

    @property
    def orifice_mm(self) -> float:
        """Radius of the stream between the free edges of wide open cusps: the narrowest place of the root."""
        return _OPEN_EDGE * self.radius_at(_EDGE_HEIGHT)

    def radius_at(self, share: float, cos3: float = 0.0) -> float:
        """Return the radius at a share of the sinus length."""
        bulge = math.sin(math.pi * min(max(share, 0.0), 1.0))
        return 0.5 * self.diameter_mm * (0.86 + 0.02 * share + bulge * (0.13 + self.trefoil * cos3))

    def at(self, share: float, outward: float, angle_deg: float) -> Triple:
        """Return a point of the root: height, share of the radius, angle from the first cusp."""
        angle = math.radians(angle_deg)
        reach = outward * self.radius_at(share, math.cos(3.0 * angle))
        p = add(self.centre, self.axis, share * self.length_mm)
        return add(add(p, self.first_cusp, reach * math.cos(angle)), self.second, reach * math.sin(angle))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnRoot:
    """Points along and around a root."""

    height_mm: Array  # downstream of the annulus
    rho_mm: Array
    cos3: Array  # 1 in the middle of each cusp, -1 at each commissure
    first: Array  # coordinate towards the first cusp, mm
    second: Array
    wall_mm: Array  # radius of the wall here


def on_root(root: Root, p: Points, xp: Any, bend: tuple[Triple, float] | None = None) -> OnRoot:
    """Return the points around the root; `bend` is direction and curvature (1/mm) of the vessel beyond its sinuses."""
    h = _coordinate(p, root.centre, root.axis)
    x = _coordinate(p, root.centre, root.first_cusp)
    y = _coordinate(p, root.centre, root.second)
    if bend is not None:
        past = clamp(h - root.length_mm, 0.0, 10.0 * root.diameter_mm, xp)
        off = past * past * (0.5 * bend[1])
        x = x - off * dot(bend[0], root.first_cusp)
        y = y - off * dot(bend[0], root.second)
    rho = xp.sqrt(x * x + y * y) + 1e-4  # 1e-4 mm: keeps the axis itself finite
    cosine = x / rho
    cos3 = cosine * (4.0 * cosine * cosine - 3.0)
    share = clamp(h * (1.0 / root.length_mm), 0.0, 1.0, xp)
    # A parabola stands in for the sine of the sinus profile: it is a hundredth apart and far cheaper.
    bulge = 4.0 * share * (1.0 - share)
    wall = (0.5 * root.diameter_mm) * (0.86 + 0.02 * share + bulge * (0.13 + root.trefoil * cos3))
    return OnRoot(height_mm=h, rho_mm=rho, cos3=cos3, first=x, second=y, wall_mm=wall)


def _coordinate(p: Points, origin: Triple, axis: Triple) -> Array:
    return p[0] * axis[0] + p[1] * axis[1] + p[2] * axis[2] - dot(origin, axis)


def _cusp_line(opening: float) -> tuple[tuple[float, float], ...]:
    """Return hinge, belly and free edge of a cusp as (share of the radius, share of the sinus length)."""
    belly = mix((0.5, 0.08, 0.0), (0.90, 0.26, 0.0), opening)
    edge = mix((0.0, 0.15, 0.0), (_OPEN_EDGE, _EDGE_HEIGHT, 0.0), opening)
    return (1.0, 0.02), belly[:2], edge[:2]


def cusp_distance(root: Root, q: OnRoot, xp: Any) -> Array:
    """Return the distance to the cusps: a shallow cup that meets in three lines when shut, a tube when open."""
    hinge, belly, edge = _cusp_line(root.opening)
    # Free edges form a rounded triangle while open: they stay back at the commissures' middle.
    rho = q.rho_mm * (1.0 + 0.09 * root.opening * q.cos3) / q.wall_mm
    height = q.height_mm * (1.0 / root.length_mm)
    aspect = root.length_mm / (0.5 * root.diameter_mm)
    tall = height * aspect
    near = xp.minimum(
        stick(rho, tall, (hinge[0], hinge[1] * aspect), (belly[0], belly[1] * aspect), xp),
        stick(rho, tall, (belly[0], belly[1] * aspect), (edge[0], edge[1] * aspect), xp),
    )
    f = near * (0.5 * root.diameter_mm) - root.half_mm
    shut = root.opening < _SHUT_BELOW
    if for_any(shut):
        sheets: Array = None
        for turn in (60.0, 180.0, 300.0):
            cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            ahead = q.first * cosine + q.second * sine
            aside = q.second * cosine - q.first * sine
            off = xp.maximum(xp.abs(aside), -ahead)
            sheets = off if sheets is None else xp.minimum(sheets, off)
        # The edges hang: they touch lower in the middle than at the wall.
        share = q.rho_mm / q.wall_mm
        above = q.height_mm - (_MIDDLE_HEIGHT + (_EDGE_HEIGHT - _MIDDLE_HEIGHT) * share * share) * root.length_mm
        below = 0.08 * root.length_mm - q.height_mm
        hung = xp.minimum(f, xp.maximum(sheets - root.half_mm, xp.maximum(above, below)))
        f = hung if shut is True else xp.where(shut, hung, f)
    return xp.maximum(f, q.rho_mm - q.wall_mm)


def below_cusps_mm(root: Root, q: OnRoot, xp: Any) -> Array:
    """Return how far points lie upstream of the closed cusps, mm."""
    share = q.rho_mm / q.wall_mm
    closed = root.length_mm * (0.15 - 0.14 * clamp(share, 0.0, 1.0, xp))
    return closed - q.height_mm
