"""A jet that shoots through a small opening into a chamber: a core, then a cone that draws blood in and mixes.

Round turbulent jets (Pope, Turbulent Flows, 2000, section 5.1, from memory): after some six diameters the speed on the
axis falls as 5.8 diameters over distance, half of it is reached at a tenth of the distance aside, and it fluctuates by
about a quarter of the speed on the axis. Before the opening blood comes from all sides (flow convergence): its speed is
flow over the area of a half sphere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from fanlight.heart.distance import Points
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple

Array = Any  # an array of the array API standard

DECAY_DIAMETERS, HALF_WIDTH_SLOPE, UNSTEADY_SHARE = 5.8, 0.094, 0.25
_CORE_UNSTEADY = 0.06  # in the core itself, of its speed (engineering judgement)
_REACH_DIAMETERS = 60.0  # by then it is a tenth: lost in what else flows


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet:
    """One jet now, in heart coordinates."""

    origin: Triple
    direction: Triple  # unit vector
    orifice_mm2: float
    speed_mm_s: float
    before: tuple[Tissue, ...]  # chambers that it comes from; empty where a stream already leads up to it
    behind: tuple[Tissue, ...]  # and goes to

    @property
    def diameter_mm(self) -> float:
        """Of a round orifice of this area."""
        return 2.0 * math.sqrt(self.orifice_mm2 / math.pi)


def jet_at(jet: Jet, p: Points, xp: Any) -> tuple[Array, Array]:
    """Return speed along the jet (mm/s) and its fluctuation behind the opening; 0 before it."""
    d = jet.diameter_mm
    x, aside = _coordinates(jet, p, xp)
    ahead = x > 0.0
    away = xp.where(ahead, x, xp.zeros_like(x))
    fall = DECAY_DIAMETERS * d / xp.maximum(away, xp.full_like(away, DECAY_DIAMETERS * d))
    half = xp.maximum(HALF_WIDTH_SLOPE * away, xp.full_like(away, 0.5 * d))
    bell = xp.exp(-math.log(2.0) * (aside / half) ** 2)
    # in the core the profile is flat, with a rim that mixes
    core = xp.where(aside < 0.5 * d, xp.ones_like(bell), bell)
    profile = xp.where(away < DECAY_DIAMETERS * d, xp.maximum(core * bell**0.25, bell), bell)
    near_end = xp.where(away < _REACH_DIAMETERS * d, xp.ones_like(x), xp.zeros_like(x))
    speed = xp.where(ahead, jet.speed_mm_s * fall * profile * near_end, xp.zeros_like(x))
    mixed = away / (DECAY_DIAMETERS * d)
    share = _CORE_UNSTEADY + (UNSTEADY_SHARE - _CORE_UNSTEADY) * xp.where(mixed < 1.0, mixed, xp.ones_like(mixed))
    rim = UNSTEADY_SHARE * 4.0 * bell * (1.0 - bell)
    unsteady = xp.where(
        ahead, jet.speed_mm_s * fall * (share * bell + rim * (1.0 - share)) * near_end, xp.zeros_like(x)
    )
    return speed, unsteady


def drawn_in(jet: Jet, p: Points, xp: Any) -> tuple[Array, Array, Array]:
    """Return the velocity towards the opening before it (mm/s): half spheres, no faster than the jet itself."""
    off = tuple(p[i] - jet.origin[i] for i in range(3))
    x, _ = _coordinates(jet, p, xp)
    square = off[0] ** 2 + off[1] ** 2 + off[2] ** 2 + 1e-3
    speed = jet.speed_mm_s * jet.orifice_mm2 / (2.0 * math.pi * square)
    speed = xp.minimum(speed, xp.full_like(speed, jet.speed_mm_s))
    speed = xp.where(x > 0.0, xp.zeros_like(speed), speed) / xp.sqrt(square)
    return tuple(-speed * part for part in off)


def _coordinates(jet: Jet, p: Points, xp: Any) -> tuple[Array, Array]:
    off = tuple(p[i] - jet.origin[i] for i in range(3))
    x = sum(off[i] * jet.direction[i] for i in range(3))
    square = off[0] ** 2 + off[1] ** 2 + off[2] ** 2 - x * x
    return x, xp.sqrt(xp.maximum(square, xp.zeros_like(square)))
