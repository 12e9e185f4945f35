"""Fields of the request sheet: their names, and how each value is read or turned down."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from typing import Any

from fanlight.study import Breathing, Species, Valve


class FieldError(ValueError):
    """A value of the sheet cannot be used; says what is wanted."""


def as_text(value: Any) -> str:
    """Words."""
    if not isinstance(value, str):
        raise FieldError("words in quotation marks")
    return value.strip()


def as_texts(value: Any) -> tuple[str, ...]:
    """A list of words."""
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise FieldError('a list of words, e.g. ["…", "…"]')
    return tuple(item.strip() for item in value)


def number_in(low: float, high: float, unit: str) -> Callable[[Any], float]:
    """A finite number within limits, in a unit."""

    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or value != value:  # NaN
            raise FieldError(f"a number in {unit}" if unit else "a number")
        if not low <= value <= high:
            raise FieldError(f"a number from {low:g} to {high:g} {unit}".rstrip())
        return float(value)

    return read


def _whole(low: int, high: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise FieldError(f"a whole number from {low} to {high}")
        return value

    return read


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise FieldError("true or false")
    return value


def choice_of(kind: type[Breathing] | type[Species] | type[Valve]) -> Callable[[Any], Any]:
    """One of the values of an enumeration, spaces and capitals forgiven."""

    def read(value: Any) -> Any:
        try:
            return kind(as_text(value).lower().replace(" ", "_"))
        except ValueError:
            raise FieldError("one of " + ", ".join(f'"{item.value}"' for item in kind)) from None

    return read


def _sex(value: Any) -> str:
    word = as_text(value).lower()
    if word not in ("male", "female", ""):
        raise FieldError('"male" or "female"; neutering goes into neutered = true or false')
    return word


def _day(value: Any) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise FieldError("a date such as 2019-05-31")


def _moment(value: Any) -> datetime:
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    return datetime.combine(_day(value), time())


Readers = Mapping[str, Callable[[Any], Any]]

# Limits of numbers: wide enough for any living dog or cat, narrow enough to catch a wrong unit. Engineering judgement.
ANIMAL: Readers = {
    "species": choice_of(Species),
    "breed": as_text,
    "sex": _sex,
    "neutered": _yes_no,
    "weight_kg": number_in(0.1, 149.0, "kg"),
    "age_years": number_in(0.0, 39.0, "years"),
    "birth_date": _day,
}
IDENTITY: Readers = {
    "animal_name": as_text,
    "case_number": as_text,
    "owner": as_text,
    "practice": as_text,
    "examined_at": _moment,
}
REQUEST: Readers = {
    "question": as_text,
    "question_key": as_text,
    "signs": as_text,
    "breathing": choice_of(Breathing),
    "murmur_grade": _whole(0, 6),
    "murmur_place": as_text,
    "rhythm": as_text,
    "heart_rate_bpm": number_in(10, 400, "beats a minute"),
    "blood_pressure_mmhg": number_in(20, 350, "mmHg"),
    "vertebral_heart_score": number_in(4, 20, "vertebrae"),
    "radiographs": as_text,
    "treatment": as_text,
    "sedation": as_text,
    "body_condition": as_text,
    "earlier_studies": as_text,
    "named_diseases": as_texts,
    "training_level": as_text,
    "trainee": as_text,
    "mentor": as_text,
    "urgent": _yes_no,
}
READING: Readers = {"text": as_text}
MEASUREMENT: Readers = {
    "quantity": as_text,
    "label": as_text,
    "value": number_in(-1e6, 1e6, ""),
    "unit": as_text,
    "method": as_text,
    "file": as_text,
}
