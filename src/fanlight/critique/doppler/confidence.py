"""How sure a Doppler finding is called: by how its criterion held on simulated clips, in one place for all of them.

A family says what it sees. Whether that may enter a letter is decided here, from ring A of the table in
docs/accuracy.md: a criterion counts when at least four clips with its fault were judged, four fifths of them were
raised, and nine tenths of the good clips were not, for each of its faults (engineering judgement; a test holds this
table against the page). One that speaks only where something is off judges no good clip: then the good clips count on
which it raised nothing, and the page tells them in a row of their own. Rings B and C decide nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.critique.accumulator import Accumulator, ClipContext, Family
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

VERSION = 10  # raise it when a confidence changes: kept results are then made anew
# How sure a finding is called while no table tells how often these criteria are right: too little for a letter.
UNMEASURED = 0.4
# Confidence of the criteria that held on ring A; of the same size as that of the 2-D criteria (engineering judgement).
# A criterion that is not here keeps what its family says, which is too little for a letter where it was not measured.
CONFIDENCE: dict[str, float] = {
    "colour_box_share": 0.8,
    "colour_wrap": 0.75,
    "colour_scale_room": 0.75,
    "colour_noise": 0.75,
    "colour_slow_movement": 0.7,
    "spectrum_height": 0.65,
    "spectrum_noise": 0.75,
    "spectrum_sweep": 0.7,
    "spectrum_blooming": 0.7,
    "spectrum_guide": 0.9,
    "spectrum_angle_corrected": 0.85,
}


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
