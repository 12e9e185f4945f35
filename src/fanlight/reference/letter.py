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
    views_max: int  # that lack something, in the mentor's words; further ones are only counted
    retakes_max: int
    strength_share: float  # of the judged clips, 0 to 1
    sure_from: float  # smallest confidence that counts, 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcerptLimits:
    """House settings of the moving excerpts in a letter of one HTML file."""

    most_mb: float  # of the whole file, 1 MB = 1,000,000 bytes
    sizes_px: tuple[int, ...]  # longer side, the largest first; smaller ones are tried when the file grows too large
    quality: int  # of WebP, 1 to 100
    seconds_without_beat: float  # around the cited frame
    seconds_max: float  # of any excerpt


def read_excerpt_limits(house: House) -> ExcerptLimits:
    """Return the limits of moving excerpts.

    Raises
    ------
    ValueError
        Naming the row, when a number lies outside what it can be.
    """
    row = house.table("letter")["excerpts"]
    limits = ExcerptLimits(**{**row, "sizes_px": tuple(row["sizes_px"])})
    sizes = limits.sizes_px
    if not sizes or list(sizes) != sorted(set(sizes), reverse=True) or not 64 <= sizes[-1] <= sizes[0] <= 640:
        raise ValueError(f"letter.excerpts.sizes_px must fall, each from 640 to 64, got {list(sizes)}")
    if not 1 <= limits.quality <= 100:
        raise ValueError(f"letter.excerpts.quality must lie between 1 and 100, got {limits.quality}")
    if not 0 < limits.most_mb <= 25:
        raise ValueError(f"letter.excerpts.most_mb must lie above 0 and be at most 25, got {limits.most_mb}")
    if not 0 < limits.seconds_without_beat <= limits.seconds_max <= 5:
        raise ValueError(
            "letter.excerpts.seconds_without_beat must lie above 0 and be at most seconds_max, and that at most 5, "
            f"got {limits.seconds_without_beat} and {limits.seconds_max}"
        )
    return limits


def read_letter_limits(house: House) -> LetterLimits:
    """Return the limits.

    Raises
    ------
    ValueError
        Naming the row, when a number lies outside what it can be.
    """
    row = house.table("letter")["limits"]
    limits = LetterLimits(**row)
    for name in ("strengths_max", "findings_max", "views_max", "retakes_max"):
        if getattr(limits, name) < 1:
            raise ValueError(f"letter.limits.{name} must be 1 or more, got {getattr(limits, name)}")
    for name in ("strength_share", "sure_from"):
        if not 0 <= getattr(limits, name) <= 1:
            raise ValueError(f"letter.limits.{name} must lie between 0 and 1, got {getattr(limits, name)}")
    return limits


def read_least_trainees(house: House) -> int:
    """Return in the studies of how many trainees a wrong setting must be a habit to be told to their practice.

    Raises
    ------
    ValueError
        Naming the row, when it is no whole number of 2 or more.
    """
    least: object = house.table("letter")["practice"]["trainees_min"]
    if isinstance(least, bool) or not isinstance(least, int) or least < 2:
        raise ValueError(f"letter.practice.trainees_min must be a whole number of 2 or more, got {least!r}")
    return least


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
