"""The elementary movements of a probe as signed steps from one pose to the next.

Signs. Slide + towards the back within the space; space + towards the head; rotate + clockwise seen from the cable end;
tilt + sends the beam towards +y (the cable end the other way), where y is the normal of the image plane that points at
the viewer; rock + sends the beam towards the marker; press + deeper. A turn is T' = T exp(twist) about the centre of
the face: rotate about +z, tilt about -x, rock about +y. Flatten + lays the cable end lower on the side to which it
leans already.

A slide or a step over a rib is re-aimed: the face follows the skin at the same pressure, and the probe turns the
shortest way so that its beam still meets the same point of the heart. `slid_with_frozen_handle` keeps the handle's
direction instead; it is another movement, and asks for the opposite correction.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.skin import SkinPlace, inward_normals, moved_along_space, place_of, point_at
from fanlight.heart.thorax import REST
from fanlight.heart.windows import TARGETS, Window, window_centre_mm

LEFT_WINDOWS = frozenset({Window.LEFT_APICAL, Window.LEFT_CRANIAL})
PARALLEL = 1e-9  # sine below which two directions count as one: the turn between them is then none


class Movement(StrEnum):
    """A movement of the hand. Units: mm for slide and press, spaces for space, degrees for the turns."""

    SLIDE = "slide"
    SPACE = "space"
    ROTATE = "rotate"
    TILT = "tilt"
    ROCK = "rock"
    PRESS = "press"
    FLATTEN = "flatten"


def turn_matrix(vector_rad: Vector) -> NDArray[np.float64]:
    """Return the rotation matrix (3, 3) exp(vector): right-hand turn about the vector by its length in radians."""
    angle = float(np.linalg.norm(vector_rad))
    a, b, c = vector_rad
    skew = np.array([[0.0, -c, b], [c, 0.0, -a], [-b, a, 0.0]])
    # Series limits at 0 keep small turns exact.
    first = np.sinc(angle / np.pi)
    second = 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2
    return np.asarray(np.eye(3) + first * skew + second * (skew @ skew))


def turn_vector_rad(matrix: NDArray[np.float64]) -> Vector:
    """Return the turn (3,) whose `turn_matrix` is this rotation, shortest way round: the inverse of it."""
    odd = 0.5 * np.array([matrix[2, 1] - matrix[1, 2], matrix[0, 2] - matrix[2, 0], matrix[1, 0] - matrix[0, 1]])
    sine = float(np.linalg.norm(odd))
    angle = float(np.arctan2(sine, 0.5 * (np.trace(matrix) - 1.0)))
    if sine > PARALLEL:
        return np.asarray(odd * (angle / sine))
    if angle < 1.0:
        return odd
    # Half a turn: its axis is the column of (matrix + 1) that is longest.
    sums = matrix + np.eye(3)
    column = sums[:, int(np.argmax(np.diag(sums)))]
    return np.asarray(np.pi * column / np.linalg.norm(column))


def turned(pose: Pose, twist_deg: Vector) -> Pose:
    """Return the pose turned about the centre of its face by a twist (3,) about its own x, y and z, degrees."""
    return Pose(origin_mm=pose.origin_mm, axes=_orthogonal(pose.axes @ turn_matrix(np.radians(twist_deg))))


def _orthogonal(axes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the nearest rotation: long chains of movements must not drift away from right angles."""
    left, _, right = np.linalg.svd(axes)
    return np.asarray(left @ right)


def shortest_turn(start: Vector, end: Vector) -> NDArray[np.float64]:
    """Return the rotation (3, 3) that takes one direction to another the shortest way."""
    a, b = start / np.linalg.norm(start), end / np.linalg.norm(end)
    across = np.cross(a, b)
    sine = float(np.linalg.norm(across))
    if sine < PARALLEL:
        return np.eye(3)
    return turn_matrix(across / sine * float(np.arctan2(sine, a @ b)))


def met_point_mm(animal: Animal, pose: Pose) -> Vector:
    """Return the point of the heart that the central beam meets: where it crosses the middle of the heart, mm.

    Notes
    -----
    The middle is a plane that belongs to the window and not to the pose: through the window's target, square to the
    line from the window to it. So the point met stays the same after a re-aimed slide, and sliding back returns to the
    same pose.
    """
    centres = _window_centres(animal)
    # Near the sternum the middle of a window of the other side may lie nearer: the probe does not look through it.
    is_left = pose.origin_mm[1] > animal.thorax.wall.centre_y_mm
    own = [window for window in Window if (window in LEFT_WINDOWS) == is_left or window is Window.SUBCOSTAL]
    window = min(own, key=lambda name: float(np.linalg.norm(centres[name] - pose.origin_mm)))
    target = animal_landmarks(animal, REST)[TARGETS[window]]
    normal = target - centres[window]
    steep = float(pose.z @ normal)
    ahead = float((target - pose.origin_mm) @ normal) / steep if steep > 0 else 0.0
    if ahead <= 0:  # the beam runs away from the heart: turn about a point as deep as the heart lies
        ahead = float(np.linalg.norm(target - pose.origin_mm))
    return np.asarray(pose.origin_mm + ahead * pose.z)


