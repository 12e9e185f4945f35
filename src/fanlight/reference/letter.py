"""Reader of the table that says how much a letter says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.reference.criteria import read_criteria
from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterLimits:
    """House settings of the letter and of the retake list."""

    strengths_max: int
    findings_max: int
    retakes_max: int
    strength_share: float  # of the judged clips, 0 to 1
    sure_from: float  # smallest confidence that counts, 0 to 1


def read_letter_limits(house: House) -> LetterLimits:
    """Return the limits.

    Raises
    ------
    ValueError
        Naming the row, when a number lies outside what it can be.
    """
    row = house.table("letter")["limits"]
    limits = LetterLimits(**row)
    for name in ("strengths_max", "findings_max", "retakes_max"):
        if getattr(limits, name) < 1:
            raise ValueError(f"letter.limits.{name} must be 1 or more, got {getattr(limits, name)}")
    for name in ("strength_share", "sure_from"):
        if not 0 <= getattr(limits, name) <= 1:
            raise ValueError(f"letter.limits.{name} must lie between 0 and 1, got {getattr(limits, name)}")
    return limits


def read_follows(house: House) -> Mapping[str, tuple[str, ...]]:
    """Return, for a criterion, those whose miss may be its whole reason.

    Raises
    ------
    ValueError
        Naming the row, when it names a criterion that does not exist or itself.
    """
    criteria = read_criteria(house)
    follows = {key: tuple(causes) for key, causes in house.table("letter")["follows"].items()}
    for key, causes in follows.items():
        unknown = sorted({key, *causes} - set(criteria))
        if unknown or key in causes:
            raise ValueError(f"letter.follows.{key}: no criterion is called {', '.join(unknown) or 'its own reason'}")
    return follows
