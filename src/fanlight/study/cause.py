"""What stands behind the findings of a study, and the few changes that would resolve most of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class CauseLevel(StrEnum):
    """Where a cause sits."""

    CONSOLE = "console"
    HAND = "hand"  # place, contact and direction of the probe, leads
    RECORD = "record"  # what happened to the pictures after they were made
    ANIMAL = "animal"  # told, never corrected


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One finding that a cause explains."""

    criterion: str
    clip: str  # Clip.key


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseFound:
    """A cause that the findings of a study point to."""

    cause: str  # key in the table of causes
    title: str
    level: CauseLevel
    probability: float  # that it acts in at least one clip, 0 to 1
    habit: float  # probability that it runs through the study
    is_habit: bool  # as the House draws the line
    clips: tuple[str, ...]  # in which it, or an alternative, acts more likely than not
    explains: tuple[Explained, ...]  # findings of which it, or an alternative, is the likeliest reason
    alternatives: tuple[str, ...] = ()  # causes that may stand in its place
    tells_apart: str = ""  # which picture would tell them apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One change that would resolve findings; the mentor decides."""

    cause: str
    title: str
    level: CauseLevel
    when: str  # what the picture shows
    correction: str  # "" when it was withheld
    right_when: str
    resolves: int  # findings that the cause explains
    clips: tuple[str, ...]
    is_habit: bool
    either: str = ""  # another change that may be the right one, and what tells; "" none
    withheld: str = ""  # why nothing is advised
    to_try: str = ""  # that it is likely, not sure, and a setting to be tried; "" sure
    explains: tuple[Explained, ...] = ()  # of a movement of the probe: the findings that are counted to it
