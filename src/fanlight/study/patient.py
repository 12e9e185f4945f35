"""The animal, who it belongs to, and what was asked: everything is as given, nothing is guessed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from fanlight.study.advice import StudyRecord
from fanlight.study.named import EarlierValue, Named


class Species(StrEnum):
    """Animals that the tables know."""

    DOG = "dog"
    CAT = "cat"


class Breathing(StrEnum):
    """What the request sheet says about the breathing. Only NORMAL allows handling advice."""

    NORMAL = "normal"
    LABOURED = "laboured"
    DISTRESSED = "distressed"
    NOT_STATED = "not_stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """Who it is. Stays in the clinical review; never in logs, caches, file names or teaching copies."""

    animal_name: str = ""
    case_number: str = ""
    owner: str = ""
    practice: str = ""
    examined_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """The animal as the files and the request sheet describe it. None or "" means: not stated."""

    species: Species | None = None
    breed: str = ""
    sex: str = ""  # "male", "female", "" ; neutering apart
    neutered: bool | None = None
    weight_kg: float | None = None
    age_years: float | None = None
    birth_date: date | None = None

    def __post_init__(self) -> None:
        if self.weight_kg is not None and not 0 < self.weight_kg < 150:
            raise ValueError(f"weight must lie between 0 and 150 kg, got {self.weight_kg}; state it in kilograms")
        if self.age_years is not None and not 0 <= self.age_years < 40:
            raise ValueError(f"age must lie between 0 and 40 years, got {self.age_years}; state it in years")


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenMeasurement:
    """A number that came with the study: from the machine's report, the request sheet or typed."""

    quantity: str  # a quantity key of the reference tables, "" when it is not one of them
    label: str  # as it was written
    value: float
    unit: str  # as it was written
    given_by: str  # "machine report" | "request sheet" | "typed"
    clip_name: str = ""
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """The request sheet, kept as given before any feedback exists. "" means: not stated."""

    question: str = ""  # clinical question, free words
    question_key: str = ""  # chooses the plan: "murmur", "breathing", "screening" …; "" = not stated
    signs: str = ""
    breathing: Breathing = Breathing.NOT_STATED
    murmur_grade: int | None = None  # 1 to 6, 0: none heard
    murmur_place: str = ""
    rhythm: str = ""
    heart_rate_bpm: float | None = None
    blood_pressure_mmhg: float | None = None
    vertebral_heart_score: float | None = None
    radiographs: str = ""
    treatment: str = ""
    sedation: str = ""
    body_condition: str = ""
    earlier_studies: str = ""
    named_diseases: tuple[
        str, ...
    ] = ()  # keys that the mentor or the request names, e.g. "myxomatous_mitral_valve_disease"
    training_level: str = ""  # "" = not stated; a level key of the plans
    trainee: str = ""
    mentor: str = ""
    urgent: bool = False
    trainee_reading: str = ""
    trainee_measurements: tuple[GivenMeasurement, ...] = ()
    missing: tuple[str, ...] = ()  # fields to ask for, in the words of the sheet
    named: Named = field(default_factory=Named)  # by the mentor, in the marks file
    earlier: tuple[EarlierValue, ...] = ()  # numbers of earlier visits
    records: tuple[StudyRecord, ...] = ()  # of earlier studies, for what became of their advice
