"""Lay a chest round a heart: the inner wall touches the heart at the windows and nowhere cuts into it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fanlight.heart.axis import Axis
from fanlight.heart.body_wall import BodyWall, Rest, rest_weight, wall_depth_mm
from fanlight.heart.pose import Vector
from fanlight.heart.skin import inward_normals
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

Floats = NDArray[np.float64]
TissueAt = Callable[[Floats], NDArray[np.uint8]]  # points (..., 3) in mm -> labels (...)

RAYS = 600  # from the middle of the heart: about 6 mm of surface each at 10 kg, finer than any chamber's curve
RAY_REACH_MM = 110.0  # at 10 kg: past the vessels' ends
RAY_STEP_MM = 3.0  # at 10 kg: finer than the wall of the left ventricle
HALVINGS = 4  # of the last step: the surface is then known to 0.2 mm at 10 kg
GOLDEN_ANGLE = np.pi * (3.0 - np.sqrt(5.0))  # spreads points evenly over a sphere
CLEARANCE_MM = 0.8  # at 10 kg, between heart and wall: pericardial fat and the pleura. Engineering judgement

# How tightly the fit holds to what it is given; at 10 kg, mm or share. Engineering judgement: the heart must not be
# cut, shall touch at the windows within a mm or two, and the chest keeps its kind unless the heart forces it.
CUT_HOLD_MM, TOUCH_HOLD_MM, PLACE_HOLD_MM = 0.4, 2.0, 8.0
WIDTH_HOLD, DEPTH_HOLD, EGG_HOLD = 0.05, 0.06, 0.06
MOST_STEPS = 4.0  # of any hold
# At 10 kg: how far round a window the wall is drawn in, and the ball to which: much flatter than the section, because a
# side on which an animal lies is flat. The ball is tilted to lie as close to the heart as it can.
WIDE, CLOSE = (68.0, 110.0), (42.0, 80.0)  # (reach, ball): the whole side first, then the spaces of each window
WIDE_PLACES, CLOSE_PLACES = (1, 3, 4), (0, 1, 2, 3)  # of the touch points: right, apical, left cranial
TILTS = (-0.24, -0.12, 0.0, 0.12, 0.24)
MOST_DRAWN_MM = 14.0  # at 10 kg: more would bend the ribs inwards
BEYOND_TOUCH = 1.1  # elsewhere the wall is drawn in hardly more than where it shall touch
LEAST_WEIGHT = 1e-3  # what a rest moves by less than this share needs no room of it

# Rays from the heart to the wall along which the two shall touch: (from, share of the way to, second place, direction).
RIGHT_SHARES = (-0.35, 0.0, 0.35)  # of the way from the ventricle's centre to the mitral valve; minus: to the apex
LEFT_CRANIAL_DIRECTION = np.array([0.15, 0.45, -0.88])  # from the aortic root to the wall at the left cranial window


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A chest wall laid round a heart, and the heart's own outline."""

    wall: BodyWall
    surface_mm: Floats  # (N, 3), outer points of the heart
    gaps_mm: tuple[float, float, float]  # heart to inner wall at the right, left apical and left cranial window


def heart_surface_mm(tissue_at: TissueAt, points: Mapping[Landmark, Vector], scale_ratio: float) -> Floats:
    """Return the outermost points (N, 3) of the heart on rays from its middle, mm."""
    rank = np.arange(RAYS) + 0.5
    up = 1.0 - 2.0 * rank / RAYS
    round_ = np.sqrt(1.0 - up * up)
    rays = np.stack([round_ * np.cos(GOLDEN_ANGLE * rank), round_ * np.sin(GOLDEN_ANGLE * rank), up], axis=-1)
    middle = 0.5 * (points[Landmark.LV_CENTRE] + points[Landmark.AORTIC_CENTRE])
    return exits_mm(tissue_at, np.broadcast_to(middle, rays.shape), rays, scale_ratio)


def exits_mm(tissue_at: TissueAt, starts_mm: Floats, directions: Floats, scale_ratio: float) -> Floats:
    """Return the last point (N, 3) of the heart on each ray from inside it, mm."""
    unit = directions / np.linalg.norm(directions, axis=-1, keepdims=True)
    step = RAY_STEP_MM * scale_ratio
    along = np.arange(0.0, RAY_REACH_MM * scale_ratio, step)
    within = tissue_at(starts_mm[:, None, :] + along[None, :, None] * unit[:, None, :]) != Tissue.OUTSIDE
    within[:, 0] = True  # a ray that starts in a gap of the heart ends there
    low = along[within.shape[1] - 1 - np.argmax(within[:, ::-1], axis=1)]
    for _ in range(HALVINGS):
        step *= 0.5
        inside = tissue_at(starts_mm + (low + step)[:, None] * unit) != Tissue.OUTSIDE
        low = np.where(inside, low + step, low)
    return np.asarray(starts_mm + low[:, None] * unit)


