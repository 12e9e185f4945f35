"""Standard views, valves and rungs; the views themselves are data of the House."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Valve(StrEnum):
    """Heart valves."""

    MITRAL = "mitral"
    AORTIC = "aortic"
    TRICUSPID = "tricuspid"
    PULMONIC = "pulmonic"


class Rung(StrEnum):
    """Steps of the ladder, in order."""

    TWO_D = "2-D"
    COLOUR = "colour"
    PULSED_WAVE = "PW"
    CONTINUOUS_WAVE = "CW"


class ViewSource(StrEnum):
    """Who said which view it is, most trusted first."""

    MENTOR = "marked by the mentor"
    MARKS_FILE = "named in the marks or request file"
    VIEW_CODE = "View Code (0054,0220)"
    VIEW_NAME = "View Name (0008,2127)"
    SERIES_TEXT = "series text"
    SCREEN_TEXT = "text on the screen"
    RECOGNISED = "recognised from the pixels"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewReading:
    """Which standard view a clip is, said by whom. `view` is "" when it is not known."""

    view: str
    source: ViewSource
    probability: float = 1.0
    reason: str = ""
    valve: Valve | None = None


NOT_KNOWN = ViewReading(
    view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="no tag, text or mark names the view"
)


class RungState(StrEnum):
    """How far a rung of the ladder was reached; the same five states as the arcs of the fan."""

    DIAGNOSTIC = "diagnostic"
    LIMITED = "limited"
    NON_DIAGNOSTIC = "non-diagnostic"
    MISSING = "asked for and missing"
    NOT_ASKED = "not asked for"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One line of the plan held against the study."""

    view: str
    title: str
    asked: tuple[Rung, ...]
    clips: tuple[str, ...]  # Clip.key, in the order stored
    states: tuple[tuple[Rung, RungState], ...]  # all four rungs
    m_mode: RungState = RungState.NOT_ASKED  # beside the ladder: some steps ask for it

    @property
    def missing(self) -> tuple[str, ...]:
        """What the plan asks for here and nobody stored, in words."""
        rungs = tuple(str(rung) for rung, state in self.states if state is RungState.MISSING)
        return (*rungs, "M-mode") if self.m_mode is RungState.MISSING else rungs


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderFinding:
    """A rule of the ladder that a study does not keep at one valve, and the clips that tell."""

    rule: str  # key of the House's table, e.g. "L4"
    words: str  # a teaching note, with the numbers of the clips
    clips: tuple[str, ...]  # Clip.key; empty where a report or a sheet tells
    is_sure: bool = True  # False: it rests on signs that held too rarely for a letter; sheet and desk show it


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveLadder:
    """Which rungs were reached at one valve.

    `notes` are for the reader: the words of all findings, and what else must be known of the clips.
    """

    valve: Valve
    states: tuple[tuple[Rung, RungState], ...]
    notes: tuple[str, ...] = ()
    findings: tuple[LadderFinding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """What the plan asks for against what was stored."""

    plan: str
    plan_title: str
    chosen_because: str
    steps: tuple[PlanStep, ...]
    ladders: tuple[ValveLadder, ...]
    unplaced: tuple[str, ...]  # Clip.key of clips whose view is not known
    can_judge_missing: bool  # False while unplaced clips could be the missing ones
    order_notes: tuple[str, ...] = ()  # teaching notes, never a verdict
