"""Lines and places of a strip in pixels of the stored picture, each with whether it counts. Values only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.reference.quantities import read_quantities
from fanlight.study import House, MarkKind, Measurement, Point

_OFF_PX = 0.3  # a line that is drawn with fewer points departs by no more (engineering judgement: less than is seen)
_FEWEST = 3  # points in a row; fewer are no line


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A piece of a border or of an envelope.

    Attributes
    ----------
    name : str
        One for all pieces of one line.
    words : str
        What it is called on the page.
    points : tuple of Point
        (row, col) in pixels of the stored picture; whole numbers are the middle of a pixel.
    is_seen : bool
        Whether the picture bears it out there; else it is led across.
    """

    name: str
    words: str
    points: tuple[Point, ...]
    is_seen: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a number of one beat was taken: a pair of points, a peak, a straight fall, an outline.

    Attributes
    ----------
    quantity : str
        Key of quantities.toml, or "".
    label : str
        How it is written; a mark that bears it is this quantity.
    beat : int
        From 1, as they stand on the strip; of a spectrum, as its waves do.
    kind : MarkKind
        Shape of the mark that reads the same.
    value, unit
        Of this beat; None where the beat gave none.
    uncertainty : float or None
        One standard deviation of the value that all beats give together, in the same unit.
    reason : str
        Why it does not count, "" where it does.
    """

    quantity: str
    label: str
    beat: int
    kind: MarkKind
    points: tuple[Point, ...]
    value: float | None
    unit: str
    uncertainty: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLines:
    """What was read off the last picture of a strip.

    Attributes
    ----------
    frame : int
        The picture, counted from 0.
    notes : tuple of str
        What holds for all beats: which were left out, and why.
    reason : str
        Why there are no places, or no lines either; "" where there are some.
    """

    frame: int
    courses: tuple[Course, ...] = ()
    places: tuple[Place, ...] = ()
    notes: tuple[str, ...] = ()
    reason: str = ""


class Said:
    """The measurements of a strip, by which places are named and told whether they count."""

    def __init__(self, measurements: Iterable[Measurement], house: House) -> None:
        self._by_name = {item.name or item.label: item for item in measurements}
        self._quantities = read_quantities(house)

    def place(
        self, name: str, beat: int, kind: MarkKind, points: tuple[Point, ...], value: float | None, reason: str = ""
    ) -> Place:
        """Return the place of one beat's number.

        Parameters
        ----------
        name : str
            Name of the measurement, or its label where it has none.
        value : float or None
            In the unit of the measurement.
        reason : str
            Why this beat does not count; why none does is known from the measurement.
        """
        item = self._by_name[name]
        known = self._quantities.get(item.name)
        return Place(
            quantity=item.name, label=known.symbol if known else item.label, beat=beat, kind=kind, points=points,
            value=None if value is None else float(value), unit=item.unit, uncertainty=item.uncertainty,
            reason=reason or (item.reason if item.value is None else ""),
        )  # fmt: skip

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each measurement, or its label where it has none, in their order."""
        return tuple(self._by_name)

    @property
    def why_none(self) -> str:
        """Why nothing was measured: the first reason, "" where something was."""
        items = list(self._by_name.values())
        return items[0].reason if items and all(item.value is None for item in items) else ""


def courses_of(
    name: str, words: str, rows: NDArray[np.float64], cols: NDArray[np.float64], seen: NDArray[np.bool_]
) -> tuple[Course, ...]:
    """Return a line as pieces that are seen, and pieces that are not, each with as few points as keep its shape.

    Parameters
    ----------
    rows, cols : ndarray of shape (point,)
        In pixels of the stored picture; rows that are NaN part the line.
    seen : ndarray of shape (point,), bool
    """
    there = np.isfinite(rows)
    state = np.where(there, np.where(seen, 2, 1), 0)
    cuts = np.flatnonzero(np.diff(state)) + 1
    found = []
    for first, stop in zip([0, *cuts], [*cuts, len(state)], strict=True):
        if state[first] == 0:
            continue
        # The next piece begins where this one ends, so that no gap stands between them.
        last = stop + 1 if stop < len(state) and state[stop] else stop
        if last - first >= _FEWEST:
            points = _fewer(rows[first:last], cols[first:last])
            found.append(Course(name=name, words=words, points=points, is_seen=bool(state[first] == 2)))
    return tuple(found)


def _fewer(rows: NDArray[np.float64], cols: NDArray[np.float64]) -> tuple[Point, ...]:
    line = np.stack([rows, cols], axis=1).astype(np.float32)[:, None, :]
    return tuple(
        (round(float(row), 2), round(float(col), 2)) for row, col in cv2.approxPolyDP(line, _OFF_PX, False)[:, 0]
    )
