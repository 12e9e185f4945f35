"""How every criterion family works: it is started for a clip, is shown the frames once, and finishes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol

from fanlight.study import (
    Clip,
    ClipTime,
    Criterion,
    Evidence,
    Finding,
    Layout,
    ModeReading,
    Patient,
    PictureChunk,
    Side,
    Source,
    Verdict,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipContext:
    """What is known of a clip before its frames are shown."""

    clip: Clip
    patient: Patient
    layout: Layout
    mode: ModeReading
    criteria: dict[str, Criterion]  # of this family only
    house: str = ""  # fingerprint of this family's table
    # What families of one clip measure alike and share, by name; the same dictionary for all families of a clip.
    shared: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)


class Accumulator(Protocol):
    """One criterion family at work on one clip."""

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames. The arrays must not be kept or changed."""
        ...

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        """Return one finding for each criterion of the family."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A criterion family: name of its table, version of its code, and how it is started."""

    name: str
    version: int
    start: Callable[[ClipContext], Accumulator]


def judged(
    context: ClipContext,
    family: Family,
    key: str,
    value: float,
    *,
    confidence: float = 1.0,
    uncertainty: float | None = None,
    frames: tuple[int, ...] = (),
    evidence: tuple[Evidence, ...] = (),
    note: str = "",
) -> Finding:
    """Return the finding of a measured value against its band."""
    criterion = context.criteria[key]
    verdict, side = criterion.band.judge(value)
    return Finding(
        criterion=key,
        clip=context.clip.key,
        value=value,
        unit=criterion.unit,
        band=criterion.band,
        verdict=verdict,
        side=side,
        confidence=confidence,
        uncertainty=uncertainty,
        frames=frames,
        evidence=evidence,
        reason=note,
        source=Source(stage=f"critique.{family.name}", version=family.version, house=context.house),
    )


def not_assessable(context: ClipContext, family: Family, key: str, reason: str) -> Finding:
    """Return the finding of a criterion that cannot be judged on this clip, with the reason."""
    criterion = context.criteria[key]
    return Finding(
        criterion=key,
        clip=context.clip.key,
        value=None,
        unit=criterion.unit,
        band=criterion.band,
        verdict=Verdict.NOT_ASSESSABLE,
        side=Side.INSIDE,
        confidence=0.0,
        reason=reason,
        source=Source(stage=f"critique.{family.name}", version=family.version, house=context.house),
    )
