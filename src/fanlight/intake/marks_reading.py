"""Tables of a sheet that hold what was drawn by hand: [[mark]] and [[strip_scale]]."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any, TypeVar

from fanlight.intake.sheet_fields import FieldError, Readers, as_text, number_in
from fanlight.study import MODE_WORDS, DrawnMark, Landmark, MarkedAxis, MarkKind, Mode, Point, StripAxis
from fanlight.study.marks import points_wanted

K = TypeVar("K", bound=StrEnum)

_PIXEL = number_in(0, 65535, "px")  # Rows and Columns are 16-bit numbers, PS3.3 C.7.6.3
_MODES = {mode.value: mode for mode in Mode} | {
    words.lower().replace("-", "_").replace(" ", "_"): mode for mode, words in MODE_WORDS.items()
}
_POINT_FORM = "points = [{row = 40, col = 12}, {row = 440, col = 12}]"


def as_points(value: Any) -> tuple[Point, ...]:
    """Points in pixels, counted from 0 at the top left."""
    if not isinstance(value, list) or not value:
        raise FieldError(_POINT_FORM)
    found = []
    for point in value:
        if not isinstance(point, dict) or set(point) != {"row", "col"}:
            raise FieldError(_POINT_FORM)
        found.append((_PIXEL(point["row"]), _PIXEL(point["col"])))
    return tuple(found)


def as_mode(value: Any) -> Mode:
    """A mode by its name, or in the words in which the desk shows it."""
    name = as_text(value).lower().replace("-", "_").replace(" ", "_")
    if name in _MODES:
        return _MODES[name]
    raise FieldError("one of " + ", ".join(f'"{item.value}"' for item in Mode))


def _word_of(kind: type[K]) -> Callable[[Any], K]:
    def read(value: Any) -> K:
        try:
            return kind(as_text(value).lower())
        except ValueError:
            raise FieldError("one of " + ", ".join(f'"{item.value}"' for item in kind)) from None

    return read


def _frame(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise FieldError("the number of a frame as the desk shows it: the first is 1")
    return value - 1


def _landmark(value: Any) -> str:
    name = as_text(value).upper().replace(" ", "_")
    if name and name not in Landmark.__members__:
        raise FieldError('a name of the list of landmarks, such as "LV_APEX"; else write a label')
    return name


MARK: Readers = {
    "file": as_text,
    "kind": _word_of(MarkKind),
    "frame": _frame,
    "points": as_points,
    "landmark": _landmark,
    "label": as_text,
}
STRIP_SCALE: Readers = {
    "file": as_text,
    "axis": _word_of(StripAxis),
    "points": as_points,
    "amount": number_in(0, 1e5, ""),
}


def mark_of(got: Mapping[str, Any]) -> DrawnMark:
    """Return a mark from the fields of its table; FieldError says what is wanted instead."""
    if not {"file", "kind", "points"} <= set(got):
        raise FieldError("file, kind and points")
    kind = got["kind"]
    try:
        return DrawnMark(
            kind=kind,
            frame=got.get("frame", 0),
            points=got["points"],
            landmark=got.get("landmark", ""),
            label=got.get("label", ""),
        )
    except ValueError:
        raise FieldError(f"{points_wanted(kind)} points, as a {kind} takes") from None


def axis_of(got: Mapping[str, Any]) -> MarkedAxis:
    """Return what was marked on a strip; FieldError says what is wanted instead."""
    if not {"file", "axis", "points"} <= set(got):
        raise FieldError("file, axis and points")
    axis, points = got["axis"], got["points"]
    if axis is StripAxis.BASELINE:
        return MarkedAxis(axis=axis, start=points[0], end=points[0], amount=0.0)
    if len(points) != 2 or "amount" not in got:
        raise FieldError(f"two points and amount = what lies between them, in {'ms' if axis == 'time' else 'cm/s'}")
    try:
        return MarkedAxis(axis=axis, start=points[0], end=points[1], amount=got["amount"])
    except ValueError as error:
        raise FieldError(str(error)) from None
