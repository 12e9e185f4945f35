"""The wall of the chest: a tube of egg-shaped cross-section, narrow below and towards the head, with skin outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import array_api_compat

from fanlight.heart.distance import clamp

Array = Any  # an array of the array API standard

NARROWEST_RATIO, WIDEST_RATIO = (
    0.45,
    1.25,
)  # of the section at the heart: keeps the cone from closing or opening without end
EGG_REACH = 1.3  # heights beyond this many half-depths take the section's width there
CENTRE_GUARD = 1e-6  # keeps the gradient defined on the axis of the tube, where no border is near
REST_BEND_MM = 1.2  # at 10 kg, over which egg and ball pass into each other. Engineering judgement: no edge in the skin


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """Where the heart lies against the wall: near this place the wall is drawn in to a ball that holds the heart."""

    at_mm: tuple[float, float, float]
    ball_centre_mm: tuple[float, float, float]
    ball_radius_mm: float
    reach_mm: float  # from the place to where the wall is the egg's again
    most_mm: float  # by which the wall is drawn in at most


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyWall:
    """Inner surface of the chest wall in the patient frame, and the thickness of wall and skin outside it."""

    centre_y_mm: float  # of the median plane; the heart lies left of it
    centre_z_mm: float  # where the section is widest, before the egg shape is applied
    half_width_mm: float  # inner, at the heart
    half_depth_mm: float  # inner, at the heart: sternum to back is twice this
    egg_ratio: float  # how much wider the section gets one half-depth up, as a share of its width
    narrowing_per_mm: float  # share of the section lost per mm towards the head
    thickness_mm: float  # skin, muscle and ribs
    scale_ratio: float  # cube root of weight over 10 kg: sizes of lesser parts are stated for 10 kg and follow it
    rests: tuple[Rest, ...] = ()


def section_ratio(wall: BodyWall, x: Array) -> Array:
    """Return how large the cross-section is at x mm, as a share of that at the heart's centre."""
    xp = array_api_compat.array_namespace(x)
    return clamp(1.0 - wall.narrowing_per_mm * x, NARROWEST_RATIO, WIDEST_RATIO, xp)


def wall_depth_mm(wall: BodyWall, x: Array, y: Array, z: Array) -> Array:
    """Return how far points lie inside the inner surface of the chest wall, mm; negative in the wall and outside.

    Parameters
    ----------
    wall : BodyWall
        The wall.
    x, y, z : array
        Points of the patient frame, mm, same shape.

    Returns
    -------
    array
        First-order distance (implicit function over the length of its gradient across the body): right near the wall,
        which is where it is used; deep inside it only keeps its sign and order.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    share = section_ratio(wall, x)
    depth = wall.half_depth_mm * share
    up = (z - wall.centre_z_mm) / depth
    up_held = clamp(up, -EGG_REACH, EGG_REACH, xp)
    bulge = 1.0 + wall.egg_ratio * up_held
    width = wall.half_width_mm * share * bulge
    side = (y - wall.centre_y_mm) / width
    radius = xp.sqrt(side * side + up * up + CENTRE_GUARD)
    slope_y = side / width
    slope_z = (up - side * side * (wall.egg_ratio / bulge)) / depth
    steepness = xp.sqrt(slope_y * slope_y + slope_z * slope_z) / radius
    depth = (1.0 - radius) / (steepness + CENTRE_GUARD)
    for rest in wall.rests:
        depth = _drawn_in(xp, depth, rest, wall.scale_ratio, x, y, z)
    return depth


def _drawn_in(xp: Any, depth_mm: Array, rest: Rest, scale_ratio: float, x: Array, y: Array, z: Array) -> Array:
    """Return depths under a wall drawn in to a ball near a place; never less than in egg and ball, where it holds."""
    weight = rest_weight(rest, x, y, z)
    if not bool(xp.any(weight > 0.0)):
        return depth_mm  # most balls lie beside a beam
    excess = depth_mm - (rest.ball_radius_mm - xp.sqrt(_square(x, y, z, rest.ball_centre_mm)))
    bend = REST_BEND_MM * scale_ratio
    inward = 0.5 * (excess + xp.sqrt(excess * excess + bend * bend) - bend)  # the positive part, without its corner
    over = inward - rest.most_mm
    return depth_mm - weight * 0.5 * (inward + rest.most_mm - xp.sqrt(over * over + bend * bend))


def rest_weight(rest: Rest, x: Array, y: Array, z: Array) -> Array:
    """Return how far the wall follows a ball at points: 1 about the place of rest, 0 beyond its reach."""
    near = _square(x, y, z, rest.at_mm) * (1.0 / rest.reach_mm**2)
    left = 1.0 - near * near  # flat in the middle
    left = 0.5 * (left + abs(left))  # not below 0; the square then ends smoothly there
    return left * left


def _square(x: Array, y: Array, z: Array, place_mm: tuple[float, float, float]) -> Array:
    """Return the squared distance of points from a place, mm²."""
    dx, dy, dz = x - place_mm[0], y - place_mm[1], z - place_mm[2]
    return dx * dx + dy * dy + dz * dz


def skin_depth_mm(wall: BodyWall, x: Array, y: Array, z: Array) -> Array:
    """Return how far points lie under the skin, mm; negative outside the animal."""
    return wall_depth_mm(wall, x, y, z) + wall.thickness_mm
