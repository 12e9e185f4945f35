"""The arrow of a movement on the sketch, and where the probe is drawn as a ghost: in sense as in the model, in size
large enough to be seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cable_end import cable_end_direction
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose
from fanlight.report.movement.probe_lines import cable_end_mm
from fanlight.report.movement.side_view import SideView
from fanlight.report.movement.sketch import Part, Stroke

Floats = NDArray[np.float64]

# Amounts at which a movement can be seen on the sketch; how far to go is said in words. Engineering judgement.
_LEAST_SHOWN = {Movement.SPACE: 1.0, Movement.ROTATE: 40.0}
_SLIDE_MM = 26.0  # at 10 kg
_SWING = 30.0  # of the cable end on the sketch, by a tilt or rock between these angles
_SWINGS_DEG = np.arange(14.0, 46.0, 2.0)
_LEAST_ARROW = 18.0
_HEAD_LONG, _HEAD_HALF = 11.0, 6.5
_ROUND_FACE = 29.0  # radius of the arrow of a rotation
_HOP = 17.0  # height of the arrow of a step over a rib


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A movement drawn: the ghost's pose, the arrow's line (N, 2) and where it points at its end (2,)."""

    ghost: Pose
    line: Floats
    tip_way: Floats


def shown_movement(animal: Animal, pose: Pose, movement: Movement, sense: int, view: SideView) -> Shown:
    """Return how a movement in one sense is drawn from a pose.

    Raises
    ------
    ValueError
        For a press, which no arrow beside the chest can show.
    """
    match movement:
        case Movement.TILT | Movement.ROCK:
            return _leaning(animal, pose, movement, sense, view)
        case Movement.ROTATE:
            ghost = moved(animal, pose, movement, sense * _LEAST_SHOWN[movement])
            return _arrow(ghost, _round(pose, ghost, view))
        case Movement.SPACE:
            ghost = moved(animal, pose, movement, sense * _LEAST_SHOWN[movement])
            return _arrow(ghost, _hop(*(view.at(each.origin_mm) for each in (pose, ghost))))
        case Movement.SLIDE:
            ghost = _slid(animal, pose, sense, view)
            start, end = (view.at(each.origin_mm) for each in (pose, ghost))
            return _arrow(ghost, np.stack([start, end]))
        case _:
            raise ValueError(f"a {movement.value} is not drawn; drawn are tilt, rock, rotate, slide and space")


def _leaning(animal: Animal, pose: Pose, movement: Movement, sense: int, view: SideView) -> Shown:
    """Return the turn that moves the cable end far enough on the sketch to be seen, or as far as it goes there.

    A handle that points at the viewer swings round in a bow; the arrow runs the way on which it sets out.
    """
    start = view.at(cable_end_mm(pose, view))
    way = _unit(view.way(cable_end_direction(pose, movement, sense)))
    ghost, gone = pose, 0.0
    for degrees in _SWINGS_DEG:
        turned = moved(animal, pose, movement, sense * float(degrees))
        along = float((view.at(cable_end_mm(turned, view)) - start) @ way)
        if along <= gone:
            break
        ghost, gone = turned, along
        if gone >= _SWING:
            break
    return _arrow(ghost, start + np.array([[0.0], [max(gone, _LEAST_ARROW)]]) * way)


def _slid(animal: Animal, pose: Pose, sense: int, view: SideView) -> Pose:
    """Return the pose after a slide, shorter where the chest ends."""
    for share in (1.0, 0.6, 0.3):
        try:
            return moved(animal, pose, Movement.SLIDE, sense * share * _SLIDE_MM * view.scale_ratio)
        except ValueError:  # it would leave this side of the chest
            continue
    raise ValueError("the probe stands too near the middle line for a slide to be drawn")


def _arrow(ghost: Pose, line: Floats) -> Shown:
    return Shown(ghost=ghost, line=line, tip_way=_unit(line[-1] - line[-2]))


def _round(pose: Pose, ghost: Pose, view: SideView) -> Floats:
    """Return an arc about the face, from the marker's side as it was to where it comes."""
    middle = view.at(pose.origin_mm)
    start, end = (float(np.arctan2(*view.way(each.x)[::-1])) for each in (pose, ghost))
    turn = (end - start + np.pi) % (2 * np.pi) - np.pi
    angles = start + np.linspace(0.0, np.sign(turn) * max(abs(turn), np.radians(55.0)), 20)
    return middle + _ROUND_FACE * np.stack([np.cos(angles), np.sin(angles)], axis=-1)


def _hop(start: Floats, end: Floats) -> Floats:
    """Return an arc from one space to the next, over the rib between them."""
    share = np.linspace(0.0, 1.0, 20)[:, None]
    return start + share * (end - start) - np.array([0.0, _HOP]) * 4 * share * (1 - share)


def _unit(way: Floats) -> Floats:
    return way / max(float(np.linalg.norm(way)), 1e-9)


def arrow_strokes(shown: Shown) -> list[Stroke]:
    """Return shaft and head."""
    tip, way = shown.line[-1], shown.tip_way
    aside = np.array([-way[1], way[0]])
    ahead = tip + way * _HEAD_LONG
    corners = (ahead, tip + aside * _HEAD_HALF, tip - aside * _HEAD_HALF)
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in shown.line)
    head = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"
    return [Stroke(part=Part.ARROW, path=path), Stroke(part=Part.HEAD, path=head)]
