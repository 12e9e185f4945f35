"""Rules of the Doppler ladder, as the House states them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fanlight.study import Basis, House, Valve


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRule:
    """One rule; `note` is the teaching note with {view}, {valve}, {clips}, {said} and {gap} to be filled in.

    Attributes
    ----------
    gaps : mapping of str to str
        What may be wanting, in words, by the name that the rule's code gives it.
    least_beats : int
        That a spectrum must show.
    quantities : mapping of Valve to tuple of str
        Quantities of the tables that speak of a valve's jet.
    phrases : mapping of str to tuple of Valve
        What a reading says, and of which valves; none: of any.
    valve_words : mapping of Valve to tuple of str
        Words by which a sentence names a valve.
    """

    key: str
    title: str
    says: str
    note: str
    basis: Basis
    gaps: Mapping[str, str] = field(default_factory=dict)
    least_beats: int = 0
    quantities: Mapping[Valve, tuple[str, ...]] = field(default_factory=dict)
    phrases: Mapping[str, tuple[Valve, ...]] = field(default_factory=dict)
    valve_words: Mapping[Valve, tuple[str, ...]] = field(default_factory=dict)


def read_ladder(house: House) -> dict[str, LadderRule]:
    """Return the rules by key; ValueError names the row that is incomplete."""
    rules: dict[str, LadderRule] = {}
    for key, row in house.table("ladder").items():
        try:
            rules[key] = LadderRule(key=key, **_read(row))
        except (KeyError, TypeError, ValueError) as error:
            raise ValueError(f"ladder.toml, row {key}: {error}") from error
    return rules


def _read(row: Mapping[str, Any]) -> dict[str, Any]:
    read = {**row, "basis": Basis(row["basis"])}
    for name in ("quantities", "valve_words"):
        if name in row:
            read[name] = {Valve(valve): tuple(words) for valve, words in row[name].items()}
    if "phrases" in row:
        read["phrases"] = {phrase: tuple(Valve(valve) for valve in valves) for phrase, valves in row["phrases"].items()}
    return read
