"""What the review.json of an earlier study advised, and how its criteria stood; of any version that wrote it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import StrEnum
from typing import Any, TypeVar

from fanlight.study import AdviceGiven, Mode, Shown, Side, Verdict, about_cause, about_criterion

_Word = TypeVar("_Word", bound=StrEnum)


def advice_of(parsed: dict[str, Any]) -> tuple[AdviceGiven, ...]:
    """Return what was advised; what was withheld was not, and what another version calls otherwise is passed over.

    Raises
    ------
    KeyError, TypeError
        When an entry is not built like one.
    """
    return (*_of_criteria(parsed.get("priorities", ())), *_of_causes(parsed))


def _of_criteria(priorities: Iterable[dict[str, Any]]) -> Iterator[AdviceGiven]:
    for item in priorities:
        side = _word(Side, item["side"])
        if item["correction"] and side is not None:
            yield AdviceGiven(
                about=about_criterion(item["criterion"], side), title=str(item["title"]),
                correction=str(item["correction"]), signs=((str(item["criterion"]), side),),
            )  # fmt: skip


def _of_causes(parsed: dict[str, Any]) -> Iterator[AdviceGiven]:
    sides = {
        (found["clip"], found["criterion"]): _word(Side, found["side"])
        for reading in parsed.get("readings", ())
        for found in reading["findings"]
    }
    explained = {item["cause"]: item["explains"] for item in parsed.get("causes", ())}
    for item in parsed.get("corrections", ()):
        signs = dict.fromkeys(
            (str(each["criterion"]), side)
            for each in explained.get(item["cause"], ())
            if (side := sides.get((each["clip"], each["criterion"]))) is not None
        )
        if item["correction"] and signs:
            yield AdviceGiven(
                about=about_cause(str(item["cause"])), title=str(item["title"]), correction=str(item["correction"]),
                signs=tuple(signs),
            )  # fmt: skip


def shown_of(parsed: dict[str, Any]) -> tuple[Shown, ...]:
    """Return how each criterion stood in each clip and in the study as a whole.

    Raises
    ------
    KeyError, TypeError, ValueError
        When a reading or finding is not built like one.
    """
    found = [
        _shown(item, _word(Mode, reading["mode"]["mode"]), str(reading["view"]["view"]))
        for reading in parsed.get("readings", ())
        for item in reading["findings"]
    ]
    found += [_shown(item, None, "") for item in parsed.get("study_findings", ())]
    return tuple(item for item in found if item is not None)


def _shown(item: dict[str, Any], mode: Mode | None, view: str) -> Shown | None:
    verdict, side = _word(Verdict, item["verdict"]), _word(Side, item["side"])
    if verdict is None or side is None:
        return None
    return Shown(
        criterion=str(item["criterion"]), mode=mode, view=view, verdict=verdict, side=side,
        confidence=float(item["confidence"]),
    )  # fmt: skip


def _word(kind: type[_Word], value: Any) -> _Word | None:
    """Return a word of a closed set; None for one that this version does not know."""
    return kind(value) if value in list(kind) else None
