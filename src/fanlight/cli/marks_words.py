"""The marks file of a run: read, laid over the request sheet, and what its marks measure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.screen import ERR, OUT, fail
from fanlight.measure.marked import GIVEN_BY
from fanlight.report.change import OTHER_CAUSES, with_changes
from fanlight.report.words import with_error
from fanlight.study import ENGINE, Change, Measurement, Refusal
from fanlight.validity.measured import HOLDS

if TYPE_CHECKING:
    from fanlight.intake.request_sheet import RequestSheet
    from fanlight.study import House

_NOT_ENOUGH = (
    "Some of the engine's own numbers, and of those worked out from marks on pictures, have not been right often "
    "enough, on enough fresh animals, to stand in the summary."
)


def with_marks(
    request: RequestSheet, marks_file: Path | None, house: House
) -> tuple[RequestSheet, tuple[Refusal, ...]]:
    """Return the request with marks and the mentor's word of a file laid over it, and what of it cannot be used.

    Ends the command when the file cannot be read at all.
    """
    if marks_file is None:
        return request, ()
    from fanlight.intake.kept_reading import KEPT_TABLE, read_sheet
    from fanlight.intake.named_reading import NAMED_TABLES, read_named
    from fanlight.intake.request_sheet import MARK_TABLES, RequestSheet, merge_sheets

    try:
        data = marks_file.read_bytes()
    except OSError as error:
        raise fail(f"{marks_file}: {error.strerror}. Name an existing marks file.", ExitCode.SETTINGS) from error
    sheet, said = read_sheet(data, marks_file.name), read_named(data, marks_file.name, house)
    refused = (*sheet.refused, *said.refused)
    if refused and not sheet.marks and not said.named.by and not said.earlier:
        raise fail("\n".join(map(str, refused)), ExitCode.SETTINGS)
    if not sheet.marks and said.is_empty:
        tables = ", ".join([*(f"[[{name}]]" for name in (*MARK_TABLES, KEPT_TABLE, "earlier")), "[named]"])
        raise fail(f"{marks_file}: holds no marks. Its tables are {tables}.", ExitCode.SETTINGS)
    if sheet != replace(RequestSheet(), marks=sheet.marks, refused=sheet.refused, notes=sheet.notes):
        ERR.print(f"{marks_file.name}: only marks were taken from it; the rest belongs to --request.", markup=False)
    others = [note for note in sheet.notes if not _tells_of(note, marks_file.name, NAMED_TABLES, bool(sheet.marks))]
    for note in (*others, *said.notes):
        ERR.print(note, markup=False)
    merged = merge_sheets((request, RequestSheet(marks=sheet.marks)))
    return replace(merged, request=replace(merged.request, named=said.named, earlier=said.earlier)), refused


def _tells_of(note: str, name: str, tables: tuple[str, ...], has_marks: bool) -> bool:
    """Whether the reader of sheets only notes that it does not know the tables that another reader took."""
    return note.startswith(tuple(f"{name}, {table}: not a table" for table in tables)) or (
        not has_marks and note.startswith(f"{name}: not a request sheet")
    )


def say_numbers(measurements: Iterable[Measurement], is_quiet: bool, changes: Iterable[Change] = ()) -> None:
    """Print what marks and engine measured, a line each, of several clips the best, with what changed between visits.

    Why there is no number is said once.
    """
    if is_quiet:
        return
    without: dict[tuple[str, str], list[str]] = {}
    since = tuple(changes)
    told = [
        item for item in with_changes(measurements, since) if item.given_by in (GIVEN_BY, ENGINE) and item.rank <= 1
    ]
    last = ""
    for item in told:
        if item.value is None or item.uncertainty is None:
            without.setdefault((item.clip, item.reason), []).append(item.label)
        else:
            value = with_error(item.value, item.unit, item.uncertainty)
            value += f" ({item.kept})" if item.kept else ""
            where = f"{item.clip}, frame {item.frames[0] + 1}"
            others = f"; {item.beside}" if item.beside else ""
            OUT.print(f"{where}, {item.label}: {value}{_stands(item, last)}{others}", markup=False)
            last = item.validity
    if any(item.sheet_only and item.value is not None for item in told):
        OUT.print(_NOT_ENOUGH, markup=False)
    if since:
        OUT.print(OTHER_CAUSES, markup=False)
    for (clip, reason), labels in without.items():
        OUT.print(f"{clip}, {', '.join(labels)}: {reason}", markup=False)


def _stands(item: Measurement, last: str) -> str:
    """Return what is to be said of a number, behind a comma; "" where nothing is. `last`: said of the one before."""
    if item.validity in ("", HOLDS):
        return ""
    return ", as the one before" if item.validity == last else f", {item.validity}"
