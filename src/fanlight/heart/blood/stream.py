"""Blood on its way along a tube of changing width: what passes is the same everywhere, so that it is fast where narrow.

Array API throughout; points and velocities in heart coordinates (mm, mm/s).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.distance import Points, clamp
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple

Array = Any  # an array of the array API standard
Floats = NDArray[np.float64]
Line = tuple[Floats, Floats, Floats]  # points and directions (n, 3), and (n, 3) radius, share and roundness

# Powers of the velocity profile across a stream. In openings and vessels it is blunt, since flow through short wide
# tubes has no time to become a parabola (textbooks draw it nearly flat; engineering judgement); where blood runs free
# in a chamber its edge is dragged along (a parabola of fourth power). The peak over the mean is (power + 2) / power.
BLUNT, ROUNDED = 20.0, 4.0
_AT_ONCE = (
    8000  # points whose velocities are worked out together: what of them is remembered stays in a cache (numerical)
)
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


def centre_lines(lines: Sequence[tuple[Knot, ...]]) -> list[Line]:
    """Return points, directions and (n, 3) radius, share and roundness of lines through knots, every two millimetres.

    A Catmull-Rom spline (centripetal would differ by less than a radius here); what it carries goes by straight lines.
    """
    given = np.asarray([(*knot.at, knot.radius_mm, knot.share, knot.rounded) for knots in lines for knot in knots])
    places, values = given[:, :3], given[:, 3:]
    ends = np.cumsum([len(knots) for knots in lines])
    starts = np.delete(np.arange(len(given)), ends - 1)  # of the pieces between knots
    first, last = np.isin(starts, [0, *ends]), np.isin(starts + 2, ends)
    p1, p2 = places[starts], places[starts + 1]
    p0, p3 = places[starts - 1], places[np.minimum(starts + 2, len(given) - 1)]
    p0[first], p3[last] = 2 * p1[first] - p2[first], 2 * p2[last] - p1[last]
    n = np.maximum(2, np.rint(_lengths(p2 - p1) / _STEP_MM)).astype(np.intp)
    piece = np.repeat(np.arange(len(n)), n)
    t = ((np.arange(len(piece)) - (np.cumsum(n) - n)[piece]) / n[piece])[:, None]
    parts = [2 * p1, p2 - p0, 2 * p0 - 5 * p1 + 4 * p2 - p3, 3 * p1 - p0 - 3 * p2 + p3]
    at, once, square, cube = np.stack(parts)[:, piece]
    before_end = np.cumsum(n)[last]  # points up to the end of each line
    tails = before_end + np.arange(len(ends))
    inner = np.delete(np.arange(len(piece) + len(ends)), tails)
    line, carried = np.empty((len(piece) + len(ends), 3)), np.empty((len(piece) + len(ends), 3))
    line[inner], line[tails] = 0.5 * (at + once * t + square * t**2 + cube * t**3), places[ends - 1]
    value = values[starts]
    carried[inner], carried[tails] = value[piece] + (values[starts + 1] - value)[piece] * t, values[ends - 1]
    heads = np.concatenate([[0], tails[:-1] + 1])
    along = _gradient(line, heads, tails)
    along /= _lengths(along)[:, None]
    return [(line[i:k], along[i:k], carried[i:k]) for i, k in zip(heads.tolist(), (tails + 1).tolist(), strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A stream whose lines are not drawn yet."""

    lines: tuple[tuple[Knot, ...], ...]
    chambers: tuple[Tissue, ...]
    stream: Callable[[Sequence[Line]], Stream]  # from its lines


def drawn(ways: Sequence[Way]) -> list[Stream]:
    """Return some streams: their lines are drawn together, which takes little longer than drawing one."""
    if not ways:
        return []
    lines = iter(centre_lines([knots for way in ways for knots in way.lines]))
    return [way.stream([next(lines) for _ in way.lines]) for way in ways]


def through(knots: tuple[Knot, ...], flow_mm3_s: float, chambers: tuple[Tissue, ...]) -> Way:
    """Return a stream through knots; where a knot has a share of the flow, the rest moves too slowly to be seen."""

    def stream(lines: Sequence[Line]) -> Stream:
        line, along, carried = lines[0]
        return Stream(
            line_mm=line, along=along, radius_mm=carried[:, 0], flow_mm3_s=flow_mm3_s * carried[:, 1],
            return_mm3_s=np.zeros(len(line)), wall_mm=carried[:, 0], rounded=carried[:, 2], chambers=chambers,
        )  # fmt: skip

    return Way(lines=(knots,), chambers=chambers, stream=stream)


def velocity_in(stream: Stream, p: Points, xp: Any) -> tuple[Array, Array, Array]:
    """Return the velocity (mm/s) that a stream has at points (three arrays of one dimension).

    Along the line the mean is flow over cross-section; across it the blood follows the narrowing or widening, in
    proportion to its distance from the line, which keeps the volume (the profile keeps its shape).
    """
    return velocities_in([(stream, p)], xp)[0]


