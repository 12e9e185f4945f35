"""The heart's own axes in the patient frame, and how the atrioventricular plane moves along them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fanlight.heart.triple import Triple, across, add, cross, dot, scaled, turned, unit

Array = Any  # an array of the array API standard

# Mean axes of the dog's heart in a chest of average shape (patient frame: cranial, left, dorsal). Engineering
# judgement, tuned so that the right long axis shows a nearly level septum and every Doppler window is open.
_LONG: Triple = (0.60, -0.35, 0.72)
_DEPTH: Triple = (0.00, 0.90, 0.44)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartFrame:
    """Unit vectors of the heart in the patient frame. Coordinates along them are called a, b and c."""

    long: Triple  # a: apex to base
    front: Triple  # b: caudodorsal to cranioventral; right of the right parasternal short axis
    depth: Triple  # c: septum to free wall of the left ventricle; depth of the right parasternal views

    def to_heart(self, p: Triple) -> Triple:
        """Return a point or direction of the patient frame in heart coordinates."""
        return (dot(p, self.long), dot(p, self.front), dot(p, self.depth))

    def to_patient(self, p: Triple) -> Triple:
        """Return a point or direction given in heart coordinates in the patient frame."""
        return add(add(scaled(self.long, p[0]), self.front, p[1]), self.depth, p[2])

    def coordinates(self, x: Array, y: Array, z: Array) -> tuple[Array, Array, Array]:
        """Return arrays a, b, c of the points x, y, z."""
        long, front, depth = self.long, self.front, self.depth
        return (
            x * long[0] + y * long[1] + z * long[2],
            x * front[0] + y * front[1] + z * front[2],
            x * depth[0] + y * depth[1] + z * depth[2],
        )


def heart_frame(*, upright_deg: float, sideways_deg: float, roll_deg: float) -> HeartFrame:
    """Return the heart's axes, turned away from the mean.

    Parameters
    ----------
    upright_deg : float
        Turn about the patient's left-right axis; above 0 the base moves dorsally: an upright heart.
    sideways_deg : float
        Turn about the dorsoventral axis; above 0 the base moves to the left.
    roll_deg : float
        Turn about the heart's own long axis.
    """
    long = unit(_LONG)
    depth = across(_DEPTH, long)
    for axis, angle in (((0.0, -1.0, 0.0), upright_deg), ((0.0, 0.0, 1.0), sideways_deg)):
        long, depth = turned(long, axis, math.radians(angle)), turned(depth, axis, math.radians(angle))
    depth = turned(depth, long, math.radians(roll_deg))
    return HeartFrame(long=long, front=cross(depth, long), depth=depth)


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseMotion:
    """Where the tissue along the long axis has gone: the base comes down, the apex stays, the atria follow in part.

    The model is drawn at rest; `to_rest` undoes the motion, so that one drawing serves every moment.
    Displacement grows in a straight line from the apex to the base and falls again to `kept` at `top_mm`.
    """

    apex_mm: float  # stays
    base_mm: float  # rest position of the atrioventricular plane
    top_mm: float  # from here on everything moves alike
    descent_mm: float  # of the base, now
    kept: float = 0.35  # share of the descent at the top: great vessels follow in part (engineering judgement)

    def to_rest(self, a: Array, xp: Any) -> Array:
        """Return rest positions of the points at `a`."""
        moved = self.base_mm - self.descent_mm
        top = self.top_mm - self.kept * self.descent_mm
        below = self.apex_mm + (a - self.apex_mm) * ((self.base_mm - self.apex_mm) / (moved - self.apex_mm))
        above = self.base_mm + (a - moved) * ((self.top_mm - self.base_mm) / (top - moved))
        beyond = a + self.kept * self.descent_mm
        # Each straight piece lies on the inner side of its neighbours: picking by size keeps the map continuous.
        return xp.where(a < self.apex_mm, a, xp.where(a < moved, below, xp.where(a < top, above, beyond)))

    def moved(self, p: Triple) -> Triple:
        """Return where the point at rest `p` (heart coordinates) is now."""
        a = p[0]
        if a <= self.apex_mm:
            gone = 0.0
        elif a <= self.base_mm:
            gone = self.descent_mm * (a - self.apex_mm) / (self.base_mm - self.apex_mm)
        else:
            share = min((a - self.base_mm) / (self.top_mm - self.base_mm), 1.0)
            gone = self.descent_mm * (1.0 + share * (self.kept - 1.0))
        return (a - gone, p[1], p[2])

    @property
    def shortening(self) -> float:
        """Length of the left ventricle now over its length at rest."""
        return 1.0 - self.descent_mm / (self.base_mm - self.apex_mm)


def to_rest(motions: Sequence[BaseMotion], a: Array) -> Array:
    """Return `BaseMotion.to_rest` of each of m motions at its own row of NumPy points (m, n), side by side."""
    rows = []
    for each in motions:
        moved, top = each.base_mm - each.descent_mm, each.top_mm - each.kept * each.descent_mm
        below, above = (
            (each.base_mm - each.apex_mm) / (moved - each.apex_mm), (each.top_mm - each.base_mm) / (top - moved)
        )  # fmt: skip
        rows.append((each.apex_mm, each.base_mm, moved, top, below, above, each.kept * each.descent_mm))
    apex, base, moved, top, below, above, gone = np.asarray(rows, np.float32).T[..., None]
    stretched = np.where(a < moved, apex + (a - apex) * below, base + (a - moved) * above)
    return np.where(a < apex, a, np.where(a < top, stretched, a + gone))
