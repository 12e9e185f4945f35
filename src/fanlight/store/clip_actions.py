"""What a person says about clips, findings and structures."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.store.action_checks import needs
from fanlight.store.action_words import JudgedStructure, Judgement, Requirement
from fanlight.study import ClipVerdict, Evidence, Mode, Purpose, Valve, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceClip:
    """The clip is this view; for Doppler, of this valve."""

    clip: str
    view: str  # key of the House
    valve: Valve | None = None

    def __post_init__(self) -> None:
        needs(self, clip=self.clip, view=self.view)


@dataclass(frozen=True, slots=True, kw_only=True)
class NameMode:
    """The clip is of this mode, whatever its pixels tell; None: as the engine reads it."""

    clip: str
    mode: Mode | None

    def __post_init__(self) -> None:
        needs(self, clip=self.clip)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeClipOut:
    """The clip belongs to no view, whatever was said before."""

    clip: str

    def __post_init__(self) -> None:
        needs(self, clip=self.clip)


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeBlind:
    """The mentor's judgement of a clip before any proposal was shown."""

    clip: str
    view: str  # "" when the mentor cannot tell
    verdicts: tuple[tuple[Purpose, ClipVerdict], ...]
    words: str = ""

    def __post_init__(self) -> None:
        needs(self, clip=self.clip)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptFinding:
    """The engine's finding holds."""

    clip: str  # "" for a finding of the study as a whole
    criterion: str

    def __post_init__(self) -> None:
        needs(self, criterion=self.criterion)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptFindings:
    """Several of the engine's findings on a clip hold: one act, taken back as one."""

    clip: str
    criteria: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.criteria or not all(key.strip() for key in self.criteria):
            raise ValueError("criteria must name at least one criterion, and none that is empty")


@dataclass(frozen=True, slots=True, kw_only=True)
class OverruleFinding:
    """The engine's finding does not hold: the mentor's verdict, and why."""

    clip: str
    criterion: str
    verdict: Verdict
    reason: str

    def __post_init__(self) -> None:
        needs(self, criterion=self.criterion, reason=self.reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class AddFinding:
    """Something that the mentor saw. The same `finding` again changes its words."""

    finding: str  # id made by the page
    clip: str  # "" for the study as a whole
    words: str
    phrase: str = ""  # key in the phrase bank; "" for free words
    evidence: tuple[Evidence, ...] = ()

    def __post_init__(self) -> None:
        needs(self, finding=self.finding, words=self.words)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeBackFinding:
    """An added finding is withdrawn."""

    finding: str

    def __post_init__(self) -> None:
        needs(self, finding=self.finding)


@dataclass(frozen=True, slots=True, kw_only=True)
class TickItem:
    """Whether the clip shows one item of its view's list. None: the tick is taken away."""

    clip: str
    requirement: Requirement
    item: str
    is_shown: bool | None

    def __post_init__(self) -> None:
        needs(self, clip=self.clip, item=self.item)


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeStructure:
    """Normal, abnormal or not assessed, by the mentor's own eye."""

    structure: JudgedStructure
    judgement: Judgement
    words: str = ""