def _touch_points_mm(
    tissue_at: TissueAt, points: Mapping[Landmark, Vector], directions: Mapping[Axis, Vector], k: float
) -> Floats:
    """Return points of the heart (5, 3) that shall lie at the wall: three right, one apical, one left cranial."""
    centre, valve = points[Landmark.LV_CENTRE], points[Landmark.MITRAL_CENTRE]
    rays = [(centre + share * (valve - centre), -directions[Axis.SEPTUM_NORMAL]) for share in RIGHT_SHARES]
    rays.append((centre, -directions[Axis.LV_LONG]))
    rays.append((points[Landmark.AORTIC_SINUS_CENTRE], LEFT_CRANIAL_DIRECTION))
    starts, ways = (np.stack([np.asarray(ray[i], dtype=float) for ray in rays]) for i in range(2))
    return exits_mm(tissue_at, starts, ways, k)


def fit_wall(
    start: BodyWall, tissue_at: TissueAt, points: Mapping[Landmark, Vector], directions: Mapping[Axis, Vector]
) -> Fitted:
    """Return the chest wall nearest to `start` that holds the whole heart and touches it at the windows.

    Parameters
    ----------
    start : BodyWall
        Chest of the wanted kind and size.
    tissue_at : callable
        Tissue of the heart at points (..., 3), at end-diastole and at the end of expiration.
    points, directions : mapping
        Landmarks (mm) and axes of the same heart.

    Notes
    -----
    An egg-shaped section that holds the heart is fitted first, then drawn in where the heart shall touch: on the table
    the heart sinks against the wall on which the animal lies, and that wall lies flatter than the rest.
    """
    k = start.scale_ratio
    outline = heart_surface_mm(tissue_at, points, k)
    touch = _touch_points_mm(tissue_at, points, directions, k)
    surface = np.concatenate([outline, touch])

    def wall_of(v: Floats) -> BodyWall:
        return replace(
            start,
            centre_y_mm=start.centre_y_mm + float(v[0]) * PLACE_HOLD_MM * k,
            centre_z_mm=start.centre_z_mm + float(v[1]) * PLACE_HOLD_MM * k,
            half_width_mm=start.half_width_mm * float(np.exp(v[2] * WIDTH_HOLD)),
            half_depth_mm=start.half_depth_mm * float(np.exp(v[3] * DEPTH_HOLD)),
            egg_ratio=start.egg_ratio + float(v[4]) * EGG_HOLD,
        )

    def misfit(v: Floats) -> Floats:
        over = wall_depth_mm(wall_of(v), *surface.T) - CLEARANCE_MM * k
        gaps = over[len(outline) :] / (TOUCH_HOLD_MM * k)
        return np.concatenate([gaps, np.minimum(over, 0.0) / (CUT_HOLD_MM * k), v])

    found = least_squares(misfit, np.zeros(5), bounds=(-MOST_STEPS, MOST_STEPS))
    wall = wall_of(found.x)
    # The fit trades a fraction of a mm; what is left over is given by widening the whole section about its centre.
    short = max(0.0, 0.3 * CLEARANCE_MM * k - float(wall_depth_mm(wall, *surface.T).min()))
    wall = replace(wall, half_width_mm=wall.half_width_mm + short, half_depth_mm=wall.half_depth_mm + short)
    for shape, places in ((WIDE, WIDE_PLACES), (CLOSE, CLOSE_PLACES)):
        for place in places:
            wall = replace(wall, rests=(*wall.rests, _rest(wall, touch[place], surface, *shape)))
    gaps = wall_depth_mm(wall, *touch.T)
    return Fitted(wall=wall, surface_mm=surface, gaps_mm=(float(gaps[1]), float(gaps[3]), float(gaps[4])))


def _rest(wall: BodyWall, place_mm: Vector, surface_mm: Floats, reach_mm: float, ball_mm: float) -> Rest:
    """Return where the heart rests on the wall near a place: the closest ball that holds all of the heart near it."""
    k = wall.scale_ratio
    outward = -inward_normals(wall, place_mm)
    first = np.cross(outward, (0.0, 0.0, 1.0))
    first /= np.linalg.norm(first)
    second = np.cross(outward, first)
    at = (float(place_mm[0]), float(place_mm[1]), float(place_mm[2]))
    start = Rest(at_mm=at, ball_centre_mm=at, ball_radius_mm=0.0, reach_mm=reach_mm * k, most_mm=0.0)
    weight = rest_weight(start, *surface_mm.T)
    near = weight > LEAST_WEIGHT
    surface, weight = surface_mm[near], weight[near]
    # Depth left to the heart is (1 - weight) that in the egg + weight that in the ball; it shall be the clearance.
    lent = (CLEARANCE_MM * k - (1.0 - weight) * wall_depth_mm(wall, *surface.T)) / weight
    best = start
    least = np.inf
    for one in TILTS:
        for other in TILTS:
            way = outward + one * first + other * second
            centre = place_mm - ball_mm * k * way / np.linalg.norm(way)
            radius = float((np.linalg.norm(surface - centre, axis=-1) + lent).max())
            if radius < least:  # all centres are as far from the place: the smallest ball lies closest to it
                least = radius
                where = (float(centre[0]), float(centre[1]), float(centre[2]))
                best = replace(start, ball_centre_mm=where, ball_radius_mm=radius)
    excess = float(wall_depth_mm(wall, *place_mm)) - (least - ball_mm * k)
    return replace(best, most_mm=min(max(0.0, BEYOND_TOUCH * excess), MOST_DRAWN_MM * k))
