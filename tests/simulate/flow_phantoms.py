"""Drawn phantoms for colour Doppler, with known velocity: a tube at any angle, plug, jet, a block that is pushed."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fanlight.heart.motion import Motion
from fanlight.heart.tissue import Tissue
from fanlight.simulate.colour.colour_mode import Moves
from fanlight.simulate.machine.scene import Scene
from tests.simulate.phantoms import even, painted

Array = Any


def _zero(x: Array) -> Array:
    return np.zeros_like(x, dtype=np.float32)


def at_rest() -> Moves:
    """Nothing moves."""
    return lambda time_ms, x, y, z, tissue=None: Motion(
        velocity_mm_s=(_zero(x), _zero(x), _zero(x)), unsteady_mm_s=_zero(x)
    )


def tube(
    angle_deg: float, radius_mm: float, depth_mm: float, peak_mm_s: float, *, plug: bool = False, unsteady: float = 0.0
) -> tuple[Scene, Moves]:
    """Blood in still muscle; the axis passes (0, 0, depth) at an angle to the central beam, flow runs up it.

    The profile is a parabola (Poiseuille) or a plug; `unsteady` is a share of the speed.
    """
    angle = math.radians(angle_deg)
    axis = (math.sin(angle), 0.0, -math.cos(angle))  # towards the probe at 0 degrees

    def radius(x: Array, y: Array, z: Array) -> Array:
        along = x * axis[0] + (z - depth_mm) * axis[2]
        return np.sqrt(np.maximum(x**2 + y**2 + (z - depth_mm) ** 2 - along**2, 0.0))

    scene = painted(np, [(Tissue.LV_CAVITY, lambda x, y, z: radius(x, y, z) - radius_mm)], Tissue.SEPTUM)

    def motion(time_ms: float, x: Array, y: Array, z: Array, tissue: Array | None = None) -> Motion:
        share = radius(x, y, z) / radius_mm
        speed = np.where(share < 1, peak_mm_s * (1.0 if plug else 1 - share**2), 0.0).astype(np.float32)
        parts = tuple(np.asarray(speed * part, np.float32) for part in axis)
        return Motion(velocity_mm_s=parts, unsteady_mm_s=np.asarray(unsteady * np.abs(speed), np.float32))  # type: ignore[arg-type]

    return scene, motion


def jet(depth_mm: float, peak_mm_s: float) -> tuple[Scene, Moves]:
    """A round chamber of 15 mm with a wall across it; a free jet of 3 mm runs away from the probe and widens."""

    def chamber(x: Array, y: Array, z: Array) -> Array:
        return np.sqrt(x**2 + y**2 + (z - depth_mm) ** 2) - 20.0

    def wall(x: Array, y: Array, z: Array) -> Array:
        inside = np.abs(z - depth_mm + 9) - 1.0
        return np.maximum(inside, 1.5 - np.hypot(x, y))

    def both(x: Array, y: Array, z: Array) -> Array:
        return np.maximum(chamber(x, y, z), -wall(x, y, z))

    scene = painted(np, [(Tissue.LA_CAVITY, both)], Tissue.SEPTUM)

    def motion(time_ms: float, x: Array, y: Array, z: Array, tissue: Array | None = None) -> Motion:
        on = z - depth_mm + 9
        half = 1.5 + 0.11 * np.maximum(on, 0)  # a free turbulent jet widens by a fifth of its way
        core = peak_mm_s * np.minimum(1.0, 1.5 / half * 1.6)
        shape = np.exp(-((np.hypot(x, y) / half) ** 2))
        after = np.where(on > 0, core * shape, 0.0)
        apart = np.sqrt(x**2 + y**2 + on**2)
        toward = np.where(on <= 0, peak_mm_s * 1.5**2 / (2 * np.maximum(apart, 1.2) ** 2), 0.0)
        vx = np.where(on <= 0, -toward * x / np.maximum(apart, 1.2), 0.0)
        vz = after + np.where(on <= 0, toward * -on / np.maximum(apart, 1.2), 0.0)
        edge = np.where(on > 0, 0.25 * core * np.exp(-(((np.hypot(x, y) - 0.7 * half) / half) ** 2)), 0.0)
        blood = both(x, y, z) < 0
        return Motion(
            velocity_mm_s=(
                np.asarray(np.where(blood, vx, 0.0), np.float32),
                _zero(x),
                np.asarray(np.where(blood, vz, 0.0), np.float32),
            ),
            unsteady_mm_s=np.asarray(edge * np.minimum(1, np.maximum(on, 0) / 6), np.float32),
        )

    return scene, motion


def pushed_block(speed_mm_s: float) -> tuple[Scene, Moves]:
    """Muscle everywhere that comes towards the probe as one."""
    scene = even(np, shift_mm=lambda t: (0.0, 0.0, -speed_mm_s * t / 1000))

    def motion(time_ms: float, x: Array, y: Array, z: Array, tissue: Array | None = None) -> Motion:
        return Motion(
            velocity_mm_s=(_zero(x), _zero(x), np.full(x.shape, -speed_mm_s, np.float32)), unsteady_mm_s=_zero(x)
        )

    return scene, motion
