"""A reviewed study: what every page, letter and file is made from."""

from __future__ import annotations

from dataclasses import dataclass, field

from fanlight.study.advice import FollowUp
from fanlight.study.cause import CauseFound, Correction
from fanlight.study.clip import Clip, Refusal, Study
from fanlight.study.criterion import ClipVerdict, Purpose
from fanlight.study.finding import Finding
from fanlight.study.layout import Layout
from fanlight.study.meaning import Meaning
from fanlight.study.measurement import Measurement, Unconfirmed
from fanlight.study.mode import ModeReading
from fanlight.study.picture_reading import PictureReading
from fanlight.study.pose import WindowStand
from fanlight.study.time import ClipTime
from fanlight.study.view import Coverage, Valve, ViewReading, ViewSource


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipReading:
    """Everything the engine says about one clip."""

    clip: Clip
    layout: Layout
    mode: ModeReading
    view: ViewReading
    time: ClipTime
    findings: tuple[Finding, ...]
    verdicts: tuple[tuple[Purpose, ClipVerdict], ...]
    frames_read: int
    key_frame: int = 0  # the frame that stands for the clip in a letter
    damage: Refusal | None = None  # reading stopped early; what came before was used
    picture: PictureReading | None = None  # what the network says of it; None: read before there was one
    measured: tuple[Measurement, ...] = ()  # what the engine read off a strip; whether it holds, the study says
    measured_as: tuple[str, Valve | None] = ("", None)  # view and valve by which it was measured
    seconds: tuple[tuple[str, float], ...] = ()  # time by stage, for docs/performance.md; not part of the result

    def verdict(self, purpose: Purpose) -> ClipVerdict:
        """What the clip is good for."""
        return dict(self.verdicts).get(purpose, ClipVerdict.NOT_ASSESSABLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Priority:
    """A fault that runs through the study, with the clips that show it and one thing to do."""

    criterion: str
    title: str
    side: str
    means: str
    cause: str
    correction: str  # "" when it was withheld; `withheld` says why
    clips: tuple[str, ...]
    worst_clip: str
    score: float  # weight times clips, for the order
    withheld: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What is right, and in which clips; none named: it holds for the study."""

    criterion: str
    words: str
    clips: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyReview:
    """The engine's draft. The mentor decides; nothing here is signed."""

    study: Study
    readings: tuple[ClipReading, ...]
    refused: tuple[Refusal, ...]
    study_findings: tuple[Finding, ...]
    coverage: Coverage
    measurements: tuple[Measurement, ...]
    priorities: tuple[Priority, ...]
    strengths: tuple[Strength, ...]
    asked_for: tuple[str, ...]  # what the request sheet should still say
    engine_version: str
    house: str  # fingerprint
    house_own_rows: tuple[str, ...] = field(default=())
    meaning: Meaning = field(default_factory=Meaning)  # what the measurements mean together
    causes: tuple[CauseFound, ...] = ()  # behind the findings of the clips, the one that explains most first
    corrections: tuple[Correction, ...] = ()  # the few changes that would resolve most
    follow_up: FollowUp = field(default_factory=FollowUp)  # what became of earlier advice
    stands: tuple[WindowStand, ...] = ()  # where the probe stood, of clips whose landmarks are known
    unconfirmed: Unconfirmed = field(default_factory=Unconfirmed)  # of the engine's own calipers

    @property
    def recognised(self) -> tuple[int, ...]:
        """Numbers of the clips that lie in a view only because it was recognised; nobody named it."""
        return tuple(item.clip.number for item in self.readings if item.view.source is ViewSource.RECOGNISED)

    def reading(self, key: str) -> ClipReading:
        """Return the reading of one clip; KeyError names the clip."""
        for item in self.readings:
            if item.clip.key == key:
                return item
        raise KeyError(f"no clip {key} in this review")
