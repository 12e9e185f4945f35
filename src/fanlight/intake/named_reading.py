"""What a mentor says in a marks file beside the marks: [named] for stages and scores, [[earlier]] for other visits.

Only the file that is given as marks file holds these tables: who sends a study in does not stage it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from fanlight.intake.named_quantity import quantity_of_words
from fanlight.intake.sheet_fields import ANIMAL, FieldError, Readers, as_text, as_texts, number_in
from fanlight.intake.sheet_rows import SheetRows
from fanlight.reference.diseases import match_disease
from fanlight.reference.meaning import read_meaning
from fanlight.reference.quantities import read_quantities
from fanlight.reference.units import UnitError, convert_unit
from fanlight.study import EarlierValue, HeartFailure, House, Named, Refusal

NAMED_TABLES = ("named", "earlier")


@dataclass(frozen=True, slots=True, kw_only=True)
class MentorFacts:
    """What the two tables said, and what of them cannot be used."""

    named: Named = field(default_factory=Named)
    earlier: tuple[EarlierValue, ...] = ()
    refused: tuple[Refusal, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether neither table stands in the file."""
        return self == MentorFacts()


def read_named(data: bytes, name: str, house: House) -> MentorFacts:
    """Read what a mentor named, and numbers of earlier visits.

    Parameters
    ----------
    data : bytes
        The marks file. One that is no TOML holds neither table; its own reader says what is wrong with it.
    name : str
        As the user knows the file; stands in refusals.
    house : House
        Tables "diseases" and "meaning": which lesions and signs there are.

    Returns
    -------
    MentorFacts
        A table [named] without `by`, or with a field that cannot be used, names nothing: half of it could stage
        wrongly.
    """
    try:
        text = data.decode("utf-8-sig")
        parsed = tomllib.loads(text)
    except (ValueError, RecursionError):
        return MentorFacts()
    sheet = SheetRows(name, text)
    named = _named(sheet, parsed["named"], house) if "named" in parsed else Named()
    rows = sheet.rows(parsed.get("earlier"), "earlier")
    earlier = [_earlier(sheet, row, number, house) for number, row in enumerate(rows, 1)]
    return MentorFacts(
        named=named,
        earlier=tuple(item for item in earlier if item is not None),
        refused=tuple(sheet.refused),
        notes=tuple(sheet.notes),
    )


def _named(sheet: SheetRows, table: Any, house: House) -> Named:
    readers: Readers = {
        "by": as_text,
        "lesions": _lesions_of(house),
        "failure": _failure,
        "treatment": as_text,
        "signs": _signs_of(house),
        "signs_absent": _signs_of(house),
    }
    got = sheet.read(table, "named", readers)
    if sheet.refused:
        sheet.notes.append(f"{sheet.name}, named: nothing of it is used until it is corrected")
        return Named()
    if not got.get("by"):
        sheet.refuse("named", 'by = "…": who names lesion, failure status and treatment', table)
        return Named()
    if both := set(got.get("signs", ())) & set(got.get("signs_absent", ())):
        sheet.refuse("named", "each sign either in signs or in signs_absent", sorted(both))
        return Named()
    return Named(**got)


def _failure(value: Any) -> HeartFailure:
    try:
        return HeartFailure(as_text(value).lower())
    except ValueError:
        raise FieldError("one of " + ", ".join(f'"{item.value}"' for item in HeartFailure)) from None


def _lesions_of(house: House) -> Callable[[Any], tuple[str, ...]]:
    known = ", ".join(house.table("diseases"))

    def read(value: Any) -> tuple[str, ...]:
        found: list[str] = []
        for words in as_texts(value):
            keys = match_disease(house, words)
            if not keys:
                raise FieldError(f"lesions that are named, neither doubted nor denied, out of {known}")
            found += keys
        return tuple(dict.fromkeys(found))

    return read


def _signs_of(house: House) -> Callable[[Any], tuple[str, ...]]:
    known = read_meaning(house).signs

    def read(value: Any) -> tuple[str, ...]:
        keys = tuple(words.lower().replace(" ", "_") for words in as_texts(value))
        if any(key not in known for key in keys):
            raise FieldError(f"signs out of {', '.join(known)}")
        return tuple(dict.fromkeys(keys))

    return read


def _earlier(sheet: SheetRows, row: Any, number: int, house: House) -> EarlierValue | None:
    title = f"earlier {number}"
    before = len(sheet.refused)
    readers: Readers = {
        "date": ANIMAL["birth_date"],
        "quantity": as_text,
        "value": number_in(-1e6, 1e6, ""),
        "unit": as_text,
        "method": as_text,
    }
    got: Mapping[str, Any] = sheet.read(row, title, readers)
    if len(sheet.refused) > before:
        return None
    label = got.get("quantity", "")
    quantity = quantity_of_words(label)
    if not quantity or "value" not in got or not isinstance(got.get("date"), date):
        sheet.refuse(title, "date, quantity (one of the tables' names), value and unit", row)
        return None
    try:
        convert_unit(got["value"], got.get("unit", ""), read_quantities(house)[quantity].unit)
    except UnitError as error:
        sheet.refuse(title, str(error), row)
        return None
    return EarlierValue(
        examined_on=got["date"], quantity=quantity, label=label, value=got["value"], unit=got.get("unit", ""),
        method=got.get("method", ""),
    )  # fmt: skip
