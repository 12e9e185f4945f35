"""Painting tissues over one another on the points that are asked for, each only where its bounding box lies.

The last coat wins. Beside the label a distance to the nearest border between different matter (blood, muscle, valve,
fat, …) is kept; two cavities that open into each other have no border, nor have septum and free wall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from array_api_compat import device

from fanlight.heart.distance import Points
from fanlight.heart.side_by_side import least, most
from fanlight.heart.tissue import BLOOD, MYOCARDIUM, Tissue
from fanlight.heart.triple import Triple

Array = Any  # an array of the array API standard
FAR_MM = 1e3  # no border anywhere near
_BLOOD, _MUSCLE = 1, 2


def _matter(tissue: Tissue) -> int:
    if tissue in BLOOD:
        return _BLOOD
    return _MUSCLE if tissue in MYOCARDIUM else 3 + int(tissue)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Bounds in rest coordinates of the heart, mm."""

    low: Triple
    high: Triple


def box_around(*balls: tuple[Triple, float]) -> Box:
    """Return the bounds of balls given as (centre, radius)."""
    return Box(
        low=tuple(least(*[centre[i] - radius for centre, radius in balls]) for i in range(3)),
        high=tuple(most(*[centre[i] + radius for centre, radius in balls]) for i in range(3)),
    )


def joint_box(one: Box, other: Box) -> Box:
    """Return the bounds of two boxes together."""
    (a0, b0, c0), (a1, b1, c1) = one.low, other.low
    (a2, b2, c2), (a3, b3, c3) = one.high, other.high
    return Box(low=(least(a0, a1), least(b0, b1), least(c0, c1)), high=(most(a2, a3), most(b2, b3), most(c2, c3)))


