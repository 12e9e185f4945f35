"""Sheets and marks as TOML with the table [[kept]]: what a mentor kept as proposed is never read again as a hand's.

`sheet_writing` writes every table but this one, as the reader of the tables (`request_sheet`) reads every one but it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from fanlight.intake.request_sheet import RequestSheet
from fanlight.intake.sheet_writing import write_marks
from fanlight.intake.sheet_writing import write_sheet as write_tables
from fanlight.study import FileMarks


def write_sheet(sheet: RequestSheet) -> str:
    """Return a request sheet as TOML, stated fields only; `kept_reading.read_sheet` reads the same sheet back."""
    return "\n".join(part for part in (write_tables(sheet), write_kept(sheet.marks)) if part)


def write_marks_and_kept(marks: Iterable[FileMarks]) -> str:
    """Return a marks file as TOML; `kept_reading.read_sheet` reads the same marks back, kept ones with their spread.

    Parameters
    ----------
    marks : iterable of FileMarks
        One for each file.
    """
    listed = tuple(marks)
    return "\n".join(part for part in (write_marks(listed), write_kept(listed)) if part)


def write_kept(marks: Iterable[FileMarks]) -> str:
    """Return the tables [[kept]] of marks that lie where the engine proposed them, "" where none does."""
    return "\n".join(
        f"[[kept]]\nfile = {toml_text(item.name)}\nframe = {mark.frame + 1}\npoints = ["
        + ", ".join(f"{{row = {row!r}, col = {col!r}}}" for row, col in mark.points)
        + f"]\nspread_px = {mark.proposed_spread_px!r}\n"
        for item in marks
        for mark in item.drawn
        if mark.proposed_spread_px is not None
    )


def toml_text(value: object) -> str:
    """Return a text, or a list of texts, as TOML."""
    # A text of JSON is one of TOML 1.0, but for a character that JSON lets stand.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
