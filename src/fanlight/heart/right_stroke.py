"""How hard the right ventricle works: as hard as it takes to eject what the left one does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from fanlight.heart.distance import Points
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.left_ventricle import LeftVentricle, around_axis, papillary_muscles
from fanlight.heart.left_ventricle import cavity_distance as left_distance
from fanlight.heart.paint import Box, joint_box
from fanlight.heart.right_cavity import cavity_distance as right_distance
from fanlight.heart.right_ventricle import RightVentricle
from fanlight.heart.rods import egg_box, rod_distance, rods_box
from fanlight.heart.semilunar_valve import Root
from fanlight.heart.volume import summed_mm3

Array = Any  # an array of the array API standard
# Efforts between which the shapes stay sound: above, the free wall would touch the septum (engineering judgement).
LEAST_EFFORT, MOST_EFFORT = 0.05, 1.45
_TRIES = 3  # of the straight line through the last two: within a hundredth of the stroke


@dataclass(frozen=True, slots=True, kw_only=True)
class RightSide:
    """What bounds the right ventricle at one moment, and the ventricle for a given effort."""

    lv: LeftVentricle
    root: Root
    unit_mm: float
    motion: BaseMotion
    ventricle: Callable[[float], RightVentricle]

    def right_mm3(self, effort: float) -> float:
        """Return the right ventricle's volume now."""
        rv = self.ventricle(effort)
        distance = partial(right_distance, rv, self.lv, self.root, self.unit_mm, xp=np)
        return summed_mm3(distance, joint_box(egg_box(rv.body, 0.0), rods_box(*rv.conus, rv.inlet)), self.motion)

    def left_mm3(self, contraction: float) -> float:
        """Return the volume of the left ventricle's blood now: papillary muscles take their room."""
        lv = self.lv
        muscles = papillary_muscles(lv, self.unit_mm, contraction)

        def distance(p: Points) -> Array:
            f = np.maximum(left_distance(lv, around_axis(lv, p, np), np), p[0] - lv.base_mm)
            for muscle in muscles:
                f = np.maximum(f, -rod_distance(p, muscle, np))
            return f

        wide = lv.radius_mm
        return summed_mm3(distance, Box(low=(-lv.apex_mm, -wide, -wide), high=(lv.base_mm, wide, wide)), self.motion)


def effort_for(diastole: RightSide, systole: RightSide, forward_fraction: float) -> float:
    """Return the effort with which the right ventricle ejects what the left one sends into the aorta.

    Parameters
    ----------
    diastole, systole : RightSide
        Both ends of ejection.
    forward_fraction : float
        Share of the left ventricle's stroke that goes into the aorta: less than 1 when the mitral valve leaks.

    Notes
    -----
    Conservation of mass: on average of many beats both ventricles pass on the same volume (physics). Kept within
    LEAST_EFFORT and MOST_EFFORT; a ventricle that cannot eject so much or so little does what it can.
    """
    wanted = forward_fraction * (diastole.left_mm3(0.0) - systole.left_mm3(1.0))
    full = diastole.right_mm3(0.0)

    def missing(effort: float) -> float:
        return full - systole.right_mm3(effort) - wanted

    (x0, y0), (x1, y1) = ((x, missing(x)) for x in (0.6, 1.1))
    for _ in range(_TRIES):
        if abs(y1 - y0) < 1e-9 * full:
            break
        x = min(max(x1 - y1 * (x1 - x0) / (y1 - y0), LEAST_EFFORT), MOST_EFFORT)
        x0, y0, x1, y1 = x1, y1, x, missing(x)
    return x1
