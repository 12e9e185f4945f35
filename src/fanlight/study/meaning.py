"""What the numbers of a study mean together: gradings, support of a limit, change between visits, discordances."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


@dataclass(frozen=True, slots=True, kw_only=True)
class GradingResult:
    """A stage, score or grade, or why it stays empty."""

    key: str
    title: str
    result: str  # "" = empty; `reason` says why
    reason: str = ""
    used: tuple[str, ...] = ()  # inputs, each with its value and who gave it
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    citation: str = ""
    status: str = ""  # "from memory, confirm: …", "as the source prints it"
    caution: str = ""
    sheet_only: bool = False  # rests on a number that is kept off the clinical summary


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One sentence about numbers, and where it comes from."""

    kind: str  # "limit", "change", "discordance"
    words: str
    likely: str = ""  # the slip that the numbers themselves show; "" = they show none
    citation: str = ""  # keys of the bibliography, by commas
    sheet_only: bool = False
    about_reading: bool = False  # of how somebody measured, not of the heart: for the mentor, not the attending vet


class Compared(StrEnum):
    """What may be said of a number and that of an earlier visit."""

    BEYOND = "beyond"  # they differ by more than two scans of one heart do
    WITHIN = "within"  # a repeat scan may differ as much
    NOT_COMPARED = "not compared"  # the words say why


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number beside that of an earlier visit. Quantity, label, giver and clip say in which row it stands."""

    quantity: str
    label: str
    given_by: str
    clip: str
    examined_on: date  # the earlier visit
    told: Compared
    before: float | None  # None: refused then
    now: float | None
    unit: str  # of both, and of `least`
    least: float | None  # what two scans of one heart may differ by (repeatability coefficient); None: not compared
    words: str
    citation: str = ""  # of the coefficient: a key of the bibliography
    sheet_only: bool = False  # one of the two is kept off the clinical summary


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """Everything that numbers mean together."""

    named: str = ""  # what the mentor named, in words; "" = nothing
    waits_for: tuple[str, ...] = ()  # what the mentor has not named; stages and scores stay empty until then
    gradings: tuple[GradingResult, ...] = ()
    remarks: tuple[Remark, ...] = ()
    changes: tuple[Change, ...] = ()  # of single numbers since an earlier visit
