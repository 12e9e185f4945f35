"""Several shapes of one heart side by side, sliced as one: a number that differs is a column with a row for each.

Slicing takes hundreds of short steps, whose cost hardly grows with the points. Points are then (row, col), a row for
each shape, and what is worked out on them broadcasts; nothing in the drawing knows how many shapes there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache, reduce
from operator import attrgetter
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Shape = TypeVar("Shape")


def side_by_side(shapes: Sequence[Shape], rows: Sequence[int] | NDArray[np.intp]) -> Shape:
    """Return one drawing of several shapes.

    Parameters
    ----------
    shapes : sequence of dataclass instances, or of tuples of them and of numbers
        Of one heart: they differ in numbers only.
    rows : sequence or array of int
        Which of the shapes each row of points is asked of.

    Returns
    -------
    of the same kind
        Numbers that all shapes share stay numbers, others become 32-bit arrays of shape (row, 1).

    Raises
    ------
    ValueError
        If something other than numbers differs.
    """
    at = np.asarray(rows, np.intp)
    joined: Shape = _joined(tuple(shapes), at)
    return joined


def _joined(values: Sequence[Any], at: Any) -> Any:
    first = values[0]
    if isinstance(first, float):
        if values.count(first) == len(values):
            return first
        return np.asarray(values, np.float32)[at, None]
    if isinstance(first, tuple):
        return tuple(_joined(each, at) for each in zip(*values, strict=True))
    if is_dataclass(first) and not isinstance(first, type):
        names, fields_of = _fields_of(type(first))
        parts = [_joined(each, at) for each in zip(*map(fields_of, values), strict=True)]
        return type(first)(**dict(zip(names, parts, strict=True)))
    if any(value != first for value in values):
        raise ValueError(f"shapes of one heart differ in numbers only, got {first!r} beside others")
    return first


@lru_cache(maxsize=64)
def _fields_of(kind: type) -> tuple[tuple[str, ...], Callable[[Any], tuple[Any, ...]]]:
    """Return the names of a class's fields, and what gives the values of one of its instances in their order."""
    names = tuple(item.name for item in fields(kind))
    return names, attrgetter(*names) if len(names) > 1 else lambda value: (getattr(value, names[0]),)


def least(*values: Any) -> Any:
    """Return the least number, or column by row."""
    try:
        return min(values)
    except ValueError:  # columns have no one order
        return reduce(np.minimum, values)


def most(*values: Any) -> Any:
    """Return the largest number, or column by row."""
    try:
        return max(values)
    except ValueError:
        return reduce(np.maximum, values)


def for_any(true: Any) -> bool:
    """Return whether something holds for a shape, or for any of several side by side."""
    return true if isinstance(true, bool) else bool(np.any(true))
