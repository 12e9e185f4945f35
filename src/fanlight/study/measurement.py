"""Numbers, what they mean, and the reason where there is none."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

ENGINE = "engine"  # who gave a number that was read off the pixels


class ReferenceKind(StrEnum):
    """What a reference row may say; only a reference interval speaks of normal and abnormal."""

    REFERENCE_INTERVAL = "reference_interval"
    STAGING_CRITERION = "staging_criterion"
    DISEASE_DEFINITION = "disease_definition"
    DIAGNOSTIC_CUTOFF = "diagnostic_cutoff"
    SEVERITY_BAND = "severity_band"
    STUDY_INCLUSION = "study_inclusion"
    REPEATABILITY = "repeatability"
    OTHER_FACT = "other_fact"


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalReading:
    """How a value stands to one reference row, or why that row does not speak."""

    row: str  # key of the row
    citation: str  # bibliography key
    kind: ReferenceKind
    applies: bool
    reason: str  # why it applies or does not
    lower: float | None = None
    upper: float | None = None
    unit: str = ""
    z: float | None = None
    words: str = ""  # "inside the interval", "above 1.85 cm", "orientation only: …"
    repeat_lower: float | None = None  # where a repeat scan may fall, beside a limit that is not one of health
    repeat_upper: float | None = None
    repeat_words: str = ""  # what that band says of value and limit
    repeat_citation: str = ""  # bibliography key of the band


class Kept(StrEnum):
    """Whether a number by hand rests on marks that a person kept where the engine proposed them."""

    NO = ""
    WHOLLY = "kept as proposed"
    IN_PART = "kept as proposed in part"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One number, or the reason why there is none."""

    name: str  # quantity key of the reference tables
    label: str
    value: float | None
    unit: str
    uncertainty: float | None = None
    clip: str = ""  # key of the clip it was measured on, or the file that the giver named
    frames: tuple[int, ...] = ()
    method: str = ""
    reason: str = ""
    given_by: str = ""  # "machine report", "request sheet", "typed", "engine"
    kept: Kept = Kept.NO  # of a number by hand: whether its marks lie where the engine proposed them
    stands_on: tuple[str, ...] = ()  # criteria keys
    sheet_only: bool = False  # kept off the clinical summary: how often it is right was not measured yet
    validity: str = ""  # "" = not weighed, "holds", "note: …", "refused: …"
    rank: int = 0  # place of its clip among those that give this number, 1 the best; 0: no other clip gives it
    beside: str = ""  # what the other clips gave, or which clip gives the number; marks that were not counted
    readings: tuple[IntervalReading, ...] = ()

    @property
    def giver(self) -> str:
        """Who gave it, in words: "marked by hand", "marked by hand, kept as proposed", "engine"."""
        return f"{self.given_by}, {self.kept}" if self.kept else self.given_by


@dataclass(frozen=True, slots=True, kw_only=True)
class Unconfirmed:
    """What calipers that the engine laid by itself tell on papers, apart from what a person decided."""

    numbers: tuple[Measurement, ...] = ()
    look_again: tuple[str, ...] = ()  # where they contradict a number that was given, or a limit is near
