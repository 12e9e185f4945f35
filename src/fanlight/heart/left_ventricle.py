"""The left ventricle: cavity, walls, papillary muscles and the outflow tract below the aortic valve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.distance import Points, clamp
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.rods import Rod
from fanlight.heart.side_by_side import for_any

Array = Any  # an array of the array API standard

# Shape in the units named; engineering judgement from anatomy pictures unless a source stands beside it.
_BASE_SHARE = 0.35  # of the length from apex to mitral plane lies above the widest level
_BASE_RADIUS = 0.88  # of the radius at the mitral plane
# Power by which the walls bend towards the base: all but straight where the chordae are, so that the level at which
# published systolic sizes are taken contracts like the middle although the base moves through it.
_BOWL = 4
# Muscle at the base and at the apex narrows by these shares of what the middle does, so that the ejection fraction of
# discs (55 to 60 %, from memory) goes with the fractional shortening that is published for the middle.
_BASE_SQUEEZE, _APEX_SQUEEZE = 0.65, 0.55
_MEAN_SQUEEZE = 0.85  # of the middle's, over all levels: with it the volume follows the flow (see `_walls_share`)
_RING_SQUEEZE = 0.45  # and the fibrous rings on it by this one: the mitral ring loses about a quarter of its area
_APEX_WALL = 0.6  # of the free wall: the apex is thin
_BASE_WALL = 0.62  # of the wall is left at the fibrous base
_CAP_UNITS = 0.05  # thickness of the fibrous floor around the valves
_PAPILLARY_DEG = 52.0  # from the line septum to free wall, to either side


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftVentricle:
    """The left ventricle now. Along the long axis in rest coordinates, across it as it is."""

    radius_mm: float
    apex_radius_mm: float  # what the radius would be at the apex, by the squeeze there
    apex_mm: float  # depth of the inner apex below the widest level, above 0
    base_mm: float
    base_radius_mm: float
    ring_ratio: float  # size of the valves' rings over that at rest
    septum_mm: float
    free_wall_mm: float
    apex_wall_mm: float
    base_wall_share: float
    septal_share: float  # 1 round, less when the septum is flattened
    cap_mm: float
    rest_radius_mm: float
    rest_septum_mm: float
    rest_free_wall_mm: float
    rest_base_radius_mm: float

    @property
    def septal_surface_mm(self) -> float:
        """Distance of the right side of the septum from the long axis."""
        return self.radius_mm * self.septal_share + self.septum_mm

    @property
    def outer_mm(self) -> float:
        return self.radius_mm + self.free_wall_mm

    def inner_radius_at(self, a: float) -> float:
        """Return the radius of the cavity at a level of the long axis."""
        if a < 0:
            radius = self.radius_mm + (self.apex_radius_mm - self.radius_mm) * min(-a / self.apex_mm, 1.0) ** 2
            return radius * math.sqrt(max(1.0 - (a / self.apex_mm) ** 2, 0.0))
        return self.radius_mm + (self.base_radius_mm - self.radius_mm) * (a / self.base_mm) ** _BOWL


def base_motion(anatomy: Anatomy, state: CycleState) -> BaseMotion:
    """Return how far the atrioventricular plane has come down."""
    sizes = anatomy.sizes
    length = sizes.lv_length_ratio * sizes.lv_diameter_mm
    base = _BASE_SHARE * length
    apex = -(length - base) - _APEX_WALL * sizes.free_wall_mm
    return BaseMotion(
        apex_mm=apex,
        base_mm=base,
        top_mm=base + 1.1 * sizes.unit_mm,
        descent_mm=sizes.descent_ratio * sizes.unit_mm * state.base_descent,
    )


def _walls_share(fs: float, gone: float, shortening: float, fullest: float) -> float:
    """Return the share of their way to the axis that the walls have gone when this share of the stroke is gone.

    A body of radius r and length l holds r²·l. The base takes its part of the change of volume in its own time, the
    walls do the rest: so the volume's slope is the flow. 0 at the end of filling, 1 at the end of ejection.

    Parameters
    ----------
    fs : float
        Fractional shortening of the middle.
    gone : float
        Share of the stroke volume that is gone.
    shortening, fullest : float
        Length over that at rest, now and at the end of ejection.
    """
    narrower = _MEAN_SQUEEZE * fs
    stroke = 1.0 - (1.0 - narrower) ** 2 * fullest
    return (1.0 - math.sqrt(max((1.0 - stroke * gone) / shortening, 0.0))) / narrower


def left_ventricle(anatomy: Anatomy, state: CycleState) -> LeftVentricle:
    """Return the left ventricle at this moment; its muscle keeps its volume while it shortens and thickens."""
    sizes, disease = anatomy.sizes, anatomy.disease
    rest = sizes.lv_diameter_mm / 2.0
    length = sizes.lv_length_ratio * sizes.lv_diameter_mm
    base = _BASE_SHARE * length
    motion = base_motion(anatomy, state)
    shortening = motion.shortening
    fullest = 1.0 - sizes.descent_ratio * sizes.unit_mm / (motion.base_mm - motion.apex_mm)
    squeeze = sizes.fs_fraction * _walls_share(sizes.fs_fraction, state.contraction, shortening, fullest)
    radius = rest * (1.0 - squeeze)
    # Muscle is all but incompressible: area of the ring times its length stays.
    mean = 0.5 * (sizes.septum_mm + sizes.free_wall_mm)
    ring = ((rest + mean) ** 2 - rest**2) / shortening
    grown = (math.sqrt(radius**2 + ring) - radius) / mean
    # The free wall thickens a little more than the septum, as in the tables (LVWs, IVSs; CORNELL2004).
    tilt = 0.04 * state.contraction
    flat = disease.septal_flattening_diastole + state.right_contraction * (
        disease.septal_flattening_systole - disease.septal_flattening_diastole
    )
    base_radius = _BASE_RADIUS * rest
    return LeftVentricle(
        radius_mm=radius,
        apex_radius_mm=rest * (1.0 - _APEX_SQUEEZE * squeeze),
        apex_mm=(length - base) * (1.0 - 0.05 * state.contraction),
        base_mm=base,
        base_radius_mm=base_radius * (1.0 - _BASE_SQUEEZE * squeeze),
        ring_ratio=1.0 - _RING_SQUEEZE * squeeze,
        septum_mm=sizes.septum_mm * grown * (1.0 - tilt),
        free_wall_mm=sizes.free_wall_mm * grown * (1.0 + tilt),
        apex_wall_mm=_APEX_WALL * sizes.free_wall_mm + 0.05 * state.contraction * (length - base),
        base_wall_share=_BASE_WALL,
        septal_share=1.0 - flat,
        cap_mm=_CAP_UNITS * sizes.unit_mm,
        rest_radius_mm=rest,
        rest_septum_mm=sizes.septum_mm,
        rest_free_wall_mm=sizes.free_wall_mm,
        rest_base_radius_mm=base_radius,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AroundAxis:
    """Points seen from the long axis of the left ventricle."""

    a: Array
    rho: Array  # distance from the axis, mm, made round where the septum is flattened
    towards_free: Array  # cosine: 1 towards the free wall, -1 towards the septum
    stretch: Array | float  # true distance over `rho` distance


def around_axis(lv: LeftVentricle, p: Points, xp: Any) -> AroundAxis:
    """Return the points in coordinates about the long axis."""
    a, b, c = p
    if for_any(lv.septal_share < 1.0):
        round_c = xp.where(c < 0.0, c * (1.0 / lv.septal_share), c)
        rho = xp.sqrt(b * b + round_c * round_c) + 1e-4  # 1e-4 mm: keeps the axis itself finite
        cosine = round_c / rho
        share = clamp(-cosine, 0.0, 1.0, xp)
        return AroundAxis(a=a, rho=rho, towards_free=cosine, stretch=1.0 - (1.0 - lv.septal_share) * share * share)
    rho = xp.sqrt(b * b + c * c) + 1e-4
    return AroundAxis(a=a, rho=rho, towards_free=c / rho, stretch=1.0)


def _profile(
    q: AroundAxis, radius: Array | float, apex: float, base: float, base_radius: Array | float, wider_mm: float, xp: Any
) -> Array:
    """Return the distance to a body that is half an ellipsoid below and a gentle bowl above, open at the base.

    `wider_mm` is by how much the ellipsoid's radius has grown at the apex: it grows as the square of the way there.
    """
    z = q.a * (1.0 / apex)
    deep = clamp(-z, 0.0, 1.0, xp)
    below_radius = radius + wider_mm * (deep * deep)
    x = q.rho / below_radius
    level = xp.sqrt(x * x + z * z)
    slope = xp.sqrt(x * x / (below_radius * below_radius) + z * z * (1.0 / (apex * apex)))
    below = level * (level - 1.0) / (slope + 1e-6)
    height = q.a * (1.0 / base)
    square = height * height
    lean = (base_radius - radius) * square  # times the square again: the fourth power, _BOWL
    slant = lean * height * (4.0 / base)
    above = (q.rho - radius - lean * square) / xp.sqrt(1.0 + slant * slant)
    return xp.where(q.a < 0.0, below, above)


def cavity_distance(lv: LeftVentricle, q: AroundAxis, xp: Any) -> Array:
    """Return the distance to the cavity, open towards the valves."""
    wider = lv.apex_radius_mm - lv.radius_mm
    return _profile(q, lv.radius_mm, lv.apex_mm, lv.base_mm, lv.base_radius_mm, wider, xp) * q.stretch


def outer_distance(lv: LeftVentricle, q: AroundAxis, xp: Any) -> Array:
    """Return the distance to the outer surface, open towards the valves."""
    septum = lv.septum_mm / lv.septal_share
    wall = 0.5 * (lv.free_wall_mm + septum) + q.towards_free * (0.5 * (lv.free_wall_mm - septum))
    outer = wall + lv.radius_mm
    base = wall * lv.base_wall_share + lv.base_radius_mm
    wider = lv.apex_radius_mm - lv.radius_mm
    return _profile(q, outer, lv.apex_mm + lv.apex_wall_mm, lv.base_mm, base, wider, xp) * q.stretch


def wall_distance(lv: LeftVentricle, p: Points, xp: Any) -> Array:
    """Return the distance to everything that belongs to the left ventricle, its fibrous floor included."""
    return xp.maximum(outer_distance(lv, around_axis(lv, p, xp), xp), p[0] - (lv.base_mm + lv.cap_mm))


def papillary_muscles(lv: LeftVentricle, unit_mm: float, contraction: float) -> tuple[Rod, Rod]:
    """Return the cranial and the caudal papillary muscle, from base to tip."""
    squeeze = lv.radius_mm / lv.rest_radius_mm
    thicken = 1.0 + 0.12 * contraction  # they shorten and thicken like the wall they spring from
    rods = []
    for side in (1.0, -1.0):
        angle = math.radians(_PAPILLARY_DEG)
        across, ahead = side * math.sin(angle), math.cos(angle)
        foot_a, tip_a = -0.56 * lv.apex_mm, -0.02 * unit_mm
        foot, tip = 0.92 * lv.inner_radius_at(foot_a), 0.64 * lv.rest_radius_mm * squeeze
        rods.append(
            Rod(
                start=(foot_a, foot * across, foot * ahead),
                end=(tip_a, tip * across, tip * ahead),
                start_mm=0.180 * unit_mm * thicken * (0.6 + 0.4 * squeeze),
                end_mm=0.112 * unit_mm * thicken * (0.6 + 0.4 * squeeze),
            )
        )
    return rods[0], rods[1]


def rest_radius(lv: LeftVentricle, q: AroundAxis) -> Array:
    """Return how far from the long axis the muscle at these points lies at rest: the ring keeps its area.

    Depth in the wall keeps its share: inner border to inner border, outer to outer.
    """
    septum = lv.septum_mm / lv.septal_share
    wall = 0.5 * (lv.free_wall_mm + septum) + q.towards_free * (0.5 * (lv.free_wall_mm - septum))
    rest_wall = 0.5 * (lv.rest_free_wall_mm + lv.rest_septum_mm) + q.towards_free * (
        0.5 * (lv.rest_free_wall_mm - lv.rest_septum_mm)
    )
    inner = lv.radius_mm
    return lv.rest_radius_mm + (q.rho - inner) * (rest_wall / wall)
