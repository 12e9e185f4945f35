"""Places on the skin: coordinates that follow the spaces between the ribs, and where a line meets the skin.

A place is (space, angle, depth): the space coordinate of `ribs`, the angle round the body (0 at the sternum, positive
on the left, degrees) and the depth under the skin in mm. Sliding within a space changes the angle alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.body_wall import EGG_REACH, BodyWall, skin_depth_mm
from fanlight.heart.pose import Vector
from fanlight.heart.ribs import Ribs, space_coordinate, x_of_space_mm

Floats = NDArray[np.float64]
# Halvings of a ray until depth along it is nearly straight, then false position until it is met within rounding.
RAY_HALVINGS, FALSE_POSITIONS, MET_MM = 6, 24, 1e-11
STEP_MM = 1e-4  # for the skin's normal by central differences: far below its curvature, far above rounding
RAY_STEP_MM = 1.0  # finer than any fold of the skin of the model


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinPlace:
    """A place by its space, angle and depth."""

    space: float
    angle_deg: float
    depth_mm: float = 0.0


def points_at(wall: BodyWall, ribs: Ribs, space: Floats, angle_deg: Floats, depth_mm: Floats) -> Floats:
    """Return points (..., 3) of the patient frame at these places, mm."""
    space, angle, depth = np.broadcast_arrays(
        np.asarray(space, float), np.radians(np.asarray(angle_deg, float)), np.asarray(depth_mm, float)
    )
    low = np.full(space.shape, 0.2)
    high = np.full(space.shape, 2.5)

    def excess_mm(radius: Floats) -> Floats:
        return np.asarray(skin_depth_mm(wall, *_along_ray(wall, ribs, space, angle, radius)) - depth)

    return np.stack(_along_ray(wall, ribs, space, angle, _crossing(excess_mm, low, high, RAY_HALVINGS)), axis=-1)


def _crossing(excess_mm: Callable[[Floats], Floats], low: Floats, high: Floats, halvings: int = 0) -> Floats:
    """Return where a function that is positive at `low` and not at `high` changes its sign, element by element."""
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        inside = excess_mm(middle) > 0.0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    at_low, at_high = excess_mm(low), excess_mm(high)
    middle = low
    kept = np.zeros(np.shape(low))
    for _ in range(FALSE_POSITIONS):
        span = at_low - at_high
        middle = np.where(span > 0.0, low + (high - low) * at_low / np.where(span > 0.0, span, 1.0), low)
        here = excess_mm(middle)
        if np.max(np.abs(here)) < MET_MM:
            break
        inside = here > 0.0
        # An end that stays twice running counts half, or it would stay for good (the Illinois rule).
        at_low = np.where(inside, here, np.where(kept < 0.0, 0.5 * at_low, at_low))
        at_high = np.where(inside, np.where(kept > 0.0, 0.5 * at_high, at_high), here)
        kept = np.where(inside, 1.0, -1.0)
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    return np.asarray(middle)


def _along_ray(
    wall: BodyWall, ribs: Ribs, space: Floats, angle: Floats, radius: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return x, y, z at a radius (1: inner surface of the section at the heart) along the ray of this angle."""
    up = -np.cos(angle) * radius
    z = wall.centre_z_mm + wall.half_depth_mm * up
    bulge = 1.0 + wall.egg_ratio * np.clip(up, -EGG_REACH, EGG_REACH)
    y = wall.centre_y_mm + wall.half_width_mm * bulge * radius * np.sin(angle)
    return np.asarray(x_of_space_mm(ribs, space, z)), y, z


def point_at(wall: BodyWall, ribs: Ribs, place: SkinPlace) -> Vector:
    """Return the point (3,) of the patient frame at a place, mm."""
    return points_at(wall, ribs, np.asarray(place.space), np.asarray(place.angle_deg), np.asarray(place.depth_mm))


