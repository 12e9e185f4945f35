"""What each measured number stands on, and what it is worth where that fails: rows of validity.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from typing import Any

from fanlight.reference.criteria import read_criteria
from fanlight.study import Basis, House

_KEYS = {"measurements", "stands_on", "not_judged", "basis", "summary"}
_OPTIONAL = {"taken_from", "not_judged_beside_guide"}
_LISTS = ("by_hand", "kept", "engine")
_WHERE = " in "  # "lvids in *short_axis*": in these views only


class TakenFrom(StrEnum):
    """What a number was measured on."""

    STRIP = "strip"  # an M-mode or a spectrum
    PICTURE = "picture"


class Effect(StrEnum):
    """What a missed criterion does to a number, the gravest first."""

    REFUSE = "refuse"
    AT_LEAST = "at least"
    AT_MOST = "at most"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class InSummary:
    """Which numbers of a row the clinical summary gives: names, each alone or with " in " and its views."""

    by_hand: tuple[str, ...] = ()  # of marks that a person set
    kept: tuple[str, ...] = ()  # of marks that a person kept where the engine proposed them
    engine: tuple[str, ...] = ()  # of strips that the engine read: named as not confirmed
    engine_when: str = ""  # words of the method, without which the engine's stay out

    def has(self, listed: tuple[str, ...], name: str, view: str) -> bool:
        """Whether a number of this name, taken in this view, is one of a list of these."""
        parts = (entry.partition(_WHERE) for entry in listed)
        return any(fnmatchcase(name, what) and (not where or fnmatchcase(view, where)) for what, _, where in parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the numbers of one row stand on."""

    key: str
    measurements: tuple[str, ...]  # keys of values; * stands for any letters
    stands_on: tuple[tuple[str, Effect], ...]  # by criterion
    not_judged: str  # what no criterion looks at; ""
    basis: Basis
    summary: InSummary  # what stands in the clinical summary; all else on the study sheet only
    taken_from: TakenFrom | None = None  # None: either
    not_judged_beside_guide: str = ""  # of an M-mode, what is left where its cursor was seen on the guide; "": the same

    def fits(self, name: str) -> bool:
        """Whether a value of this name is one of them."""
        return any(fnmatchcase(name, pattern) for pattern in self.measurements)


def read_standings(house: House) -> tuple[Standing, ...]:
    """Return the rows in the table's order: of several that fit a number the first counts.

    Raises
    ------
    ValueError
        Naming the row, when a key is missing or unknown, or a criterion or an effect is not one.
    """
    return house.kept("validity", _all_standings)


def _all_standings(house: House) -> tuple[Standing, ...]:
    known = read_criteria(house)
    return tuple(_row(key, row, known) for key, row in house.table("validity").items())


def _row(key: str, row: Mapping[str, Any], known: Mapping[str, object]) -> Standing:
    where = f"validity.{key}"
    if set(row) - _OPTIONAL != _KEYS:
        raise ValueError(f"{where} needs {', '.join(sorted(_KEYS))}; it has {', '.join(sorted(row))}")
    if not row["measurements"]:
        raise ValueError(f"{where}.measurements is empty; name at least one value")
    if not isinstance(row["stands_on"], Mapping):
        raise ValueError(f"{where}.stands_on must be a table of criteria and effects, got {row['stands_on']!r}")
    for criterion in row["stands_on"]:
        if criterion not in known:
            raise ValueError(f"{where}.stands_on: no criterion {criterion!r}")
    try:
        stands_on = tuple((criterion, Effect(effect)) for criterion, effect in row["stands_on"].items())
        basis = Basis(row["basis"])
    except ValueError as error:
        effects = ", ".join(f'"{item.value}"' for item in Effect)
        raise ValueError(f"{where}: {error}; effects are {effects}") from error
    taken_from = row.get("taken_from", "")
    if taken_from and taken_from not in {item.value for item in TakenFrom}:
        raise ValueError(f"{where}.taken_from must be {' or '.join(TakenFrom)}, or left out; got {taken_from!r}")
    return Standing(
        key=key, measurements=tuple(row["measurements"]), stands_on=stands_on, not_judged=row["not_judged"],
        basis=basis, summary=_in_summary(row, where), taken_from=TakenFrom(taken_from) if taken_from else None,
        not_judged_beside_guide=row.get("not_judged_beside_guide", ""),
    )  # fmt: skip


def _in_summary(row: Mapping[str, Any], where: str) -> InSummary:
    given = row["summary"]
    if not isinstance(given, Mapping) or set(given) - {*_LISTS, "engine_when"}:
        raise ValueError(f"{where}.summary must be a table of {', '.join(_LISTS)} and engine_when, got {given!r}")
    lists = {key: tuple(given.get(key, ())) for key in _LISTS}
    for entry in (entry for listed in lists.values() for entry in listed):
        name = entry.partition(_WHERE)[0]
        if not any(fnmatchcase(name, pattern) for pattern in row["measurements"]):
            raise ValueError(f"{where}.summary names {name!r}, which is none of {', '.join(row['measurements'])}")
    return InSummary(**lists, engine_when=given.get("engine_when", ""))
