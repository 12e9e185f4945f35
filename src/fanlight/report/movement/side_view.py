"""The chest as seen square on from the scanned side, standing: back above, sternum below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.pose import Vector
from fanlight.heart.skin import points_at
from fanlight.report.movement.sketch import Part, Stroke, Word

Floats = NDArray[np.float64]

# Of the sketch, in mm at 10 kg: the lower two thirds of the chest, where every window lies, and room for the handle
# below. What lies before the first rib and behind the cage is drawn free-hand round the model, as the eye expects it.
WIDTH, HEIGHT = 204.0, 187.0
_MIDDLE_X = {False: 4.0, True: -21.0}  # from the left a handle leans towards the tail
_TOP_Z, _RIBS_TO_Z = 66.0, 48.0  # above the ribs stand the words
_RIBS = range(2, 12)
_ANGLES = np.linspace(6.0, 152.0, 60)  # round the body from beside the sternum to beside the spine
_BREAST = ((112, 52), (98, 24), (86, -8), (71, -30))  # throat to the front of the sternum
_BELLY = ((-58, -63), (-80, -66), (-98, -64))
# The foreleg of this side, drawn forward as for scanning: its front, and its back with the elbow.
_LEG = (
    ((86, 34), (91, 12), (85, -16), (104, -44)),
    ((60, 56), (61, 22), (57, -14), (51, -38), (56, -50), (72, -56), (104, -78)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideView:
    """Maps the patient frame to the sketch. From the right the head lies at the right, from the left at the left."""

    is_left: bool
    scale_ratio: float  # cube root of weight over 10 kg

    def at(self, points_mm: Floats) -> Floats:
        """Return places (..., 2) on the sketch, right and down, of points (..., 3) of the patient frame."""
        points = np.asarray(points_mm, dtype=float) / self.scale_ratio
        return self.placed(points[..., 0], points[..., 2])

    def way(self, direction: Vector) -> Floats:
        """Return where a direction (3,) of the patient frame runs on the sketch (2,), right and down."""
        return np.array([-direction[0] if self.is_left else direction[0], -direction[2]])

    def placed(self, x: Floats, z: Floats) -> Floats:
        """Return places of x and z in mm at 10 kg."""
        along = np.asarray(x, dtype=float) - _MIDDLE_X[self.is_left]
        return np.stack([WIDTH / 2 + (-along if self.is_left else along), _TOP_Z - np.asarray(z, dtype=float)], axis=-1)


def side_view(animal: Animal, *, is_left: bool) -> SideView:
    """Return the view onto one side of an animal, drawn as large as one of 10 kg."""
    return SideView(is_left=is_left, scale_ratio=animal.thorax.scale_ratio)


def chest_strokes(animal: Animal, view: SideView) -> list[Stroke]:
    """Return ribs, sternum and outline; ribs and sternum are those of the model on this side."""
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    side = 1.0 if view.is_left else -1.0
    strokes = []
    for number in _RIBS:
        points = points_at(wall, ribs, np.asarray(float(number)), side * _ANGLES, np.asarray(0.0))
        points = points[points[:, 2] <= _RIBS_TO_Z * view.scale_ratio]
        is_bone = points[:, 2] > ribs.joint_z_mm
        # The first point of bone belongs to both, so that rib and cartilage meet.
        strokes.append(Stroke(part=Part.CARTILAGE, path=smooth(view.at(points[: int(np.argmax(is_bone)) + 1]))))
        strokes.append(Stroke(part=Part.RIB, path=smooth(view.at(points[is_bone]))))
    spaces = np.linspace(0.8, 9.4, 12)
    low = view.at(points_at(wall, ribs, spaces, np.zeros_like(spaces), np.zeros_like(spaces)))
    strokes.append(Stroke(part=Part.STERNUM, path=smooth(low)))
    for line in (_BREAST, _BELLY):
        strokes.append(Stroke(part=Part.BODY, path=smooth(_free(view, line))))
    strokes += [Stroke(part=Part.LIMB, path=smooth(_free(view, line))) for line in _LEG]
    return strokes


def chest_words(view: SideView) -> list[Word]:
    """Return the names of the directions, where each lies on the sketch."""
    head, tail = (4.0, WIDTH - 4.0) if view.is_left else (WIDTH - 4.0, 4.0)
    at_head, at_tail = ("start", "end") if view.is_left else ("end", "start")
    # Under the part of the sternum beside which no handle hangs.
    low = view.placed(*(np.asarray(v) for v in ((30.0, -66.0) if view.is_left else (-56.0, -82.0))))
    leg_x, at_leg = (4.0, "start") if view.is_left else (WIDTH - 12.0, "end")
    return [
        Word(x=WIDTH / 2, y=14.0, text="back"),
        Word(x=head, y=14.0, text="head", anchor=at_head),
        Word(x=tail, y=14.0, text="tail", anchor=at_tail),
        Word(x=leg_x, y=_TOP_Z - 24.0, text="foreleg", anchor=at_leg),
        Word(x=float(low[0]), y=float(low[1]), text="sternum"),
    ]


def _free(view: SideView, line: Sequence[tuple[float, float]]) -> Floats:
    points = np.asarray(line, dtype=float)
    return view.placed(points[:, 0], points[:, 1])


def smooth(points: Floats) -> str:
    """Return path data of a smooth line (Catmull-Rom as Bézier curves) through points (N, 2)."""
    if len(points) < 3:
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    padded = np.vstack([2 * points[0] - points[1], points, 2 * points[-1] - points[-2]])
    parts = [f"M{points[0, 0]:.1f} {points[0, 1]:.1f}"]
    for index in range(1, len(points)):
        before, start, end, after = padded[index - 1 : index + 3]
        one, two = start + (end - before) / 6, end - (after - start) / 6
        parts.append(f"C{one[0]:.1f} {one[1]:.1f} {two[0]:.1f} {two[1]:.1f} {end[0]:.1f} {end[1]:.1f}")
    return "".join(parts)
