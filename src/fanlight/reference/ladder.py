"""Rules of the Doppler ladder, as the House states them."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import Basis, House


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRule:
    """One rule; `note` is the teaching note with {view}, {valve} and {clips} to be filled in."""

    key: str
    title: str
    says: str
    note: str
    basis: Basis


def read_ladder(house: House) -> dict[str, LadderRule]:
    """Return the rules by key; ValueError names the row that is incomplete."""
    rules: dict[str, LadderRule] = {}
    for key, row in house.table("ladder").items():
        try:
            rules[key] = LadderRule(key=key, **{**row, "basis": Basis(row["basis"])})
        except (KeyError, TypeError, ValueError) as error:
            raise ValueError(f"ladder.toml, row {key}: {error}") from error
    return rules
