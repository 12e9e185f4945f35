"""Lay a chest round a heart: the inner wall touches the heart at the windows and nowhere cuts into it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fanlight.heart.body_wall import BodyWall, wall_depth_mm
from fanlight.heart.landmark import Axis, Landmark
from fanlight.heart.pose import Vector
from fanlight.heart.tissue import Tissue

Floats = NDArray[np.float64]
TissueAt = Callable[[Floats], NDArray[np.uint8]]  # points (..., 3) in mm -> labels (...)

GRID_MM = 3.0  # at 10 kg: finer than the wall of the left ventricle, coarse enough for a quick fit
BEYOND_LANDMARKS_MM = 32.0  # at 10 kg: walls and auricles reach this far past the outermost landmark
MOST_SURFACE_POINTS = 1500  # the fit needs the outline, not every point of it
CLEARANCE_MM = 1.5  # at 10 kg, between heart and wall: pericardial fat and the pleura. Engineering judgement
LINE_STEP_MM = 0.5

# How tightly the fit holds to what it is given; at 10 kg, mm or share. Engineering judgement: the heart must not be
# cut, shall touch at the windows within a few mm, and the chest keeps its kind unless the heart forces it.
CUT_HOLD_MM, TOUCH_HOLD_MM, PLACE_HOLD_MM = 0.4, 1.0, 8.0
WIDTH_HOLD, DEPTH_HOLD, EGG_HOLD = 0.05, 0.06, 0.06
LEFT_CRANIAL_DIRECTION = np.array([0.15, 0.45, -0.88])  # from the aortic root to the wall at the left cranial window


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A chest wall laid round a heart, and the heart's own outline."""

    wall: BodyWall
    surface_mm: Floats  # (N, 3), outer points of the heart
    gaps_mm: tuple[float, float, float]  # heart to inner wall at the right, left apical and left cranial window


def heart_surface_mm(tissue_at: TissueAt, points: Mapping[Landmark, Vector], scale_ratio: float) -> Floats:
    """Return points (N, 3) of the heart that have something else beside them, on a grid, mm."""
    corners = np.stack(list(points.values()))
    beyond = BEYOND_LANDMARKS_MM * scale_ratio
    low, high = corners.min(axis=0) - beyond, corners.max(axis=0) + beyond
    step = GRID_MM * scale_ratio
    grid = np.stack(np.meshgrid(*[np.arange(a, b, step) for a, b in zip(low, high, strict=True)], indexing="ij"), -1)
    inside = tissue_at(grid) != Tissue.OUTSIDE
    core = inside.copy()
    for axis in range(3):
        core &= np.roll(inside, 1, axis) & np.roll(inside, -1, axis)
    return np.asarray(grid[inside & ~core])


def exit_mm(tissue_at: TissueAt, start_mm: Vector, direction: Vector, reach_mm: float) -> Vector:
    """Return the last point of the heart on a ray from inside it, mm."""
    unit = np.asarray(direction) / np.linalg.norm(direction)
    line = start_mm + np.arange(0.0, reach_mm, LINE_STEP_MM)[:, None] * unit
    within = np.nonzero(tissue_at(line) != Tissue.OUTSIDE)[0]
    return np.asarray(line[within[-1]] if within.size else start_mm)


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
    """
    k = start.scale_ratio
    surface = heart_surface_mm(tissue_at, points, k)
    stride = max(1, len(surface) // MOST_SURFACE_POINTS)
    outline = surface[::stride]
    reach = 160.0 * k
    touch = np.stack(
        [
            exit_mm(tissue_at, points[Landmark.LV_CENTRE], -directions[Axis.SEPTUM_NORMAL], reach),
            exit_mm(tissue_at, points[Landmark.LV_CENTRE], -directions[Axis.LV_LONG], reach),
            exit_mm(tissue_at, points[Landmark.AORTIC_SINUS_CENTRE], LEFT_CRANIAL_DIRECTION, reach),
        ]
    )

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
        wall = wall_of(v)
        gaps = wall_depth_mm(wall, touch[:, 0], touch[:, 1], touch[:, 2]) - CLEARANCE_MM * k
        room = wall_depth_mm(wall, outline[:, 0], outline[:, 1], outline[:, 2]) - CLEARANCE_MM * k
        return np.concatenate([gaps / (TOUCH_HOLD_MM * k), np.minimum(room, 0.0) / (CUT_HOLD_MM * k), v])

    found = least_squares(misfit, np.zeros(5), bounds=(-4.0, 4.0))
    wall = wall_of(found.x)
    # The fit trades a fraction of a mm; what is left over is given by widening the whole section about its centre.
    room = float(wall_depth_mm(wall, surface[:, 0], surface[:, 1], surface[:, 2]).min())
    short = max(0.0, 0.3 * CLEARANCE_MM * k - room)
    wall = replace(wall, half_width_mm=wall.half_width_mm + short, half_depth_mm=wall.half_depth_mm + short)
    gaps = wall_depth_mm(wall, touch[:, 0], touch[:, 1], touch[:, 2])
    return Fitted(wall=wall, surface_mm=surface, gaps_mm=(float(gaps[0]), float(gaps[1]), float(gaps[2])))
