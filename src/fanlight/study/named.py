"""What only the mentor can say, and what stages and scores wait for: lesion, failure status, treatment, signs seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class HeartFailure(StrEnum):
    """Whether the animal has, or ever had, congestive heart failure."""

    NONE = "none"
    PAST = "past"
    PRESENT = "present"
    REFRACTORY = "refractory"  # in spite of the usual treatment


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What a mentor named. "", None and empty mean: not said; nothing is guessed from the request."""

    by: str = ""
    lesions: tuple[str, ...] = ()  # keys of the table of diseases
    failure: HeartFailure | None = None
    treatment: str = ""  # in words; "none" when there is none
    signs: tuple[str, ...] = ()  # keys of the table of signs: seen
    signs_absent: tuple[str, ...] = ()  # looked for, and not there

    @property
    def missing(self) -> tuple[str, ...]:
        """What stages and scores still wait for, in words."""
        return tuple(
            words
            for words, is_said in (
                ("the lesion", bool(self.lesions)),
                ("the failure status", self.failure is not None),
                ("the treatment", bool(self.treatment)),
            )
            if not is_said
        )

    @property
    def is_treated(self) -> bool:
        """Whether a treatment is named; "none" is none."""
        return bool(self.treatment) and self.treatment.strip().lower().rstrip(".") not in ("none", "no")


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierValue:
    """A number of an earlier examination of the same animal, as it was written then."""

    examined_on: date
    quantity: str  # a quantity key of the reference tables
    label: str
    value: float | None  # None: it was refused then; `not_held` says why
    unit: str
    method: str = ""
    animal_name: str = ""  # as that examination named it; "" = not stated
    case_number: str = ""
    sheet_only: bool = False  # was kept off that visit's clinical summary
    given_by: str = ""  # who gave it, in words; "" = not stated
    view: str = ""  # key of the view it was taken in; "" = not known
    mode: str = ""  # of its clip, in words; "" = not known
    not_held: str = ""  # "at least: …", "refused: …": why it is compared with nothing; "" = it held
    is_day_received: bool = False  # no file of that examination names its day: it is the day on which it came
