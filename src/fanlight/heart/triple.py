"""Points and directions as plain triples of floats: exact, hashable, and never a wider array type by accident.

A NumPy scalar of 64 bits would widen every 32-bit array that it meets; a Python float does not.
"""

from __future__ import annotations

import math

Triple = tuple[float, float, float]


def add(p: Triple, q: Triple, times: float = 1.0) -> Triple:
    """Return p + times · q."""
    return (p[0] + times * q[0], p[1] + times * q[1], p[2] + times * q[2])


def minus(p: Triple, q: Triple) -> Triple:
    """Return p - q."""
    return (p[0] - q[0], p[1] - q[1], p[2] - q[2])


def scaled(p: Triple, times: float) -> Triple:
    """Return times · p."""
    return (times * p[0], times * p[1], times * p[2])


def mix(p: Triple, q: Triple, share: float) -> Triple:
    """Return the point that lies `share` of the way from p to q."""
    return add(scaled(p, 1.0 - share), q, share)


def dot(p: Triple, q: Triple) -> float:
    """Return the inner product."""
    return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]


def cross(p: Triple, q: Triple) -> Triple:
    """Return the vector product."""
    return (p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0])


def length(p: Triple) -> float:
    """Return the Euclidean length."""
    return math.sqrt(dot(p, p))


def unit(p: Triple) -> Triple:
    """Return the direction of p."""
    return scaled(p, 1.0 / length(p))


def across(p: Triple, axis: Triple) -> Triple:
    """Return the direction of the part of p at right angles to the unit vector `axis`."""
    return unit(add(p, axis, -dot(p, axis)))


def turned(p: Triple, axis: Triple, angle_rad: float) -> Triple:
    """Return p turned about the unit vector `axis` (right-hand rule; Rodrigues' formula)."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    out = add(scaled(p, c), cross(axis, p), s)
    return add(out, axis, dot(axis, p) * (1.0 - c))
