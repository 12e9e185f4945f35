"""Whose examination a simulated file says it is; everybody is invented."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fanlight.study import Species


class PersonRole(StrEnum):
    """Responsible Person Role (0010,2298), PS3.3 C.7.1.1: those of its terms that practices use."""

    OWNER = "OWNER"
    AGENT = "AGENT"
    VETERINARIAN = "VETERINARIAN"


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonName:
    """A person; family name and given name apart, as value representation PN wants them (PS3.5 6.2)."""

    family: str
    given: str = ""

    def __str__(self) -> str:
        return f"{self.given} {self.family}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientFacts:
    """The animal and who answers for it."""

    animal_name: str
    case_number: str
    species: Species
    breed: str  # as the practice writes it
    breed_code: tuple[str, str] | None  # SNOMED CT code and meaning, PS3.16 CID 7480; None: no code known
    sex: str  # "male" or "female"
    neutered: bool
    birth_date: date
    weight_kg: float
    responsible: PersonName
    role: PersonRole = PersonRole.OWNER

    def __post_init__(self) -> None:
        if self.sex not in ("male", "female"):
            raise ValueError(f'sex must be "male" or "female", got {self.sex!r}; neutering is a fact of its own')
        if not 0 < self.weight_kg < 150:
            raise ValueError(f"weight must lie between 0 and 150 kg, got {self.weight_kg}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """An invented practice."""

    name: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationFacts:
    """One visit: practice, animal, who scanned, and when."""

    practice: Practice
    patient: PatientFacts
    trainee: PersonName
    mentor: PersonName
    began_at: datetime
    seed: int  # all unique identifiers of the examination follow from it
