"""A smooth free-form deformation of the heart, outside the family of shapes that the model itself can draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import array_api_compat
import numpy as np

from fanlight.heart.pose import Vector

Array = Any  # an array of the array API standard

N_BUMPS = 14
STEEPEST = 0.5  # largest sum of slopes: far enough below 1 that no two points of the heart fall onto one
_INVERT_STEPS = 40  # of a contraction by at least STEEPEST each: 2^-40 of the way is left


@dataclass(frozen=True, slots=True, kw_only=True)
class Warp:
    """Bumps of displacement: each moves what lies near its centre by its push, fading as a bell curve."""

    centres_mm: tuple[tuple[float, float, float], ...]
    pushes_mm: tuple[tuple[float, float, float], ...]
    widths_mm: tuple[float, ...]  # one standard deviation of the bell

    def __post_init__(self) -> None:
        if (slope := steepest_slope(self)) > STEEPEST * (1 + 1e-9):
            raise ValueError(f"the deformation is too steep to be undone: slope {slope:.2f}, at most {STEEPEST}")


def steepest_slope(warp: Warp) -> float:
    """Return the largest stretch of the displacement, found on a grid round the bumps."""
    centres, pushes = np.asarray(warp.centres_mm), np.asarray(warp.pushes_mm)
    widths = np.asarray(warp.widths_mm)
    low, high = centres.min(axis=0) - widths.max(), centres.max(axis=0) + widths.max()
    sides = [np.linspace(low[i], high[i], 13) for i in range(3)]  # closer than a bump is wide
    at = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 3)
    away = at[:, None, :] - centres[None, :, :]
    bell = np.exp(-0.5 * (away**2).sum(axis=-1) / widths**2)
    slope = np.einsum("nb,bi,nbj->nij", bell / widths**2, pushes, -away)
    return float(np.linalg.norm(slope, ord=2, axis=(1, 2)).max())


def draw_warp(heart_mm: float, rng: np.random.Generator) -> Warp:
    """Return a deformation for a heart of this size.

    Parameters
    ----------
    heart_mm : float
        Inner diameter of the left ventricle; pushes are about a twentieth of it, so that walls and chambers bulge
        as hearts of one breed differ (engineering judgement).
    rng : Generator
        Chooses places, directions and widths.
    """
    centres = rng.normal(0.0, 0.9 * heart_mm, (N_BUMPS, 3))
    pushes = rng.normal(0.0, 0.05 * heart_mm, (N_BUMPS, 3))
    widths = rng.uniform(0.5, 1.0, N_BUMPS) * heart_mm
    for share in 0.9 ** np.arange(60):  # calmer until it can be undone; the first is nearly always calm enough
        try:
            return Warp(
                centres_mm=tuple((float(a), float(b), float(c)) for a, b, c in centres),
                pushes_mm=tuple((float(a), float(b), float(c)) for a, b, c in share * pushes),
                widths_mm=tuple(float(w) for w in widths),
            )
        except ValueError:
            continue
    raise AssertionError("a push of a 500th cannot be too steep")


def undone(warp: Warp, x: Array, y: Array, z: Array) -> tuple[Array, Array, Array]:
    """Return where points of the deformed heart lay before it was deformed; same shapes, mm."""
    xp = array_api_compat.array_namespace(x)
    dx, dy, dz = xp.zeros_like(x), xp.zeros_like(y), xp.zeros_like(z)
    for (cx, cy, cz), (px, py, pz), width in zip(warp.centres_mm, warp.pushes_mm, warp.widths_mm, strict=True):
        far = (x - cx) ** 2 + (y - cy) ** 2 + (z - cz) ** 2
        bell = xp.exp(far * (-0.5 / width**2))
        dx, dy, dz = dx + px * bell, dy + py * bell, dz + pz * bell
    return x + dx, y + dy, z + dz


def deformed(warp: Warp, point_mm: Vector) -> Vector:
    """Return where a point of the undeformed heart lies after the deformation: the inverse of `undone`."""
    aim = np.asarray(point_mm, dtype=float)
    at = aim.copy()
    for _ in range(_INVERT_STEPS):
        back = np.array(undone(warp, at[0], at[1], at[2]), dtype=float)
        at = at + (aim - back)
    return at
