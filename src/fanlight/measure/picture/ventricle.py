"""The left ventricle along its axis: length from hinges and apex, volume from its traced inner border."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from fanlight.measure.picture.placed import Points
from fanlight.measure.shapes import Pixel, area, distance
from fanlight.reference.formulas.ventricle import area_length_volume_ml, discs_volume_ml
from fanlight.study import Point

N_DISCS = 20  # common practice in the method of discs
# Ends farther apart than this share of the outline's length are the two hinges (engineering judgement; a thick-walled
# ventricle's ring came down to 0.10 in simulated animals of ring A).
_OPEN_SHARE = 0.05
_THINNEST_MM = 1e-6  # of a disc: one that the axis only grazes still counts as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """The inner border of the ventricle from hinge to hinge, in mm: x across, y down.

    Attributes
    ----------
    points : tuple of (y, x)
        The straight piece from the last to the first is the mitral ring.
    """

    points: tuple[Point, ...]
    ring: Point
    apex: Point

    @property
    def length_mm(self) -> float:
        """From the middle of the ring to the apex."""
        return math.dist(self.ring, self.apex)


def ring_middle(first: Point, second: Point) -> Point:
    """Return the point half way between two hinges."""
    return ((first[0] + second[0]) / 2, (first[1] + second[1]) / 2)


def axis_length(points: Points, pixel: Pixel) -> float:
    """Return the distance from the middle between the first two points, the hinges, to the third, the apex."""
    return distance(ring_middle(points[0], points[1]), points[2], pixel)


def is_open(points: Points, pixel: Pixel) -> bool:
    """Return whether a trace leaves the mitral ring open: its ends lie apart, at the hinges."""
    around = sum(distance(a, b, pixel) for a, b in itertools.pairwise(points))
    return distance(points[0], points[-1], pixel) > _OPEN_SHARE * around


def outline_of(points: Points, pixel: Pixel, apex: Point | None = None) -> Outline:
    """Return a trace as an outline in mm.

    Parameters
    ----------
    points : tuple of (row, col)
        From one mitral hinge along the inner border to the other.
    pixel : Pixel
        In mm.
    apex : (row, col), optional
        Where it was marked; else the point of the trace that lies farthest from the middle of the ring.
    """
    scaled = tuple((row * pixel.down, col * pixel.across) for row, col in points)
    ring = ring_middle(scaled[0], scaled[-1])
    farthest = max(scaled, key=lambda point: math.dist(point, ring))
    at = farthest if apex is None else (apex[0] * pixel.down, apex[1] * pixel.across)
    return Outline(points=scaled, ring=ring, apex=at)


def disc_diameters_mm(outline: Outline, n: int = N_DISCS) -> list[float]:
    """Return the width of the outline at right angles to its axis, in the middle of each disc, from ring to apex."""
    length = outline.length_mm
    along = ((outline.apex[0] - outline.ring[0]) / length, (outline.apex[1] - outline.ring[1]) / length)
    # Coordinates of the axis: how far along it, how far beside it.
    placed = [
        (
            (y - outline.ring[0]) * along[0] + (x - outline.ring[1]) * along[1],
            (x - outline.ring[1]) * along[0] - (y - outline.ring[0]) * along[1],
        )
        for y, x in outline.points
    ]
    return [_width_at(placed, (disc + 0.5) * length / n) for disc in range(n)]


def _width_at(placed: list[tuple[float, float]], level: float) -> float:
    """Return how much of a line across the axis lies within the outline."""
    crossings = []
    for (a_along, a_beside), (b_along, b_beside) in zip(placed, [*placed[1:], placed[0]], strict=True):
        if (a_along > level) != (b_along > level):
            share = (level - a_along) / (b_along - a_along)
            crossings.append(a_beside + share * (b_beside - a_beside))
    crossings.sort()
    return sum(b - a for a, b in zip(crossings[::2], crossings[1::2], strict=True))


def discs_ml(points: Points, pixel: Pixel, apex: Point | None = None) -> float:
    """Return the volume by the method of discs in one plane, mL: 20 round discs of equal height.

    Parameters are those of `outline_of`.
    """
    outline = outline_of(points, pixel, apex)
    widths = [max(width, _THINNEST_MM) / 10 for width in disc_diameters_mm(outline)]
    return discs_volume_ml(widths, outline.length_mm / 10)


def area_length_ml(points: Points, pixel: Pixel, apex: Point | None = None) -> float:
    """Return the volume by area and length, mL: 8·A²/(3·π·L). Parameters are those of `outline_of`."""
    outline = outline_of(points, pixel, apex)
    return area_length_volume_ml(area(points, pixel) / 100, outline.length_mm / 10)