class Canvas:
    """Labels and border distances that grow coat by coat. Made and used within one call of ``sample_heart``.

    With `shape_a_row`, each row is asked of a shape of its own (see `side_by_side`): windows then span all rows.
    """

    def __init__(self, points: Points, xp: Any, *, shape_a_row: bool = False) -> None:
        self.xp = xp
        self.points = points  # (row, col) each, rest coordinates
        # in the memory order of the points, so that both are walked along together
        self.tissue = xp.zeros_like(points[0], dtype=xp.uint8)
        self.matter = xp.zeros_like(points[0], dtype=xp.uint8)
        self.edge = xp.full_like(points[0], FAR_MM, dtype=xp.float32)
        # Extent of every row and column in each coordinate: a box then picks its rows and columns without a full pass.
        self._extents = [
            xp.stack([bound(p, axis=axis) * sign for bound, sign in ((xp.max, 1.0), (xp.min, -1.0)) for p in points])
            for axis in (1, 0)
        ]
        self._whole = [float(v) for v in xp.max(self._extents[0], axis=1)]
        self.shape_a_row = shape_a_row
        self.known: dict[tuple[object, ...], _Known] = {}  # by what is measured, and of what
        self._all_rows = slice(0, points[0].shape[0]) if shape_a_row else None

    def window(self, box: Box) -> Window | None:
        """Return the rectangle of points that may lie in the box, or None when none does."""
        xp, like = self.xp, self.edge
        low, high = box.low, box.high
        if self._all_rows is not None:  # the box of any row
            low = tuple(v if isinstance(v, float) else float(v.min()) for v in low)  # type: ignore[assignment]
            high = tuple(v if isinstance(v, float) else float(v.max()) for v in high)  # type: ignore[assignment]
        sides = [*low, *(-v for v in high)]
        if any(most < side for most, side in zip(self._whole, sides, strict=True)):
            return None  # most parts of a heart lie beside a beam
        if self._all_rows is not None:
            columns = self._columns_in(sides)
            return None if columns is None else Window(canvas=self, where=(self._all_rows, columns))
        bounds = xp.asarray(sides, dtype=xp.float32, device=device(like))[:, None]
        spans = []
        for extents in self._extents:
            (hits,) = xp.nonzero(xp.all(extents >= bounds, axis=0))
            if hits.shape[0] == 0:
                return None
            spans.append(slice(int(hits[0]), int(hits[-1]) + 1))
        return Window(canvas=self, where=(spans[0], spans[1]))

    def forget(self) -> None:
        """Let go of what was measured, once all coats lie: it holds the canvas, which would wait for the collector."""
        self.known.clear()

    def _columns_in(self, sides: list[float]) -> slice | None:
        """Return the NumPy columns that reach over all sides of a box."""
        extents = self._extents[1]
        hits = extents[0] >= sides[0]
        for extent, side in zip(extents[1:], sides[1:], strict=True):
            hits &= extent >= side
        first = int(hits.argmax())
        return slice(first, len(hits) - int(hits[::-1].argmax())) if hits[first] else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A rectangle of the canvas."""

    canvas: Canvas
    where: tuple[slice, slice]

    def within(self, box: Box) -> Window | None:
        """Return the part of this window that may lie in the box, or None when none does."""
        inner = self.canvas.window(box)
        if inner is None:
            return None
        rows, columns = (
            slice(max(own.start, other.start), min(own.stop, other.stop))
            for own, other in zip(self.where, inner.where, strict=True)
        )
        empty = rows.start >= rows.stop or columns.start >= columns.stop
        return None if empty else Window(canvas=self.canvas, where=(rows, columns))

    def part(self, inner: Window) -> tuple[slice, slice]:
        """Return where a window within this one lies, counted from the corner of this one."""
        rows, columns = (
            slice(other.start - own.start, other.stop - own.start)
            for own, other in zip(self.where, inner.where, strict=True)
        )
        return rows, columns

    def known(self, measure: Callable[..., Array], *of: Any) -> Array:
        """Return what `measure` gives for this window and what it is of; what a window before has is taken from there.

        Parameters
        ----------
        measure : function of a window and `of`
            What it says of a point may depend on that point alone.
        of : parts of one heart, and numbers
            Parts are told apart by identity.

        Returns
        -------
        array
            Of the shape of the window; not to be changed.
        """
        key = (measure, *(each if isinstance(each, float) else id(each) for each in of))
        known = self.canvas.known.get(key)
        if known is None or not known.reaches(self):
            known = _Known(window=self, of=of, values=measure(self, *of))
        else:
            known = known.widened(self, measure)
        self.canvas.known[key] = known
        return known.values[known.window.part(self)]

    @property
    def xp(self) -> Any:
        return self.canvas.xp

    @property
    def points(self) -> Points:
        a, b, c = self.canvas.points
        return a[self.where], b[self.where], c[self.where]

    def tissue(self) -> Array:
        """Return the labels painted so far."""
        return self.canvas.tissue[self.where]

    def paint(self, tissue: Tissue, distance: Array, *, only: Array | None = None) -> None:
        """Lay a coat where `distance` is below 0 (and `only`, if given, is true).

        `distance` must be a signed distance in mm. Where like matter lies beneath, the two are one shape.
        """
        xp, where, canvas = self.canvas.xp, self.where, self.canvas
        kind = _matter(tissue)
        inside = distance < 0.0
        if only is not None:
            inside = inside & only
        if canvas.shape_a_row:
            self._lay(tissue, kind, distance, inside)
            return
        edge, matter = canvas.edge[where], canvas.matter[where]
        same = matter == kind
        depth = -distance
        joined = xp.maximum(edge, depth)
        new_inside = xp.where(same, joined, depth)
        apart = xp.where(same, edge, xp.minimum(edge, xp.abs(distance)))
        canvas.edge[where] = xp.where(inside, new_inside, apart)
        canvas.tissue[where] = xp.where(inside, _byte(xp, int(tissue), matter), canvas.tissue[where])
        canvas.matter[where] = xp.where(inside, _byte(xp, kind, matter), matter)

    def _lay(self, tissue: Tissue, kind: int, distance: Array, inside: Array) -> None:
        """Lay a coat on NumPy arrays in place, which takes half the time for the large ones of many shapes."""
        where, canvas = self.where, self.canvas
        edge, matter = canvas.edge[where], canvas.matter[where]
        same, reach = matter == kind, np.abs(distance)
        if same.any():
            nearer = np.minimum(edge, reach)
            np.copyto(nearer, edge, where=same)
            np.maximum(edge, reach, out=reach, where=same & inside)
            edge[...] = nearer
        else:
            np.minimum(edge, reach, out=edge)
        if inside.any():
            np.copyto(edge, reach, where=inside)
            np.copyto(canvas.tissue[where], np.uint8(tissue), where=inside)
            np.copyto(matter, np.uint8(kind), where=inside)

    def relabel(self, tissue: Tissue, where: Array) -> None:
        """Give points another label of the same matter: borders stay as they are."""
        now = self.canvas.tissue[self.where]
        self.canvas.tissue[self.where] = self.xp.where(where, _byte(self.xp, int(tissue), now), now)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """What is known of a rectangle of points."""

    window: Window
    of: tuple[Any, ...]  # kept, so that nothing else takes its identity
    values: Array

    def reaches(self, window: Window) -> bool:
        """Return whether this holds all of a window, or can be widened to the left and the right to do so."""
        (rows, columns), (other_rows, others) = self.window.where, window.where
        if rows == other_rows:
            return bool(columns.start <= others.stop and others.start <= columns.stop)
        return all(
            mine.start <= other.start and other.stop <= mine.stop
            for mine, other in zip(self.window.where, window.where, strict=True)
        )

    def widened(self, window: Window, measure: Callable[..., Array]) -> _Known:
        """Return the same with what a window has to the left and the right."""
        (rows, columns), (_, others), canvas = self.window.where, window.where, window.canvas
        parts = [self.values]
        if others.start < columns.start:
            left = Window(canvas=canvas, where=(rows, slice(others.start, columns.start)))
            parts.insert(0, measure(left, *self.of))
        if columns.stop < others.stop:
            right = Window(canvas=canvas, where=(rows, slice(columns.stop, others.stop)))
            parts.append(measure(right, *self.of))
        if len(parts) == 1:
            return self
        whole = slice(min(columns.start, others.start), max(columns.stop, others.stop))
        return _Known(
            window=Window(canvas=canvas, where=(rows, whole)), of=self.of, values=canvas.xp.concat(parts, axis=1)
        )


def _byte(xp: Any, value: int, like: Array) -> Array:
    """Return a single uint8 on the device of `like`."""
    return xp.asarray(value, dtype=xp.uint8, device=device(like))
