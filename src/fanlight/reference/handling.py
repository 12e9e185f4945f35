"""Which advice touches the animal, or moves the probe on it: told by its words, in every table alike."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from functools import lru_cache
from typing import Any

from fanlight.study import House, about_cause, about_criterion

_SIDES = ("low", "high")


class Reach(IntEnum):
    """How near advice comes to the animal; the nearer, the larger."""

    NONE = 0  # console, export, words
    MOVES = 1  # the probe where it lies: withheld while an animal fights for air
    TOUCHES = 2  # contact, pressure, another place, leads, the breath: given only when breathing is normal


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlingWords:
    """Words of the House by which handling is told."""

    touches: tuple[str, ...]
    moves: tuple[str, ...]
    otherwise: Mapping[str, str] = field(default_factory=dict)  # by "criterion:side": what can be said to anybody

    def reach(self, advice: str) -> Reach:
        """Return how near the words of an advice come to the animal.

        Examples
        --------
        >>> HandlingWords(touches=("gel", "press*"), moves=("slide",)).reach("Push the sliders up without pressing.")
        <Reach.TOUCHES: 2>
        """
        for words, reach in ((self.touches, Reach.TOUCHES), (self.moves, Reach.MOVES)):
            if words and _any_of(words).search(advice):
                return reach
        return Reach.NONE


@lru_cache(maxsize=8)
def _any_of(words: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile("|".join(map(_pattern, words)), re.IGNORECASE)


def _pattern(word: str) -> str:
    return rf"\b{re.escape(word.removesuffix('*'))}" + ("" if word.endswith("*") else r"\b")


def read_handling(house: House) -> HandlingWords:
    """Return the words by which handling is told; errors as `handling_words` raises them."""
    return house.kept("handling", _read_handling)


def _read_handling(house: House) -> HandlingWords:
    return handling_words(house.table("handling"))


def handling_words(table: Mapping[str, Any]) -> HandlingWords:
    """Return the words of the table "handling".

    Raises
    ------
    ValueError
        When a word is empty, or what can be said to anybody is handling itself.
    """
    words = HandlingWords(
        touches=tuple(table["touches"]), moves=tuple(table["moves"]), otherwise=dict(table["otherwise"])
    )
    if any(not isinstance(word, str) or not word.strip(" *") for word in (*words.touches, *words.moves)):
        raise ValueError("handling: touches and moves need words, got one that is empty or no text")
    for about, said in words.otherwise.items():
        if words.reach(said):
            raise ValueError(f"handling.otherwise.{about}: {said!r} is handling itself; keep what sits at the console")
    return words


def mark_handling(tables: Mapping[str, Any]) -> None:
    """Mark, in tables as they were read, each row whose advice touches the animal or moves the probe.

    A row that says so by itself stays marked whatever its words.

    Raises
    ------
    ValueError
        When "handling" speaks of advice that no row gives.
    """
    words = handling_words(tables["handling"])
    known = set()
    for key, side, row, advice in _advice_rows(tables):
        _mark(advice, words.reach(advice["correction"]))
        known.add(about := about_criterion(key, side))
        if about in words.otherwise and (advice.get("handling") or advice.get("moves")):
            advice["otherwise"] = words.otherwise[about]
        row["retake_reach"] = int(words.reach(row.get("retake", "")))
    for key, cause in tables["causes"]["causes"].items():
        if words.reach(cause.get("correction", "")) is Reach.TOUCHES:
            cause["handling"] = True
            cause.pop("undone_at_once", None)  # by a group's own words it is no mere setting any more
        known.add(about_cause(key))
    if unknown := sorted(set(words.otherwise) - known):
        raise ValueError(f"handling.otherwise.{unknown[0]}: no criterion or cause gives advice of this name")


def _mark(advice: dict[str, Any], reach: Reach) -> None:
    if reach is Reach.TOUCHES:
        advice["handling"] = True
    if reach is Reach.MOVES:
        advice["moves"] = True


def _advice_rows(tables: Mapping[str, Any]) -> Iterator[tuple[str, str, dict[str, Any], dict[str, Any]]]:
    """Yield each advice of the criteria: key, side, row, and the advice itself."""
    for name, table in tables.items():
        if name.startswith("criteria/"):
            for key, row in table.items():
                for side in _SIDES:
                    if side in row:
                        yield key, side, row, row[side]
