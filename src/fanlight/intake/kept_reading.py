"""Table [[kept]] of a sheet: which of its marks were kept where the engine proposed them, and how sure they lie.

It may stand wherever marks do, so that what a mentor kept is never taken for set by hand on its way to another desk.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from fanlight.intake.marks_reading import MARK, as_points
from fanlight.intake.request_sheet import RequestSheet
from fanlight.intake.request_sheet import read_sheet as read_tables
from fanlight.intake.sheet_fields import Readers, as_text, number_in
from fanlight.intake.sheet_rows import SheetRows
from fanlight.study import FileMarks, Point, Refusal

KEPT_TABLE = "kept"
_Place = tuple[str, int, tuple[Point, ...]]  # name of the file, frame, points
_READERS: Readers = {
    "file": as_text, "frame": MARK["frame"], "points": as_points, "spread_px": number_in(0.001, 10_000, "px"),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptMarks:
    """Marks with the spread of those that were kept as proposed, and what of the table cannot be used."""

    marks: tuple[FileMarks, ...]
    refused: tuple[Refusal, ...] = ()
    notes: tuple[str, ...] = ()


def read_sheet(data: bytes, name: str) -> RequestSheet:
    """Read a request sheet or a marks file with its table [[kept]]; it never raises on what the file holds.

    Parameters
    ----------
    data : bytes
        The file's content, TOML in UTF-8.
    name : str
        As the user knows the file; stands in refusals.
    """
    sheet = read_tables(data, name)
    kept = read_kept(data, name, sheet.marks)
    notes = (note for note in sheet.notes if not note.startswith(f"{name}, {KEPT_TABLE}: not a table"))
    return replace(sheet, marks=kept.marks, refused=(*sheet.refused, *kept.refused), notes=(*notes, *kept.notes))


def read_kept(data: bytes, name: str, marks: Iterable[FileMarks]) -> KeptMarks:
    """Return marks with what the table [[kept]] says of them.

    Parameters
    ----------
    data : bytes
        The file. One that is no TOML holds no such table; its own reader says what is wrong with it.
    name : str
        As the user knows the file; stands in refusals.
    marks : iterable of FileMarks
        What the same file holds. A row that fits none of them is refused; that mark counts as set by hand.
    """
    listed = tuple(marks)
    try:
        text = data.decode("utf-8-sig")
        parsed = tomllib.loads(text)
    except (ValueError, RecursionError):
        return KeptMarks(marks=listed)
    sheet = SheetRows(name, text)
    known = {(item.name, mark.frame, mark.points) for item in listed for mark in item.drawn}
    spreads: dict[_Place, float] = {}
    for number, row in enumerate(sheet.rows(parsed.get(KEPT_TABLE), KEPT_TABLE), 1):
        spreads |= _row(sheet, row, f"{KEPT_TABLE} {number}", known)
    told = tuple(
        replace(
            item,
            drawn=tuple(
                replace(mark, proposed_spread_px=spreads.get((item.name, mark.frame, mark.points)))
                for mark in item.drawn
            ),
        )
        for item in listed
    )
    return KeptMarks(marks=told, refused=tuple(sheet.refused), notes=tuple(sheet.notes))


def _row(sheet: SheetRows, row: Any, title: str, known: set[_Place]) -> dict[_Place, float]:
    before = len(sheet.refused)
    got = sheet.read(row, title, _READERS)
    if len(sheet.refused) > before:
        return {}
    place = (got.get("file", ""), got.get("frame", 0), got.get("points", ()))
    if "spread_px" not in got or place not in known:
        sheet.refuse(title, "file, frame and points of one [[mark]] of this file, and spread_px", row)
        return {}
    return {place: got["spread_px"]}
