"""How sure a Doppler finding is called: by how its criterion held on simulated clips, in one place for all of them.

A family says what it sees. Whether that may enter a letter is decided here, from the table of docs/accuracy.md: a
criterion counts when on ring A it saw most of what it should see and seldom raised a good clip. Rings B and C are
reported beside it and decide nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.critique.accumulator import Accumulator, ClipContext, Family
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

VERSION = 1  # raise it when a confidence changes: kept results are then made anew
# Confidence of the criteria that held on ring A; of the same size as that of the 2-D criteria (engineering judgement).
# A criterion that is not here keeps what its family says, which is too little for a letter where it was not measured.
CONFIDENCE: dict[str, float] = {}


@dataclass(frozen=True, slots=True, eq=False)
class _AsSure:
    """A family at work, whose findings are called as sure as their criteria held."""

    work: Accumulator

    def add(self, chunk: PictureChunk) -> None:
        self.work.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        return tuple(
            finding
            if finding.verdict is Verdict.NOT_ASSESSABLE
            else replace(finding, confidence=CONFIDENCE.get(finding.criterion, finding.confidence))
            for finding in self.work.finish(time)
        )


def as_sure_as_measured(family: Family) -> Family:
    """Return a family whose findings carry the confidence that was measured for their criteria."""

    def start(context: ClipContext) -> Accumulator:
        return _AsSure(family.start(context))

    return replace(family, version=100 * family.version + VERSION, start=start)
