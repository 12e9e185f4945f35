"""A rule with a target band, as the House states it: words, limits and what a miss does."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.finding import Band


class Basis(StrEnum):
    """Where a limit comes from; shown beside it."""

    PUBLISHED = "published"
    STANDARD = "standard"
    PHYSICS = "physics"
    COMMON_PRACTICE = "common practice, no source"
    HOUSE = "house setting"


class Purpose(StrEnum):
    """What a clip is wanted for."""

    LOOK = "look"
    MEASURE = "measure"
    DOPPLER = "doppler"


class ClipVerdict(StrEnum):
    """What a clip is good for."""

    DIAGNOSTIC = "diagnostic"
    LIMITED = "limited"
    NON_DIAGNOSTIC = "non-diagnostic"
    NOT_ASSESSABLE = "not assessable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What a value on one side of the band means and what to do about it."""

    means: str  # what the picture shows, in a sentence
    cause: str  # likely cause at the probe, the console or the patient
    correction: str  # what to do, and what the picture should then do
    handling: bool = False  # advice that touches the animal: withheld unless its breathing is normal
    moves: bool = False  # advice that moves the probe: withheld while the animal fights for air
    otherwise: str = ""  # what of it can be said all the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One row of the criteria tables."""

    key: str
    family: str  # file it comes from: "gain", "focus", "time" …
    title: str  # "Overall gain"
    unit: str
    band: Band
    basis: Basis
    source: str  # bibliography key, "" for a house setting
    right: str  # said when it is met
    low: Advice | None
    high: Advice | None
    weight: float  # how much a miss matters, 0 to 10
    limits: tuple[tuple[Purpose, ClipVerdict], ...] = ()  # what a miss makes of the clip
    retake: str = ""  # for the practice while the animal is on the table; "" = never a reason to scan again
    retake_when_borderline: bool = False  # scanning again costs little and saves the clip
    retake_touches: bool = False  # its words touch the animal: what to do is withheld unless breathing is normal
    retake_moves: bool = False  # they move the probe: withheld while the animal fights for air
    study_level: bool = False
    settings: tuple[tuple[str, float], ...] = ()  # further numbers the criterion reads

    def setting(self, name: str) -> float:
        """Return a further number of this row; KeyError names row and setting."""
        for key, value in self.settings:
            if key == name:
                return value
        raise KeyError(f"criterion {self.key} has no setting {name}")
