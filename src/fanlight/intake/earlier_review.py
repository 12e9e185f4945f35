"""The review of an earlier visit, as `fanlight review` wrote it: its date, its animal and its numbers."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from fanlight.intake.earlier_advice import advice_of, kept, shown_of
from fanlight.study import (
    MODE_WORDS,
    AdviceGiven,
    Identity,
    Kept,
    Measurement,
    Mode,
    Refusal,
    Shown,
    StudyRecord,
    count_standings,
)


class EarlierReviewError(ValueError):
    """A file cannot be used as the review of an earlier visit."""

    def __init__(self, name: str, found: str, remedy: str) -> None:
        self.name = name
        self.found = found
        super().__init__(f"{name}: expected the review.json of an earlier visit, found {found}. {remedy}")


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierReview:
    """What of an earlier review is held against this visit."""

    examined_on: date
    identity: Identity
    measurements: tuple[Measurement, ...]
    examined_at: datetime
    trainee: str = ""
    advice: tuple[AdviceGiven, ...] = ()
    shown: tuple[Shown, ...] = ()
    views: Mapping[str, str] = field(default_factory=dict)  # key of the view of each clip, by the clip's name
    modes: Mapping[str, str] = field(default_factory=dict)  # mode of each clip in words, by the clip's name
    refused: tuple[Refusal, ...] = ()  # entries of the file that are broken; only they are lost

    def record(self, sure_from: float) -> StudyRecord:
        """Return what this visit is held against the next study of its trainee by; findings from this confidence on."""
        return StudyRecord(
            examined_at=self.examined_at, trainee=self.trainee, practice=self.identity.practice, advice=self.advice,
            standings=count_standings(self.shown, sure_from),
        )  # fmt: skip


def read_earlier_review(data: bytes, name: str) -> EarlierReview:
    """Read a review.json, of this version or another: only the fields that are needed are looked at.

    A number, reading, finding or advice that is broken is named in `refused`, and all others are used.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        As the user knows it; stands in errors.

    Raises
    ------
    EarlierReviewError
        If it is no review, or does not say when the animal was examined.
    """
    other = "Name the review.json that a review wrote."
    try:
        parsed = json.loads(data)
        identity, sheet = parsed["study"]["identity"], parsed["study"].get("request", {})
        lost: list[str] = []
        measurements = _numbers(parsed["measurements"], lost)
        advice, shown = advice_of(parsed, lost), shown_of(parsed, lost)
        views, modes = _pictures(parsed)
        trainee = str(sheet.get("trainee", ""))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise EarlierReviewError(name, f"something else ({type(error).__name__}: {error})", other) from error
    try:
        examined = datetime.fromisoformat(identity["examined_at"])
    except (KeyError, TypeError, ValueError) as error:
        typed = "Type its numbers as [[earlier]] into the marks file, with the date."
        raise EarlierReviewError(name, "no date of examination", typed) from error
    return EarlierReview(
        examined_on=examined.date(),
        identity=Identity(
            animal_name=str(identity.get("animal_name", "")),
            case_number=str(identity.get("case_number", "")),
            practice=str(identity.get("practice", "")),
        ),
        measurements=measurements,
        examined_at=examined,
        trainee=trainee,
        advice=advice,
        shown=shown,
        views=views,
        modes=modes,
        refused=tuple(_lost(name, found) for found in lost),
    )


def _numbers(listed: Any, lost: list[str]) -> tuple[Measurement, ...]:
    """Return the numbers, and those that were refused; another measurement without one says by itself why."""
    if not isinstance(listed, list):
        raise TypeError("measurements are no list")
    found = kept(listed, "number", lambda item: _measurement(item) if _is_told(item) else None, lost)
    return tuple(item for item in found if item is not None and item.name)


def _pictures(parsed: dict[str, Any]) -> tuple[dict[str, str], dict[str, str]]:
    """Return view and mode of each clip; what is broken is named where findings are read."""

    def of_reading(item: dict[str, Any]) -> tuple[str, str, str]:
        mode = item["mode"]["mode"]
        words = MODE_WORDS[Mode(mode)] if mode in list(Mode) else ""
        return str(item["clip"]["name"]), str(item["view"]["view"]), words

    found = list(kept(parsed.get("readings", ()), "", of_reading, []))
    return {name: view for name, view, _ in found}, {name: mode for name, _, mode in found}


def _lost(name: str, found: str) -> Refusal:
    return Refusal(
        name=name, expected="a review.json as it was written", found=found,
        remedy="All else in the file was used; write that review again to have this too.",
    )  # fmt: skip


def _is_told(item: dict[str, Any]) -> bool:
    """Whether a number can be compared, or was refused: JSON readers take NaN, which is neither more nor less."""
    if item["value"] is None:
        return str(item.get("validity", "")).startswith("refused")
    return math.isfinite(float(item["value"]))


def _measurement(item: dict[str, Any]) -> Measurement:
    return Measurement(
        name=str(item["name"]),
        label=str(item["label"]),
        value=None if item["value"] is None else float(item["value"]),
        unit=str(item["unit"]),
        clip=str(item.get("clip", "")),
        method=str(item.get("method", "")),
        given_by=str(item.get("given_by", "")),
        kept=Kept(item["kept"]) if item.get("kept") in list(Kept) else Kept.NO,
        validity=str(item.get("validity", "")),
        rank=int(item.get("rank", 0)),
        sheet_only=bool(item.get("sheet_only", False)),
    )
