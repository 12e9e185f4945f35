"""Which movements of the hand lead from one pose to another, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from fanlight.heart.animal import Animal
from fanlight.heart.body_wall import skin_depth_mm
from fanlight.heart.movements import Movement, met_point_mm, moved, set_down, turn_vector_rad
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.skin import SkinPlace, place_of, way_between_mm

PRESS_REACH_MM = 60.0  # further than any probe is pressed or lifted
SLIDE_REACH_DEG = 0.05  # from the ends of the path of a slide


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """One movement with its amount; slides say at which point of the heart they stay aimed."""

    movement: Movement
    amount: float  # mm, spaces or degrees
    aim_mm: Vector | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Twist:
    """The turn and the shift between two poses as one screw: what analysis compares, exactly odd in its sense."""

    rotate_deg: float
    tilt_deg: float
    rock_deg: float
    shift_mm: Vector  # (3,), of the face, in the patient frame


def twist_between(pose_a: Pose, pose_b: Pose) -> Twist:
    """Return the turn from a to b as one twist and the shift of the face. From b to a, every number changes sign."""
    turn = np.degrees(turn_vector_rad(pose_a.axes.T @ pose_b.axes))
    return Twist(
        rotate_deg=float(turn[2]),
        tilt_deg=-float(turn[0]),
        rock_deg=float(turn[1]),
        shift_mm=pose_b.origin_mm - pose_a.origin_mm,
    )


def difference(animal: Animal, pose_a: Pose, pose_b: Pose) -> tuple[Step, ...]:
    """Return the steps, in the order of the house, that lead from pose a exactly to pose b.

    Order: space, slide (both re-aimed midway between the points of the heart that the two beams meet), rotate, tilt,
    rock, press. All six are returned, also those of amount 0.

    Raises
    ------
    ValueError
        If the two poses stand on different sides of the chest: no slide leads from one to the other.
    """
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    here = place_of(wall, ribs, pose_a.origin_mm)
    press_mm = _press_to_depth(animal, pose_b, here.depth_mm)
    lifted = pose_b.origin_mm - press_mm * pose_b.z
    there = place_of(wall, ribs, lifted)
    if here.angle_deg * there.angle_deg < 0 and abs(here.angle_deg - there.angle_deg) > SLIDE_REACH_DEG:
        raise ValueError(
            f"the poses stand on different sides of the sternum ({here.angle_deg:.0f} and {there.angle_deg:.0f} "
            "degrees round the chest); compare poses of one window"
        )
    aim = 0.5 * (met_point_mm(animal, pose_a) + met_point_mm(animal, pose_b))
    spaces = here.space - there.space
    crossed = SkinPlace(space=there.space, angle_deg=here.angle_deg, depth_mm=here.depth_mm)
    slide_mm = way_between_mm(wall, ribs, crossed, there.angle_deg)
    set_at = set_down(animal, set_down(animal, pose_a, crossed, aim), there, aim)
    # Euler angles of the rest: rotate about z, then tilt about -x, then rock about y.
    rest = set_at.axes.T @ pose_b.axes
    tilt = -float(np.degrees(np.arcsin(np.clip(rest[2, 1], -1.0, 1.0))))
    rotate = float(np.degrees(np.arctan2(-rest[0, 1], rest[1, 1])))
    rock = float(np.degrees(np.arctan2(-rest[2, 0], rest[2, 2])))
    return (
        Step(movement=Movement.SPACE, amount=spaces, aim_mm=aim),
        Step(movement=Movement.SLIDE, amount=slide_mm, aim_mm=aim),
        Step(movement=Movement.ROTATE, amount=rotate),
        Step(movement=Movement.TILT, amount=tilt),
        Step(movement=Movement.ROCK, amount=rock),
        Step(movement=Movement.PRESS, amount=press_mm),
    )


def carried_out(animal: Animal, pose: Pose, steps: Sequence[Step]) -> Pose:
    """Return the pose after steps, one after another."""
    for step in steps:
        pose = moved(animal, pose, step.movement, step.amount, aim_mm=step.aim_mm)
    return pose


def undone(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Return the steps that lead back: each the other way, in the opposite order."""
    return tuple(Step(movement=s.movement, amount=-s.amount, aim_mm=s.aim_mm) for s in reversed(steps))


def _press_to_depth(animal: Animal, pose: Pose, depth_mm: float) -> float:
    """Return how far the pose has been pressed along its beam from the depth under the skin given."""
    wall = animal.thorax.wall

    def too_deep(pressed_mm: float) -> float:
        at = pose.origin_mm - pressed_mm * pose.z
        return float(skin_depth_mm(wall, at[0], at[1], at[2])) - depth_mm

    if abs(too_deep(0.0)) < 1e-9:
        return 0.0
    return float(brentq(too_deep, -PRESS_REACH_MM, PRESS_REACH_MM, xtol=1e-10))