@lru_cache(maxsize=16)  # a hand makes many movements on one animal
def _window_centres(animal: Animal) -> Mapping[Window, Vector]:
    points, directions = animal_landmarks(animal, REST), animal_axes(animal, REST)
    return {window: window_centre_mm(animal.thorax.wall, window, points, directions) for window in Window}


def moved(animal: Animal, pose: Pose, movement: Movement, amount: float, *, aim_mm: Vector | None = None) -> Pose:
    """Return the pose after one movement of the hand.

    Parameters
    ----------
    animal : Animal
        Whose skin the probe follows.
    pose : Pose
        Where the probe is.
    movement : Movement
        What the hand does.
    amount : float
        How much, signed as at the top of this module: mm, spaces or degrees.
    aim_mm : ndarray of shape (3,), optional
        Point of the heart at which a slide or a step over a rib stays aimed; without it, `met_point_mm`.

    Raises
    ------
    ValueError
        If a slide would leave that side of the chest.
    """
    match movement:
        case Movement.ROTATE:
            return turned(pose, np.array([0.0, 0.0, amount]))
        case Movement.TILT:
            return turned(pose, np.array([-amount, 0.0, 0.0]))
        case Movement.ROCK:
            return turned(pose, np.array([0.0, amount, 0.0]))
        case Movement.PRESS:
            return Pose(origin_mm=pose.origin_mm + amount * pose.z, axes=pose.axes)
        case Movement.FLATTEN:
            return _flattened(animal, pose, amount)
        case Movement.SLIDE | Movement.SPACE:
            there = _place_after(animal, pose, movement, amount)
            aim = met_point_mm(animal, pose) if aim_mm is None else aim_mm
            return set_down(animal, pose, there, aim)


def slid_with_frozen_handle(animal: Animal, pose: Pose, dorsal_mm: float) -> Pose:
    """Return the pose after a slide within the space (+ towards the back) that keeps the handle's direction."""
    there = _place_after(animal, pose, Movement.SLIDE, dorsal_mm)
    return Pose(origin_mm=point_at(animal.thorax.wall, animal.thorax.ribs, there), axes=pose.axes)


def set_down(animal: Animal, pose: Pose, there: SkinPlace, aim_mm: Vector) -> Pose:
    """Return the pose carried to another place, turned the shortest way so that it keeps its aim at a point."""
    origin = point_at(animal.thorax.wall, animal.thorax.ribs, there)
    turn = shortest_turn(aim_mm - pose.origin_mm, aim_mm - origin)
    return Pose(origin_mm=origin, axes=_orthogonal(turn @ pose.axes))


def _place_after(animal: Animal, pose: Pose, movement: Movement, amount: float) -> SkinPlace:
    """Return the skin place after a slide or a step over ribs."""
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    here = place_of(wall, ribs, pose.origin_mm)
    if movement is Movement.SLIDE:
        return moved_along_space(wall, ribs, here, amount)
    return SkinPlace(space=here.space - amount, angle_deg=here.angle_deg, depth_mm=here.depth_mm)


def _flattened(animal: Animal, pose: Pose, amount_deg: float) -> Pose:
    """Lay the cable end lower on the side to which it leans; from upright, towards the tail."""
    inward = inward_normals(animal.thorax.wall, pose.origin_mm)
    axis = np.cross(inward, pose.z)  # a turn about it takes the beam further from the normal
    if float(np.linalg.norm(axis)) < 1e-6:  # upright to rounding: the beam then goes towards the head
        axis = np.cross(inward, np.array([1.0, 0.0, 0.0]))
    axis = axis / np.linalg.norm(axis)
    turn = turn_matrix(axis * np.radians(amount_deg))
    return Pose(origin_mm=pose.origin_mm, axes=_orthogonal(turn @ pose.axes))


def lean_deg(animal: Animal, pose: Pose) -> float:
    """Return by how much the probe leans from upright on the skin, degrees."""
    inward = inward_normals(animal.thorax.wall, pose.origin_mm)
    return float(np.degrees(np.arccos(np.clip(pose.z @ inward, -1.0, 1.0))))
