"""What is kept of each clip that was judged."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from fanlight.study import Finding, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one criterion said of one clip."""

    criterion: str
    verdict: str  # a Verdict
    value: float | None
    reason: str

    @property
    def is_judged(self) -> bool:
        """Whether the criterion said anything."""
        return self.verdict != Verdict.NOT_ASSESSABLE

    @property
    def is_raised(self) -> bool:
        """Whether it called the clip borderline or missed."""
        return self.is_judged and self.verdict != Verdict.MET


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodClip:
    """A clip without fault, with what was varied."""

    seed: int
    view: str
    heart: str
    species: str
    weight_kg: float
    chest: str
    layout: str
    grey_map: str
    echo_mhz: float
    array: str
    breath: float  # furthest in, during the clip
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultyClip:
    """A clip with one fault."""

    seed: int
    view: str
    heart: str
    fault: str
    strength: int
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SubjectRecord:
    """All clips of one subject."""

    seed: int
    good: tuple[GoodClip, ...]
    faulty: tuple[FaultyClip, ...]


def answer_of(finding: Finding) -> Answer:
    """Return what is kept of a finding."""
    return Answer(
        criterion=finding.criterion, verdict=finding.verdict.value, value=finding.value, reason=finding.reason
    )


def to_json(record: SubjectRecord) -> dict[str, Any]:
    """Return a record as plain values."""
    return asdict(record)


def from_json(data: dict[str, Any]) -> SubjectRecord:
    """Return a record from plain values."""

    def answers(row: dict[str, Any]) -> dict[str, Any]:
        return {**row, "answers": tuple(Answer(**a) for a in row["answers"])}

    return SubjectRecord(
        seed=data["seed"],
        good=tuple(GoodClip(**answers(row)) for row in data["good"]),
        faulty=tuple(FaultyClip(**answers(row)) for row in data["faulty"]),
    )
