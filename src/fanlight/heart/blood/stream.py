"""Blood on its way along a tube of changing width: what passes is the same everywhere, so that it is fast where narrow.

Array API throughout; points and velocities in heart coordinates (mm, mm/s).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.distance import Points, clamp
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple

Array = Any  # an array of the array API standard
Floats = NDArray[np.float64]

# Powers of the velocity profile across a stream. In openings and vessels it is blunt, since flow through short wide
# tubes has no time to become a parabola (textbooks draw it nearly flat; engineering judgement); where blood runs free
# in a chamber its edge is dragged along (a parabola of fourth power). The peak over the mean is (power + 2) / power.
BLUNT, ROUNDED = 20.0, 4.0
_STEP_MM = 2.0  # between points of a centre line; a dog's aorta bends over centimetres


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stream:
    """A centre line with its width and what flows through it now.

    Attributes
    ----------
    line_mm : ndarray of shape (n, 3)
        Points of the centre line, downstream.
    along : ndarray of shape (n, 3)
        Unit vectors downstream.
    radius_mm : ndarray of shape (n,)
        Of the stream; outside it nothing flows, or what returns.
    flow_mm3_s : ndarray of shape (n,)
        Through the stream at each point; below 0 against its direction.
    return_mm3_s : ndarray of shape (n,)
        What flows back between the stream and `wall_mm`.
    wall_mm : ndarray of shape (n,)
        Radius of the chamber; the stream's own where nothing returns.
    rounded : ndarray of shape (n,)
        0: blunt profile, 1: rounded.
    chambers : tuple of Tissue
        Where this flow is; elsewhere it is not looked at.
    """

    line_mm: Floats
    along: Floats
    radius_mm: Floats
    flow_mm3_s: Floats
    return_mm3_s: Floats
    wall_mm: Floats
    rounded: Floats
    chambers: tuple[Tissue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Knot:
    """A place that a stream passes, with its radius there."""

    at: Triple
    radius_mm: float
    share: float = 1.0  # of the flow that is in the stream here: it gathers in one chamber and disperses in another
    rounded: float = 0.0  # 0 in an opening or a vessel, 1 free in a chamber


def centre_line(knots: tuple[Knot, ...]) -> tuple[Floats, Floats, Floats]:
    """Return points, directions and (n, 3) radius, share and roundness of a line through knots, every two millimetres.

    A Catmull-Rom spline (centripetal would differ by less than a radius here); what it carries goes by straight lines.
    """
    places = np.asarray([knot.at for knot in knots])
    values = np.asarray([(knot.radius_mm, knot.share, knot.rounded) for knot in knots])
    padded = np.concatenate([2 * places[:1] - places[1:2], places, 2 * places[-1:] - places[-2:-1]])
    points, carried = [], []
    for k in range(len(places) - 1):
        p0, p1, p2, p3 = padded[k : k + 4]
        n = max(2, round(float(np.linalg.norm(p2 - p1)) / _STEP_MM))
        t = np.arange(n)[:, None] / n
        points.append(
            0.5 * (2 * p1 + (p2 - p0) * t + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2 + (3 * p1 - p0 - 3 * p2 + p3) * t**3)
        )
        carried.append(values[k] + (values[k + 1] - values[k]) * t)
    line = np.concatenate([*points, places[-1:]])
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return line, along, np.concatenate([*carried, values[-1:]])


def through(knots: tuple[Knot, ...], flow_mm3_s: float, chambers: tuple[Tissue, ...]) -> Stream:
    """Return a stream through knots; where a knot has a share of the flow, the rest moves too slowly to be seen."""
    line, along, carried = centre_line(knots)
    return Stream(
        line_mm=line, along=along, radius_mm=carried[:, 0], flow_mm3_s=flow_mm3_s * carried[:, 1],
        return_mm3_s=np.zeros(len(line)), wall_mm=carried[:, 0], rounded=carried[:, 2], chambers=chambers,
    )  # fmt: skip


def velocity_in(stream: Stream, p: Points, xp: Any) -> tuple[Array, Array, Array]:
    """Return the velocity (mm/s) that a stream has at points (three arrays of one dimension).

    Along the line the mean is flow over cross-section; across it the blood follows the narrowing or widening, in
    proportion to its distance from the line, which keeps the volume (the profile keeps its shape).
    """
    nearest, ahead = _nearest(stream, p, xp)

    def of(values: Floats) -> Array:
        return xp.take(xp.asarray(values.astype(np.float32)), nearest)

    line = tuple(of(stream.line_mm[:, i]) for i in range(3))
    along = _turned_along(stream, nearest, ahead, xp)
    off = tuple(p[i] - line[i] - ahead * along[i] for i in range(3))
    rho = xp.sqrt(off[0] ** 2 + off[1] ** 2 + off[2] ** 2) + 1e-3
    step = np.linalg.norm(np.gradient(stream.line_mm, axis=0), axis=1)
    slope = np.gradient(stream.radius_mm) / step
    radius = of(stream.radius_mm) + of(slope) * clamp(ahead, -_STEP_MM, _STEP_MM, xp)
    wall = xp.maximum(of(stream.wall_mm), radius)
    share = rho / radius
    inside = share < 1.0
    speed = of(stream.flow_mm3_s) / (np.pi * radius**2) * _profile(share, of(stream.rounded), xp)
    back = of(stream.return_mm3_s) / (np.pi * (wall**2 - radius**2) + 1.0)
    speed = xp.where(inside, speed, xp.where(rho < wall, -back, xp.zeros_like(back)))
    last = len(stream.line_mm) - 1
    past = ((nearest == 0) & (ahead < -step[0])) | ((nearest == last) & (ahead > step[-1]))
    speed = xp.where(past, xp.zeros_like(speed), speed)
    outward = xp.where(inside, speed * of(slope) / radius, xp.zeros_like(speed))
    return tuple(speed * along[i] + outward * off[i] for i in range(3))


def _profile(share: Array, rounded: Array, xp: Any) -> Array:
    """Return speed over mean speed at a share of the radius; powers by squares, ten times as fast as general ones."""
    x = clamp(share, 0.0, 1.0, xp)
    fourth = (x * x) * (x * x)
    eighth = fourth * fourth
    blunt = (BLUNT + 2.0) / BLUNT * (1.0 - eighth * eighth * fourth)
    return blunt + rounded * ((ROUNDED + 2.0) / ROUNDED * (1.0 - fourth) - blunt)


def _nearest(stream: Stream, p: Points, xp: Any) -> tuple[Array, Array]:
    """Return the number of the nearest point of the line, and how far downstream of it the points lie."""
    line = stream.line_mm.astype(np.float32)
    # |p - q|² without |p|², which is the same for all q: one matrix product
    flat = xp.stack([p[0], p[1], p[2]], axis=-1)
    apart = xp.matmul(flat, xp.asarray(np.ascontiguousarray(-2.0 * line.T))) + xp.asarray((line**2).sum(axis=1))
    nearest = xp.argmin(apart, axis=1)
    along = stream.along.astype(np.float32)
    ahead = 0.0
    for i in range(3):
        ahead = ahead + (p[i] - xp.take(xp.asarray(line[:, i]), nearest)) * xp.take(xp.asarray(along[:, i]), nearest)
    return nearest, ahead


def _turned_along(stream: Stream, nearest: Array, ahead: Array, xp: Any) -> tuple[Array, Array, Array]:
    """Return the direction of the line where the points lie, between its points by a straight line."""
    step = np.linalg.norm(np.gradient(stream.line_mm, axis=0), axis=1, keepdims=True)
    turn = (np.gradient(stream.along, axis=0) / step).astype(np.float32)
    along = stream.along.astype(np.float32)
    near = clamp(ahead, -_STEP_MM, _STEP_MM, xp)
    parts = [
        xp.take(xp.asarray(along[:, i]), nearest) + near * xp.take(xp.asarray(turn[:, i]), nearest) for i in range(3)
    ]
    size = xp.sqrt(parts[0] ** 2 + parts[1] ** 2 + parts[2] ** 2)
    return tuple(part / size for part in parts)
