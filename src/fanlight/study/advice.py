"""What a study advised its trainee, how its criteria stood, and what became of it in a later study."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from fanlight.study.finding import Side, Verdict
from fanlight.study.mode import Mode


class Outcome(StrEnum):
    """What became of an advice in the next study of the same trainee."""

    MENDED = "mended"  # all that it was about could be judged, and is met
    PARTLY = "partly mended"  # some of it is met; the rest was missed again, is borderline, or could not be judged
    BORDERLINE = "better, now borderline"
    STILL_THERE = "still there"
    OVERDONE = "overdone"  # missed on the other side now
    NOT_TOLD = "not to be told"  # no clip of that kind, or none on which it could be judged


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceGiven:
    """One correction of a letter, and what it is about."""

    about: str  # criterion and side, "depth_use:low", or a cause, "cause:depth_large"
    title: str
    correction: str
    signs: tuple[tuple[str, Side], ...]  # criteria, and the side on which each was missed


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """How one criterion stood in one clip."""

    criterion: str
    mode: Mode | None  # None: not known, or said of the study as a whole
    view: str  # "" not known
    verdict: Verdict
    side: Side
    confidence: float  # 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """In how many clips of one kind (mode and view) a criterion was met and missed."""

    criterion: str
    mode: Mode | None
    view: str
    met: int = 0
    borderline: int = 0
    low: int = 0  # missed
    high: int = 0

    @property
    def judged(self) -> int:
        """In how many clips it was judged."""
        return self.met + self.borderline + self.low + self.high

    def missed(self, side: Side) -> int:
        """In how many clips it was missed on this side."""
        return {Side.LOW: self.low, Side.HIGH: self.high, Side.INSIDE: 0}[side]

    def is_met(self, share: float) -> bool:
        """Whether at least this share of the clips on which it was judged meets it."""
        return self.judged > 0 and self.met >= share * self.judged

    def is_kind_of(self, mode: Mode | None, view: str) -> bool:
        """Whether a clip of this mode and view is of that kind; where the view was not known, any view is."""
        return mode is self.mode and self.view in ("", view)


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRecord:
    """What is kept of a study so that the next one of the same trainee can be held against it."""

    examined_at: datetime | None
    trainee: str
    practice: str
    advice: tuple[AdviceGiven, ...]
    standings: tuple[Standing, ...]
    said: tuple[tuple[str, Outcome], ...] = ()  # by a person in this study, of the advice of the one before


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedAdvice:
    """One advice of earlier studies, and its real record."""

    advice: AdviceGiven
    outcome: Outcome | None  # in this study; None: it was not among the advice of the last study
    tried_in: tuple[str, ...]  # Clip.key: clips of this study in which it could show and was judged
    given: int  # in so many earlier studies
    mended: int  # in so many of the studies that came next
    not_told: int  # in so many of them nothing could be told
    is_said: bool = False  # a person said what became of it in this study; that goes before the findings
    partly: int = 0  # mended in part or better, in so many of the studies that came next
    met_in: tuple[str, ...] = ()  # in words: of what it was about (criterion, view), what is met now
    left_in: tuple[str, ...] = ()  # what is missed or borderline
    not_judged_in: tuple[str, ...] = ()  # what no clip could tell


@dataclass(frozen=True, slots=True, kw_only=True)
class MetNow:
    """A criterion that was missed in the last study, and is met now in clips of the same kind."""

    criterion: str
    words: str  # what is right
    views: tuple[str, ...]  # titles; empty: the view was not known
    clips: tuple[str, ...]  # Clip.key; empty: said of the study as a whole


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUp:
    """A study held against the earlier ones of its trainee."""

    since: datetime | None = None  # when the last one was examined; None: there is none to hold it against
    advice: tuple[FollowedAdvice, ...] = ()
    met_now: tuple[MetNow, ...] = ()
    not_followed: tuple[str, ...] = ()  # earlier studies that were given and do not count, and why

    def record(self, about: str) -> FollowedAdvice | None:
        """Return what is known of an advice from earlier studies."""
        return next((item for item in self.advice if item.advice.about == about), None)


def about_criterion(criterion: str, side: str) -> str:
    """Return the name under which the record knows a correction of one criterion."""
    return f"{criterion}:{Side(side).value}"


def about_cause(cause: str) -> str:
    """Return the name under which the record knows the correction of a cause."""
    return f"cause:{cause}"


def count_standings(shown: Iterable[Shown], sure_from: float) -> tuple[Standing, ...]:
    """Return how each criterion stood in the clips of each kind.

    Parameters
    ----------
    shown : iterable of Shown
        Of all clips; what could not be assessed says nothing.
    sure_from : float
        Smallest confidence that counts, 0 to 1.
    """
    counts: dict[tuple[str, Mode | None, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for item in shown:
        if item.verdict is Verdict.NOT_ASSESSABLE or item.confidence < sure_from:
            continue
        stood = item.side.value if item.verdict is Verdict.MISSED else item.verdict.value
        if stood != Side.INSIDE.value:  # a miss without a side is about nothing that could be advised
            counts[(item.criterion, item.mode, item.view)][stood] += 1
    return tuple(
        Standing(criterion=criterion, mode=mode, view=view, **stood)
        for (criterion, mode, view), stood in sorted(counts.items(), key=lambda each: (*each[0][::2], each[0][1] or ""))
    )
