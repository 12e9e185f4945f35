"""A request sheet as TOML text."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from fanlight.intake.request_sheet import RequestSheet
from fanlight.intake.sheet_fields import ANIMAL, IDENTITY, REQUEST
from fanlight.study import DrawnMark, FileMarks, MarkedAxis, Point, StripAxis


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _toml_text(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml_text(item) for item in value) + "]"
    return repr(value)


def _toml_text(text: str) -> str:
    """A basic string of TOML 1.0: quotation mark, backslash and control characters escaped."""
    out = []
    for letter in text:
        if letter in '"\\':
            out.append("\\" + letter)
        elif ord(letter) < 0x20 or ord(letter) == 0x7F:
            out.append(f"\\u{ord(letter):04x}")
        else:
            out.append(letter)
    return '"' + "".join(out) + '"'


def write_sheet(sheet: RequestSheet) -> str:
    """Return the sheet as TOML, stated fields only; `request_sheet.read_sheet` reads the same sheet back.

    Of its marks nothing says which were kept as proposed: a sheet with marks is written by `kept_writing`.
    """
    parts: list[str] = []

    def table(title: str, value: Any, names: Iterable[str], stated: frozenset[str] = frozenset()) -> None:
        blank = type(value)()
        rows = [
            f"{name} = {_toml_value(getattr(value, name))}"
            for name in names
            if getattr(value, name) is not None and (name in stated or getattr(value, name) != getattr(blank, name))
        ]
        if rows:
            parts.append("\n".join([f"[{title}]", *rows]))

    table("animal", sheet.patient, ANIMAL)
    table("identity", sheet.identity, IDENTITY)
    table("request", sheet.request, REQUEST, sheet.stated)
    if sheet.request.trainee_reading:
        parts.append(f"[reading]\ntext = {_toml_text(sheet.request.trainee_reading)}")
    for item in sheet.request.trainee_measurements:
        rows = {
            "quantity": item.quantity,
            "label": item.label,
            "value": item.value,
            "unit": item.unit,
            "method": item.method,
            "file": item.clip_name,
        }
        parts.append(
            "\n".join(
                ["[[measurement]]", *(f"{k} = {_toml_value(v)}" for k, v in rows.items() if v != "" or k == "unit")]
            )
        )
    if sheet.marks:
        parts.append(write_marks(sheet.marks).rstrip("\n"))
    return "\n\n".join(parts) + "\n" if parts else ""


def write_marks(marks: Iterable[FileMarks]) -> str:
    """Return marks as TOML; all come back as a hand's: a marks file is written by `kept_writing`."""
    parts: list[str] = []
    for mark in marks:
        name = _toml_text(mark.name)
        rows = ["[[file]]", f"name = {name}"]
        if mark.mode is not None:
            rows.append(f"mode = {_toml_text(mark.mode.value)}")
        if mark.view:
            rows.append(f"view = {_toml_text(mark.view)}")
        if mark.valve is not None:
            rows.append(f"valve = {_toml_text(mark.valve.value)}")
        if mark.scale is not None:
            rows += [_points((mark.scale.start, mark.scale.end)), f"distance_mm = {mark.scale.distance_mm!r}"]
        parts.append("\n".join(rows))
        parts += ["\n".join(_axis_rows(name, axis)) for axis in mark.axes]
        parts += ["\n".join(_mark_rows(name, drawn)) for drawn in mark.drawn]
    return "\n\n".join(parts) + "\n" if parts else ""


def _points(points: Iterable[Point]) -> str:
    return "points = [" + ", ".join(f"{{row = {row!r}, col = {col!r}}}" for row, col in points) + "]"


def _axis_rows(name: str, axis: MarkedAxis) -> list[str]:
    rows = ["[[strip_scale]]", f"file = {name}", f'axis = "{axis.axis.value}"']
    if axis.axis is StripAxis.BASELINE:
        return [*rows, _points((axis.start,))]
    return [*rows, _points((axis.start, axis.end)), f"amount = {axis.amount!r}"]


def _mark_rows(name: str, mark: DrawnMark) -> list[str]:
    # People count frames from 1, as the desk shows them.
    rows = ["[[mark]]", f"file = {name}", f'kind = "{mark.kind.value}"', f"frame = {mark.frame + 1}"]
    rows.append(_points(mark.points))
    if mark.landmark:
        rows.append(f'landmark = "{mark.landmark}"')
    if mark.label:
        rows.append(f"label = {_toml_text(mark.label)}")
    return rows