def place_of(wall: BodyWall, ribs: Ribs, point_mm: Vector) -> SkinPlace:
    """Return the place of a point (3,): the inverse of `point_at`."""
    x, y, z = (np.asarray(v, dtype=float) for v in point_mm)
    up = (z - wall.centre_z_mm) / wall.half_depth_mm
    bulge = 1.0 + wall.egg_ratio * np.clip(up, -EGG_REACH, EGG_REACH)
    side = (y - wall.centre_y_mm) / (wall.half_width_mm * bulge)
    return SkinPlace(
        space=float(space_coordinate(ribs, x, z)),
        angle_deg=float(np.degrees(np.arctan2(side, -up))),
        depth_mm=float(skin_depth_mm(wall, x, y, z)),
    )


def _way(wall: BodyWall, ribs: Ribs, place: SkinPlace) -> tuple[Floats, Floats]:
    """Return angles (degrees, without sign) from sternum to back, and the way over the skin to each, mm."""
    # Two tenths of a degree: chords then miss the length of the curve by under 1e-5 of it.
    angles = np.arange(0.0, 180.0 + 0.1, 0.2)
    path = points_at(wall, ribs, np.asarray(place.space), _side(place) * angles, np.asarray(place.depth_mm))
    steps = np.linalg.norm(np.diff(path, axis=0), axis=-1)
    return angles, np.concatenate([[0.0], np.cumsum(steps)])


def _side(place: SkinPlace) -> float:
    """Return 1 on the left, -1 on the right."""
    return 1.0 if place.angle_deg >= 0 else -1.0


def way_between_mm(wall: BodyWall, ribs: Ribs, place: SkinPlace, angle_deg: float) -> float:
    """Return the way over the skin within the space from a place to another angle on its side, + towards the back."""
    angles, lengths = _way(wall, ribs, place)
    here, there = np.interp([abs(place.angle_deg), abs(angle_deg)], angles, lengths)
    return float(there - here)


def moved_along_space(wall: BodyWall, ribs: Ribs, place: SkinPlace, dorsal_mm: float) -> SkinPlace:
    """Return the place after a walk within the space over the skin, + towards the back on the side of the place.

    Raises
    ------
    ValueError
        If the walk would leave that side of the body (over the middle of the sternum or of the back).
    """
    angles, lengths = _way(wall, ribs, place)
    here = float(np.interp(abs(place.angle_deg), angles, lengths))
    there = here + dorsal_mm
    if not 0.0 <= there <= lengths[-1]:
        raise ValueError(
            f"a slide of {dorsal_mm:.0f} mm along the space would leave this side of the chest: "
            f"from here {-here:.0f} to {lengths[-1] - here:.0f} mm are possible"
        )
    angle = _side(place) * float(np.interp(there, lengths, angles))
    return SkinPlace(space=place.space, angle_deg=angle, depth_mm=place.depth_mm)


def inward_normals(wall: BodyWall, points_mm: Floats) -> Floats:
    """Return the unit normals (..., 3) of the skin at points (..., 3), into the animal."""
    points = np.asarray(points_mm, dtype=float)
    steps = STEP_MM * np.eye(3)
    slope = [
        skin_depth_mm(wall, *np.moveaxis(points + step, -1, 0))
        - skin_depth_mm(wall, *np.moveaxis(points - step, -1, 0))
        for step in steps
    ]
    normal = np.stack(slope, axis=-1)
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def skin_on_line(wall: BodyWall, inside_mm: Vector, direction: Vector, *, reach_mm: float) -> Vector:
    """Return where a line from a point inside the animal leaves through the skin.

    Raises
    ------
    ValueError
        If the start lies outside, or the skin is not met within the reach.
    """
    unit = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    along = np.arange(0.0, reach_mm + RAY_STEP_MM, RAY_STEP_MM)
    at = np.asarray(inside_mm, dtype=float) + along[:, None] * unit
    depth = np.asarray(skin_depth_mm(wall, at[:, 0], at[:, 1], at[:, 2]))
    out = np.nonzero(depth < 0.0)[0]
    if depth[0] < 0.0 or out.size == 0:
        raise ValueError(f"no skin within {reach_mm:.0f} mm of a point inside the animal along this line")

    def excess_mm(reach: Floats) -> Floats:
        return np.asarray(skin_depth_mm(wall, *(np.asarray(inside_mm[i] + reach * unit[i]) for i in range(3))))

    reach = _crossing(excess_mm, np.asarray(along[out[0] - 1]), np.asarray(along[out[0]]))
    return np.asarray(inside_mm + float(reach) * unit)
