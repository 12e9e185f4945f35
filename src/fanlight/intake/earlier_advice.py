"""What the review.json of an earlier study advised, and how its criteria stood; of any version that wrote it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any, TypeVar

from fanlight.study import AdviceGiven, Mode, Shown, Side, Verdict, about_cause, about_criterion

_Word = TypeVar("_Word", bound=StrEnum)
_T = TypeVar("_T")


def kept(entries: Any, place: str, read: Callable[[Any], _T], lost: list[str]) -> Iterator[_T]:
    """Yield what can be read of a list; of an entry that is broken its place and what is wrong goes to `lost`.

    Parameters
    ----------
    entries : list
        As it stands in the file; anything else is one broken entry.
    place : str
        What an entry of it is called, in words.
    read : callable
        Reads one entry.
    lost : list of str
        Grows.
    """
    if not isinstance(entries, list | tuple):
        lost.append(f"{place}s: no list")
        return
    for number, item in enumerate(entries, start=1):
        try:
            yield read(item)
        except KeyError as error:
            lost.append(f"{place} {number}: no field {error}")
        except (TypeError, ValueError, AttributeError) as error:
            lost.append(f"{place} {number}: {error}")


def advice_of(parsed: dict[str, Any], lost: list[str]) -> tuple[AdviceGiven, ...]:
    """Return what was advised; what was withheld was not, and what another version calls otherwise is passed over.

    Parameters
    ----------
    parsed : dict
        The whole file.
    lost : list of str
        Grows by each entry that is not built like one.
    """
    sides = _sides(parsed)
    explained = dict(
        kept(parsed.get("causes", ()), "cause", lambda item: (str(item["cause"]), list(item["explains"])), lost)
    )
    found = [
        *kept(parsed.get("priorities", ()), "point", _of_criterion, lost),
        *kept(parsed.get("corrections", ()), "change", lambda item: _of_cause(item, explained, sides), lost),
    ]
    return tuple(item for item in found if item is not None)


def _of_criterion(item: dict[str, Any]) -> AdviceGiven | None:
    side = _word(Side, item["side"])
    if not item["correction"] or side is None:
        return None
    return AdviceGiven(
        about=about_criterion(item["criterion"], side), title=str(item["title"]), correction=str(item["correction"]),
        signs=((str(item["criterion"]), side),),
    )  # fmt: skip


def _sides(parsed: dict[str, Any]) -> dict[tuple[str, str], Side | None]:
    """Return on which side each finding was missed; what is broken is named where findings are read."""

    def of_finding(found: dict[str, Any]) -> tuple[tuple[str, str], Side | None]:
        return (str(found["clip"]), str(found["criterion"])), _word(Side, found["side"])

    named_elsewhere: list[str] = []
    found = kept(parsed.get("readings", ()), "", lambda reading: reading["findings"], named_elsewhere)
    return {key: side for each in found for key, side in kept(each, "", of_finding, named_elsewhere)}


def _of_cause(
    item: dict[str, Any], explained: Mapping[str, Sequence[Any]], sides: Mapping[tuple[str, str], Side | None]
) -> AdviceGiven | None:
    cause = str(item["cause"])
    signs = dict.fromkeys(
        (str(each["criterion"]), side)
        for each in explained.get(cause, ())
        if (side := sides.get((str(each["clip"]), str(each["criterion"])))) is not None
    )
    if not item["correction"] or not signs:
        return None
    return AdviceGiven(
        about=about_cause(cause), title=str(item["title"]), correction=str(item["correction"]), signs=tuple(signs)
    )


def shown_of(parsed: dict[str, Any], lost: list[str]) -> tuple[Shown, ...]:
    """Return how each criterion stood in each clip and in the study as a whole.

    Parameters
    ----------
    parsed : dict
        The whole file.
    lost : list of str
        Grows by each reading or finding that is not built like one.
    """
    found: list[Shown | None] = []
    readings = kept(parsed.get("readings", ()), "reading", _place_of, lost)
    for number, mode, view, findings in readings:
        found += kept(findings, f"reading of clip {number}, finding", _shown_in(mode, view), lost)
    found += kept(parsed.get("study_findings", ()), "finding on the study", _shown_in(None, ""), lost)
    return tuple(item for item in found if item is not None)


def _place_of(reading: dict[str, Any]) -> tuple[Any, Mode | None, str, Any]:
    return (
        reading["clip"]["number"], _word(Mode, reading["mode"]["mode"]), str(reading["view"]["view"]),
        reading["findings"],
    )  # fmt: skip


def _shown_in(mode: Mode | None, view: str) -> Callable[[dict[str, Any]], Shown | None]:
    return lambda item: _shown(item, mode, view)


def _shown(item: dict[str, Any], mode: Mode | None, view: str) -> Shown | None:
    verdict, side = _word(Verdict, item["verdict"]), _word(Side, item["side"])
    confidence = float(item["confidence"])
    if verdict is None or side is None:
        return None
    return Shown(
        criterion=str(item["criterion"]), mode=mode, view=view, verdict=verdict, side=side, confidence=confidence
    )


def _word(kind: type[_Word], value: Any) -> _Word | None:
    """Return a word of a closed set; None for one that this version does not know."""
    return kind(value) if value in list(kind) else None
