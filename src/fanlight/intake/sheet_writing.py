"""A request sheet as TOML text."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from fanlight.intake.request_sheet import RequestSheet
from fanlight.intake.sheet_fields import ANIMAL, IDENTITY, REQUEST


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
    """Return the sheet as TOML, stated fields only; `read_sheet` reads the same sheet back."""
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
    for mark in sheet.marks:
        rows_of_mark = ["[[file]]", f"name = {_toml_text(mark.name)}"]
        if mark.view:
            rows_of_mark.append(f"view = {_toml_text(mark.view)}")
        if mark.valve is not None:
            rows_of_mark.append(f"valve = {_toml_text(mark.valve.value)}")
        if mark.scale is not None:
            ends = ", ".join(f"{{row = {row!r}, col = {col!r}}}" for row, col in (mark.scale.start, mark.scale.end))
            rows_of_mark += [f"points = [{ends}]", f"distance_mm = {mark.scale.distance_mm!r}"]
        parts.append("\n".join(rows_of_mark))
    return "\n\n".join(parts) + "\n" if parts else ""
