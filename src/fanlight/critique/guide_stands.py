"""Beside a strip the picture is a guide that stands still while the strip runs: its frames repeat by intention."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.critique.accumulator import Accumulator, ClipContext, Family
from fanlight.study import ClipTime, Finding, Mode, PictureChunk, Sector, Side, Verdict

_REPEATS = "frozen_frames"
_REASON = "the picture beside a strip stands still while the strip runs"
_VERSION = 1  # raise it when a finding changes: kept results are then made anew


@dataclass(frozen=True, slots=True, eq=False)
class _BesideStrip:
    """A family at work on a strip, that does not hold the guide's standing still against the export."""

    work: Accumulator

    def add(self, chunk: PictureChunk) -> None:
        self.work.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        return tuple(
            replace(
                finding, value=None, uncertainty=None, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, confidence=0.0,
                frames=(), evidence=(), reason=_REASON,
            )
            if finding.criterion == _REPEATS and finding.verdict in (Verdict.BORDERLINE, Verdict.MISSED)
            else finding
            for finding in self.work.finish(time)
        )  # fmt: skip


def without_still_guides(family: Family) -> Family:
    """Return a family that says nothing of repeated frames where the picture is the guide of a strip."""

    def start(context: ClipContext) -> Accumulator:
        is_strip = context.mode.mode is Mode.M_MODE or context.mode.is_spectrum
        work = family.start(context)
        return _BesideStrip(work) if is_strip and isinstance(context.layout.picture, Sector) else work

    return replace(family, version=100 * family.version + _VERSION, start=start)
