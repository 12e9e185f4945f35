"""Signed distances in mm: below 0 inside, 0 on the border, above 0 outside. Array API throughout.

Ellipsoids use a first-order distance: right at the border, where tissue meets tissue, and monotone away from it.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fanlight.heart.triple import Triple, dot, minus

Array = Any  # an array of the array API standard
Points = tuple[Array, Array, Array]


def clamp(x: Array, low: float, high: float, xp: Any) -> Array:
    """Return x held between two numbers (``xp.clip`` of the compatibility layer costs several times as much)."""
    if isinstance(x, np.ndarray):
        return x.clip(low, high)  # a third of two passes: extremes against a number are slow
    return xp.minimum(xp.maximum(x, low), high)


def ellipsoid(p: Points, centre: Triple, radii: Triple, xp: Any) -> Array:
    """Return the distance to an ellipsoid along the axes."""
    x = (p[0] - centre[0]) * (1.0 / radii[0])
    y = (p[1] - centre[1]) * (1.0 / radii[1])
    z = (p[2] - centre[2]) * (1.0 / radii[2])
    xx, yy, zz = x * x, y * y, z * z
    return from_squares(xx, yy, zz, radii, xp)


def from_squares(xx: Array, yy: Array, zz: Array, radii: tuple[Any, Any, Any], xp: Any) -> Array:
    """Return the distance to an ellipsoid from the squared coordinates in units of its radii."""
    level = xp.sqrt(xx + yy + zz)
    slope = xp.sqrt(
        xx * (1.0 / (radii[0] * radii[0])) + yy * (1.0 / (radii[1] * radii[1])) + zz * (1.0 / (radii[2] * radii[2]))
    )
    slope += 1e-6  # keeps the centre finite, far below any tissue
    out = level - 1.0
    out *= level
    out /= slope
    return out


def capsule(p: Points, start: Triple, end: Triple, start_mm: float, end_mm: float, xp: Any) -> Array:
    """Return the distance to a rod with round ends whose radius goes from `start_mm` to `end_mm`."""
    along = minus(end, start)
    size = 1.0 / dot(along, along)
    x, y, z = p[0] - start[0], p[1] - start[1], p[2] - start[2]
    # In place from here on: large arrays of many shapes stay in the cache.
    share = x * along[0]
    share += y * along[1]
    share += z * along[2]
    share *= size
    share = clamp(share, 0.0, 1.0, xp)
    x -= share * along[0]
    y -= share * along[1]
    z -= share * along[2]
    x *= x
    y *= y
    z *= z
    x += y
    x += z
    share *= end_mm - start_mm
    share += start_mm
    return xp.sqrt(x) - share


def half_space(p: Points, point: Triple, normal: Triple) -> Array:
    """Return the distance beyond a plane: below 0 on the side that the unit vector `normal` leaves."""
    return p[0] * normal[0] + p[1] * normal[1] + p[2] * normal[2] - dot(point, normal)


def smooth_min(f: Array, g: Array, blend_mm: float, xp: Any) -> Array:
    """Return the union of two shapes with a fillet (quadratic polynomial; equal to the minimum further apart)."""
    h = (g - f) * (0.5 / blend_mm)
    h += 0.5
    h = clamp(h, 0.0, 1.0, xp)
    out = h * (f - g)
    out += g
    out -= blend_mm * h * (1.0 - h)
    return out


def smooth_max(f: Array, g: Array, blend_mm: float, xp: Any) -> Array:
    """Return the overlap of two shapes with a rounded rim."""
    return -smooth_min(-f, -g, blend_mm, xp)


def stick(u: Array, a: Array, start: tuple[float, float], end: tuple[float, float], xp: Any) -> Array:
    """Return the distance (never below 0) to a straight stick in a plane with coordinates u and a."""
    du, da = end[0] - start[0], end[1] - start[1]
    size = 1.0 / (du * du + da * da)
    x, y = u - start[0], a - start[1]
    share = x * du
    share += y * da
    share *= size
    share = clamp(share, 0.0, 1.0, xp)
    x -= share * du
    y -= share * da
    x *= x
    y *= y
    x += y
    return xp.sqrt(x)
