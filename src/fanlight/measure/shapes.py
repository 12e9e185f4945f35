"""Lengths, angles and areas of shapes drawn on a frame. Pure geometry; what they mean is said in `read_out`.

Every function takes points `(row, col)` in pixels and a `Pixel`, the size of a pixel, and returns mm, mm² or degrees;
with `SQUARE` they come back in pixels.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from fanlight.study import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Pixel:
    """Height and width of a pixel, in mm or in whatever is wanted."""

    down: float
    across: float


SQUARE = Pixel(down=1.0, across=1.0)


def distance(a: Point, b: Point, pixel: Pixel) -> float:
    """Return how far two points lie apart."""
    return math.hypot((b[0] - a[0]) * pixel.down, (b[1] - a[1]) * pixel.across)


def path_length(points: Sequence[Point], pixel: Pixel) -> float:
    """Return the length of a path, not closed."""
    return sum(distance(a, b, pixel) for a, b in itertools.pairwise(points))


def angle_deg(points: Sequence[Point], pixel: Pixel) -> float:
    """Return the angle at the middle one of three points, 0 to 180 degrees; 0 where an arm has no length."""
    a, corner, b = points
    u = ((a[0] - corner[0]) * pixel.down, (a[1] - corner[1]) * pixel.across)
    v = ((b[0] - corner[0]) * pixel.down, (b[1] - corner[1]) * pixel.across)
    cross, dot = u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]
    return math.degrees(math.atan2(abs(cross), dot))


def area(points: Sequence[Point], pixel: Pixel) -> float:
    """Return the area within a path that a straight line closes (shoelace formula)."""
    twice = sum(
        a[1] * pixel.across * b[0] * pixel.down - b[1] * pixel.across * a[0] * pixel.down
        for a, b in zip(points, [*points[1:], points[0]], strict=True)
    )
    return abs(twice) / 2


def resampled(points: Sequence[Point], n: int) -> tuple[Point, ...]:
    """Return `n` points at even steps along a path, its ends among them.

    Raises
    ------
    ValueError
        If fewer than two points are given or wanted.
    """
    if len(points) < 2 or n < 2:
        raise ValueError(f"a path needs two points, got {len(points)}, and {n} were wanted")
    total = path_length(points, SQUARE)
    if total == 0:
        return (points[0],) * n
    found, walked, k = [points[0]], 0.0, 0
    for step in range(1, n - 1):
        wanted = total * step / (n - 1)
        while walked + distance(points[k], points[k + 1], SQUARE) < wanted:
            walked += distance(points[k], points[k + 1], SQUARE)
            k += 1
        a, b = points[k], points[k + 1]
        share = (wanted - walked) / distance(a, b, SQUARE)
        found.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
    return (*found, points[-1])
