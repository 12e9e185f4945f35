"""Results of criteria on clips."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.geometry import Evidence


class Verdict(StrEnum):
    """How a measured value stands to its band."""

    MET = "met"
    BORDERLINE = "borderline"
    MISSED = "missed"
    NOT_ASSESSABLE = "not assessable"


class Side(StrEnum):
    """On which side of the band a value lies."""

    INSIDE = "inside"
    LOW = "low"
    HIGH = "high"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Target values, with a border zone around them. None: no limit on that side."""

    met_low: float | None = None
    met_high: float | None = None
    border_low: float | None = None  # below this: missed
    border_high: float | None = None  # above this: missed

    def __post_init__(self) -> None:
        order = [v for v in (self.border_low, self.met_low, self.met_high, self.border_high) if v is not None]
        if order != sorted(order):
            raise ValueError(f"band limits must rise (border_low, met_low, met_high, border_high), got {order}")
        if self.border_low is not None and self.met_low is None:
            raise ValueError("a band with border_low needs met_low")
        if self.border_high is not None and self.met_high is None:
            raise ValueError("a band with border_high needs met_high")

    def judge(self, value: float) -> tuple[Verdict, Side]:
        """Return the verdict for a value and the side on which it lies."""
        if self.met_low is not None and value < self.met_low:
            limit = self.met_low if self.border_low is None else self.border_low
            return (Verdict.MISSED if value < limit or self.border_low is None else Verdict.BORDERLINE), Side.LOW
        if self.met_high is not None and value > self.met_high:
            limit = self.met_high if self.border_high is None else self.border_high
            return (Verdict.MISSED if value > limit or self.border_high is None else Verdict.BORDERLINE), Side.HIGH
        return Verdict.MET, Side.INSIDE

    def words(self, unit: str = "") -> str:
        """Return the band as a reader says it, e.g. "0.1 to 0.4", "at least 3", "at most 12 %"."""
        tail = f" {unit}" if unit and unit != "1" else ""
        if self.met_low is not None and self.met_high is not None:
            return f"{self.met_low:g} to {self.met_high:g}{tail}"
        if self.met_low is not None:
            return f"at least {self.met_low:g}{tail}"
        if self.met_high is not None:
            return f"at most {self.met_high:g}{tail}"
        return "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Who says so: the stage and its version, with what it rests on."""

    stage: str  # "critique.focus"
    version: int
    house: str = ""  # hash of the House rows that were read


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One criterion's result on one clip (or on the study when `clip` is "")."""

    criterion: str
    clip: str  # Clip.key; "" for the study as a whole
    value: float | None
    unit: str  # "1" for shares and ratios
    band: Band
    verdict: Verdict
    side: Side = Side.INSIDE
    confidence: float = 1.0  # 0 to 1
    uncertainty: float | None = None  # one standard deviation, same unit as value
    frames: tuple[int, ...] = ()  # counted from 0
    evidence: tuple[Evidence, ...] = ()
    reason: str = ""  # why it is not assessable, or a note beside the value
    source: Source = Source(stage="", version=0)

    def __post_init__(self) -> None:
        if self.verdict is Verdict.NOT_ASSESSABLE and not self.reason:
            raise ValueError(f"{self.criterion}: a finding that is not assessable must say why")
        if self.verdict is not Verdict.NOT_ASSESSABLE and self.value is None:
            raise ValueError(f"{self.criterion}: a judged finding needs its value")
        if not 0 <= self.confidence <= 1:
            raise ValueError(f"{self.criterion}: confidence must lie between 0 and 1, got {self.confidence}")
