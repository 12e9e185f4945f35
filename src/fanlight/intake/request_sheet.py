"""The request sheet: a small TOML file beside the pictures, or options of the command line.

Tables of the file, all optional::

    [animal]            # species, breed, sex, neutered, weight_kg, age_years, birth_date
    [identity]          # animal_name, case_number, owner, practice, examined_at
    [request]           # question, question_key, signs, breathing, murmur_grade, murmur_place, rhythm, …
    [reading]           # text: the trainee's own reading, before any feedback
    [[measurement]]     # the trainee's own numbers: quantity, value, unit, label, method, file
    [[file]]            # name; mode, view, valve; points = [{row = 40, col = 12}, {row = 440, col = 12}], distance_mm
    [[mark]]            # file, kind, frame, points; landmark, label
    [[strip_scale]]     # file, axis, points, amount

What a file does not say stays empty and is asked for; nothing is guessed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

from fanlight.intake.marks_reading import MARK, STRIP_SCALE, axis_of, mark_of
from fanlight.intake.sheet_fields import (
    ANIMAL,
    IDENTITY,
    READING,
    REQUEST,
)
from fanlight.intake.sheet_rows import Drawn, SheetRows
from fanlight.study import (
    Breathing,
    Clip,
    DrawnMark,
    FileMarks,
    Identity,
    MarkedAxis,
    Patient,
    Refusal,
    Request,
)

__all__ = [
    "FileMarks",
    "RequestOptions",
    "RequestSheet",
    "marks_by_clip",
    "merge_sheets",
    "missing_words",
    "read_sheet",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RequestSheet:
    """What a request sheet said: everything unstated is empty."""

    request: Request = field(default_factory=Request)
    patient: Patient = field(default_factory=Patient)
    identity: Identity = field(default_factory=Identity)
    marks: tuple[FileMarks, ...] = ()
    refused: tuple[Refusal, ...] = ()
    notes: tuple[str, ...] = ()
    stated: frozenset[str] = frozenset()  # fields of the request that were written, also if they equal the default


# Options of the command line and the desk have the same form as a sheet and are laid over it.
RequestOptions = RequestSheet


_TABLES = ("animal", "identity", "request", "reading", "measurement", "file", "mark", "strip_scale")
MARK_TABLES = ("file", "mark", "strip_scale")  # of a marks file

# What a review needs, in the words in which it is asked for. Common practice, no source.
_ASKED: tuple[tuple[str, str], ...] = (
    ("question", "the clinical question"),
    ("species", "species"),
    ("breed", "breed"),
    ("sex", "sex, and whether neutered"),
    ("weight_kg", "weight in kg"),
    ("age", "age in years, or the date of birth"),
    ("breathing", "breathing: normal, laboured or distressed"),
    ("signs", "clinical signs"),
    ("murmur_grade", "murmur: grade 0 (none) to 6, and where it is loudest"),
    ("rhythm", "rhythm"),
    ("blood_pressure_mmhg", "blood pressure in mmHg"),
    ("radiographs", "radiographs, or the vertebral heart score"),
    ("treatment", 'treatment so far ("none" if there is none)'),
    ("sedation", 'sedation for the scan ("none" if there was none)'),
    ("body_condition", "body condition"),
    ("earlier_studies", 'earlier heart scans ("none" if there are none)'),
    ("trainee_reading", "the trainee's own reading, given before any feedback"),
)


def read_sheet(data: bytes, name: str) -> RequestSheet:
    """Read a request sheet.

    Parameters
    ----------
    data : bytes
        The file's content, TOML in UTF-8.
    name : str
        As the user knows the file; stands in refusals.

    Returns
    -------
    RequestSheet
        What could be read. Values that cannot be used are in `refused`, unknown keys in `notes`.
    """
    try:
        text = data.decode("utf-8-sig")
        parsed = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: not UTF-8, not TOML, or a number too long to read
        refusal = Refusal(
            name=name,
            expected="a request sheet in TOML",
            found=str(error) or type(error).__name__,
            remedy="Correct that line; until then nothing of this sheet is used.",
        )
        return RequestSheet(refused=(refusal,))
    if not any(key in _TABLES for key in parsed):
        note = f"{name}: not a request sheet (none of the tables {', '.join(_TABLES)}); not used"
        return RequestSheet(notes=(note,))
    sheet = SheetRows(name, text)
    animal = sheet.read(parsed.get("animal", {}), "animal", ANIMAL)
    identity = sheet.read(parsed.get("identity", {}), "identity", IDENTITY)
    request = sheet.read(parsed.get("request", {}), "request", REQUEST)
    reading = sheet.read(parsed.get("reading", {}), "reading", READING)
    measurements = [
        sheet.measurement(row, number)
        for number, row in enumerate(sheet.rows(parsed.get("measurement"), "measurement"), 1)
    ]
    marks = [sheet.file_marks(row, number) for number, row in enumerate(sheet.rows(parsed.get("file"), "file"), 1)]
    drawn = sheet.drawn(parsed.get("mark"), "mark", MARK, mark_of)
    axes = sheet.drawn(parsed.get("strip_scale"), "strip_scale", STRIP_SCALE, axis_of)
    sheet.notes += [
        f"{name}, {key}: not a table of the sheet, not used; tables are {', '.join(_TABLES)}"
        for key in parsed
        if key not in _TABLES
    ]
    return RequestSheet(
        request=Request(
            **request,
            trainee_reading=reading.get("text", ""),
            trainee_measurements=tuple(item for item in measurements if item is not None),
        ),
        patient=Patient(**animal),
        identity=Identity(**identity),
        marks=_with_drawn([item for item in marks if item is not None], drawn, axes),
        refused=tuple(sheet.refused),
        notes=tuple(sheet.notes),
        stated=frozenset(request),
    )


def _with_drawn(
    files: list[FileMarks], drawn: list[Drawn[DrawnMark]], axes: list[Drawn[MarkedAxis]]
) -> tuple[FileMarks, ...]:
    """Return what is known of each file, with all that was drawn on it."""
    names = list(dict.fromkeys([*(item.name for item in files), *(name for name, _ in (*drawn, *axes))]))
    known: dict[str, FileMarks] = {}
    for item in files:  # of two tables with one name the later is laid over the earlier
        known[item.name] = _laid_over(known[item.name], item, FileMarks(name=item.name)) if item.name in known else item
    return tuple(
        replace(
            known.get(name, FileMarks(name=name)),
            drawn=tuple(mark for file, mark in drawn if file == name),
            axes=tuple(axis for file, axis in axes if file == name),
        )
        for name in names
    )


def _laid_over(base: Any, over: Any, blank: Any, stated: frozenset[str] = frozenset()) -> Any:
    """Return `base` with every field that `over` states, that is, that differs from a blank value of its kind."""
    changes = {
        item.name: getattr(over, item.name)
        for item in fields(over)
        if item.name in stated or getattr(over, item.name) != getattr(blank, item.name)
    }
    return replace(base, **changes)


def merge_sheets(sheets: Iterable[RequestSheet]) -> RequestSheet:
    """Return one sheet; what a later one states is laid over the earlier ones, marks file by file."""
    merged = RequestSheet()
    for sheet in sheets:
        marks = {mark.name: mark for mark in merged.marks}
        for mark in sheet.marks:
            marks[mark.name] = (
                _laid_over(marks[mark.name], mark, FileMarks(name=mark.name)) if mark.name in marks else mark
            )
        merged = RequestSheet(
            request=replace(
                _laid_over(merged.request, sheet.request, Request(), sheet.stated),
                # Numbers add up: one that is typed leaves those of the sheet in place.
                trainee_measurements=merged.request.trainee_measurements + sheet.request.trainee_measurements,
            ),
            patient=_laid_over(merged.patient, sheet.patient, Patient()),
            identity=_laid_over(merged.identity, sheet.identity, Identity()),
            marks=tuple(marks.values()),
            refused=merged.refused + sheet.refused,
            notes=merged.notes + sheet.notes,
            stated=merged.stated | sheet.stated,
        )
    return merged


def missing_words(request: Request, patient: Patient) -> tuple[str, ...]:
    """Return what the sheet should still say, in the words in which it is asked for."""

    def stated(name: str) -> bool:
        if name == "age":
            return patient.age_years is not None or patient.birth_date is not None
        if name == "sex":
            return bool(patient.sex) and patient.neutered is not None
        if name == "radiographs":
            return bool(request.radiographs) or request.vertebral_heart_score is not None
        if name == "breathing":
            return request.breathing is not Breathing.NOT_STATED
        value = getattr(request, name) if hasattr(request, name) else getattr(patient, name)
        return value is not None and value != ""

    return tuple(words for name, words in _ASKED if not stated(name))


def marks_by_clip(marks: Iterable[FileMarks], clips: Iterable[Clip]) -> dict[str, FileMarks]:
    """Return the marks of each clip by its key; a mark names a clip in full or by the last part of its name.

    Of several for one clip, what a later one states is laid over the earlier ones.
    """
    out: dict[str, FileMarks] = {}
    listed = list(clips)
    for mark in marks:
        clip = _clip_of(mark, listed)
        if clip is not None:
            before = out.get(clip.key)
            out[clip.key] = mark if before is None else _laid_over(before, mark, FileMarks(name=mark.name))
    return out


def unplaced_marks(marks: Iterable[FileMarks], clips: Iterable[Clip]) -> tuple[str, ...]:
    """Return a note for each mark that names no clip, or more than one."""
    listed = list(clips)
    return tuple(
        f'there are marks for "{mark.name}", which is not exactly one file of this study; they were not used'
        for mark in marks
        if _clip_of(mark, listed) is None
    )


def _clip_of(mark: FileMarks, clips: Sequence[Clip]) -> Clip | None:
    named = [clip for clip in clips if clip.name == mark.name]
    if not named:
        named = [clip for clip in clips if clip.name.rsplit("/", 1)[-1] == mark.name]
    return named[0] if len(named) == 1 else None
