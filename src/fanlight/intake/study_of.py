"""One study out of everything that its files brought."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from datetime import datetime
from typing import Any

from fanlight.intake.gather import Gathered
from fanlight.intake.open_item import Probed
from fanlight.intake.request_sheet import RequestSheet, merge_sheets, missing_words, unplaced_marks
from fanlight.study import Clip, Identity, Patient, Refusal, Study

# Two weights that differ by more are two animals or a typing error; less is a meal or a rounded number.
# Engineering judgement.
_WEIGHT_FRACTION = 0.05


def _in_order(clips: Iterable[Clip]) -> list[Clip]:
    """By time of acquisition, then by name; files that state no time come last, as they lie."""
    return sorted(clips, key=lambda clip: (clip.acquired_at is None, clip.acquired_at or datetime.min, clip.name))


def _without_copies(clips: Iterable[Clip]) -> tuple[list[Clip], list[str]]:
    kept: dict[str, Clip] = {}
    notes = []
    for clip in clips:
        if clip.key in kept:
            notes.append(f"{clip.name} holds the same pictures as {kept[clip.key].name}; kept once")
        else:
            kept[clip.key] = clip
    return list(kept.values()), notes


def _blank(value: Any) -> bool:
    return value is None or value == ""


def _first_stated(values: Sequence[Any], kind: type[Any]) -> Any:
    """Take each field from the first value that states it."""
    blank = kind()
    return replace(
        blank,
        **{
            item.name: next(
                (got for value in values if not _blank(got := getattr(value, item.name))), getattr(blank, item.name)
            )
            for item in fields(kind)
        },
    )


def _same_words(one: str, other: str) -> bool:
    return one.casefold().split() == other.casefold().split()


def _same_weight(one: float, other: float) -> bool:
    return abs(one - other) <= _WEIGHT_FRACTION * max(one, other)


def _same_day(one: datetime, other: datetime) -> bool:
    return one.date() == other.date()


def _differences(title: str, said: Iterable[tuple[str, Any]], same: Callable[[Any, Any], bool]) -> list[str]:
    """Name every statement that differs from the first one, with the files that make them."""
    stated = [(who, value) for who, value in said if not _blank(value)]
    if not stated:
        return []
    first_who, first = stated[0]
    different: dict[str, str] = {}
    for who, value in stated[1:]:
        if not same(first, value):
            different.setdefault(_words(value), who)
    return [f"{title}: {_words(first)} in {first_who}, {words} in {who}" for words, who in different.items()]


def _words(value: Any) -> str:
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def _mismatches(clips: Sequence[Clip], sheet: RequestSheet, who: str) -> tuple[str, ...]:
    people: list[tuple[str, Identity]] = [(clip.name, clip.identity) for clip in clips]
    animals: list[tuple[str, Patient]] = [(clip.name, clip.patient) for clip in clips]
    people.append((who, sheet.identity))
    animals.append((who, sheet.patient))
    days = [(clip.name, clip.identity.examined_at or clip.acquired_at) for clip in clips]
    days.append((who, sheet.identity.examined_at))
    return (
        *_differences("animal's name", [(name, item.animal_name) for name, item in people], _same_words),
        *_differences("case number", [(name, item.case_number) for name, item in people], _same_words),
        *_differences("species", [(name, item.species) for name, item in animals], lambda one, other: one == other),
        *_differences("sex", [(name, item.sex) for name, item in animals], _same_words),
        *_differences("weight in kg", [(name, item.weight_kg) for name, item in animals], _same_weight),
        *_differences(
            "date of birth", [(name, item.birth_date) for name, item in animals], lambda one, other: one == other
        ),
        *_differences("date of the examination", days, _same_day),
    )


def assemble(
    source: str,
    gathered: Gathered,
    probed: Iterable[Probed],
    options: RequestSheet | None = None,
    refused: Iterable[Refusal] = (),
) -> Study:
    """Put a study together.

    Parameters
    ----------
    source : str
        What the user named; the last part of the path only.
    gathered : Gathered
        With the request sheet that lay beside the files.
    probed : iterable of Probed
        One for each gathered item.
    options : RequestSheet, optional
        From the command line or the desk. Options come before the sheet, the sheet before the tags of the files.
    refused : iterable of Refusal, optional
        Further files that could not be used.

    Returns
    -------
    Study
        Clips in order of acquisition, numbered from 1, each picture once. Statements about the animal that
        differ between files are in `mismatches`; what the request should still say is in `request.missing`.
    """
    answers = list(probed)
    sheet = merge_sheets([gathered.sheet, *([options] if options is not None else [])])
    clips, copies = _without_copies(_in_order(clip for answer in answers for clip in answer.clips))
    clips = [replace(clip, number=number) for number, clip in enumerate(clips, 1)]
    patient = _first_stated([sheet.patient, *(clip.patient for clip in clips)], Patient)
    identity = _first_stated([sheet.identity, *(clip.identity for clip in clips)], Identity)
    all_refused = (
        *gathered.refused,
        *(refusal for answer in answers for refusal in answer.refused),
        *sheet.refused[len(gathered.sheet.refused) :],
        *refused,
    )
    return Study(
        key=hashlib.sha256("".join(sorted(clip.key for clip in clips)).encode()).hexdigest()[:16],
        source=source,
        identity=identity,
        patient=patient,
        request=replace(sheet.request, missing=missing_words(sheet.request, patient)),
        clips=tuple(clips),
        refused=tuple(dict.fromkeys(all_refused)),
        machine_measurements=tuple(item for answer in answers for item in answer.measurements),
        mismatches=_mismatches(clips, sheet, "the request sheet"),
        notes=(
            *gathered.notes,
            *sheet.notes,
            *copies,
            *(note for answer in answers for note in answer.notes),
            *unplaced_marks(sheet.marks, clips),
        ),
    )