def velocities_in(asked: Sequence[tuple[Stream, Points]], xp: Any) -> list[tuple[Array, Array, Array]]:
    """Return `velocity_in` of some streams, each at points of its own: together they take little longer than one."""
    if not asked:
        return []
    nearest, first = [], 0
    for stream, p in asked:
        nearest.append(_nearest(stream, p, xp) + first)
        first += len(stream.line_mm)
    table = xp.asarray(_table([stream for stream, _ in asked]))
    parts: list[tuple[Array, Array, Array]] = []
    while len(parts) < len(asked):
        last = n = len(parts)
        while last < len(asked) and (last == n or sum(each.shape[0] for each in nearest[n : last + 1]) <= _AT_ONCE):
            last += 1
        p = tuple(xp.concat([own[i] for _, own in asked[n:last]]) for i in range(3))
        rows = xp.take(table, xp.concat(nearest[n:last]), axis=1)
        out, done = _velocity(tuple(rows[k, :] for k in range(rows.shape[0])), p, xp), 0
        for each in nearest[n:last]:
            mine = slice(done, done + each.shape[0])
            parts.append((out[0][mine], out[1][mine], out[2][mine]))
            done = mine.stop
    return parts


def _table(streams: Sequence[Stream]) -> NDArray[np.float32]:
    """Return what is asked of each point of some lines (row, point): the rows in the order that `_velocity` takes."""
    first = np.cumsum([0, *(len(stream.line_mm) for stream in streams)])
    heads, tails = first[:-1], first[1:] - 1

    def joined(name: str) -> Floats:
        return np.concatenate([getattr(stream, name) for stream in streams])

    def change(values: Floats) -> Floats:
        return _gradient(values, heads, tails)

    line, along, radius = joined("line_mm"), joined("along"), joined("radius_mm")
    step = _lengths(change(line))
    low, high = np.full(len(step), -np.inf), np.full(len(step), np.inf)
    low[heads], high[tails] = -step[heads], step[tails]
    rows = [
        *line.T, *along.T, *(change(along) / step[:, None]).T, radius, change(radius) / step, joined("wall_mm"),
        joined("flow_mm3_s"), joined("return_mm3_s"), joined("rounded"), low, high,
    ]  # fmt: skip
    return np.asarray(rows, np.float32)


def _velocity(rows: tuple[Array, ...], p: Points, xp: Any) -> tuple[Array, Array, Array]:
    line, direction, turn = rows[0:3], rows[3:6], rows[6:9]
    line_radius, slope, line_wall, flow, returned, rounded, low, high = rows[9:]
    ahead = sum((p[i] - line[i]) * direction[i] for i in range(3))
    near = clamp(ahead, -_STEP_MM, _STEP_MM, xp)
    # between points of the line its direction turns in a straight line
    turned = [direction[i] + near * turn[i] for i in range(3)]
    size = xp.sqrt(turned[0] ** 2 + turned[1] ** 2 + turned[2] ** 2)
    along = tuple(part / size for part in turned)
    off = tuple(p[i] - line[i] - ahead * along[i] for i in range(3))
    rho = xp.sqrt(off[0] ** 2 + off[1] ** 2 + off[2] ** 2) + 1e-3
    radius = line_radius + slope * near
    wall = xp.maximum(line_wall, radius)
    share = rho / radius
    inside = share < 1.0
    speed = flow / (np.pi * radius**2) * _profile(share, rounded, xp)
    back = returned / (np.pi * (wall**2 - radius**2) + 1.0)
    speed = xp.where(inside, speed, xp.where(rho < wall, -back, xp.zeros_like(back)))
    speed = xp.where((ahead < low) | (ahead > high), xp.zeros_like(speed), speed)  # past an end of the line
    outward = xp.where(inside, speed * slope / radius, xp.zeros_like(speed))
    return (
        speed * along[0] + outward * off[0], speed * along[1] + outward * off[1], speed * along[2] + outward * off[2],
    )  # fmt: skip


def _profile(share: Array, rounded: Array, xp: Any) -> Array:
    """Return speed over mean speed at a share of the radius; powers by squares, ten times as fast as general ones."""
    x = clamp(share, 0.0, 1.0, xp)
    fourth = (x * x) * (x * x)
    eighth = fourth * fourth
    blunt = (BLUNT + 2.0) / BLUNT * (1.0 - eighth * eighth * fourth)
    return blunt + rounded * ((ROUNDED + 2.0) / ROUNDED * (1.0 - fourth) - blunt)


def _nearest(stream: Stream, p: Points, xp: Any) -> Array:
    """Return the number of the nearest point of the line."""
    line = stream.line_mm.astype(np.float32)
    # |p - q|² without |p|², which is the same for all q: one matrix product
    flat = xp.stack([p[0], p[1], p[2]], axis=-1)
    apart = xp.matmul(flat, xp.asarray(np.ascontiguousarray(-2.0 * line.T))) + xp.asarray((line**2).sum(axis=1))
    return xp.argmin(apart, axis=1)


def _gradient(values: Floats, heads: Any = 0, tails: Any = -1) -> Floats:
    """Return how values change from point to point along the first axis of lines from heads to tails.

    As ``np.gradient`` of each line, ten times as fast.
    """
    out = np.empty_like(values)
    out[1:-1] = (values[2:] - values[:-2]) / 2.0
    out[heads], out[tails] = values[heads + 1] - values[heads], values[tails] - values[tails - 1]
    return out


def _lengths(vectors: Floats) -> Floats:
    """Return the Euclidean length of each row."""
    return np.asarray(np.sqrt((vectors * vectors).sum(axis=1)))
