"""Reader of where the probabilities of causes come from: shipped, or re-fitted from a group's own studies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from fanlight.reference.causes import AnimalFact, CauseRow, read_causes
from fanlight.study import House

_SETTINGS = {"shipped_worth_studies", "least_studies"}
_CLOSE = 1e-9  # of two spellings of one number (numerical)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitSettings:
    """House settings of re-fitting."""

    shipped_worth_studies: float  # for so many studies a shipped probability counts
    least_studies: int  # of fewer judged studies none is re-fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPrior:
    """A probability of a cause that was re-fitted, and what it rests on."""

    cause: str
    fact: AnimalFact | None  # what the request sheet says of the animals; None: of all others
    before: float
    low: float  # 95 % interval
    high: float
    n_studies: int
    n_named: int  # of these: the cause ran through the study, said before proposals were shown
    said: str  # origin, in words


def prior_key(cause: str, fact: AnimalFact | None) -> str:
    """Return the name of a probability in the table."""
    return cause if fact is None else f"{cause}:{fact.value}"


def prior_of(row: CauseRow, fact: AnimalFact | None) -> float:
    """Return how likely a cause is before anything was seen, for animals of which the sheet says this."""
    return row.before if fact is None else row.before_if[fact]


def fact_behind(row: CauseRow, known: frozenset[AnimalFact]) -> AnimalFact | None:
    """Return the fact that a cause's probability goes by for an animal: the likeliest; None: none that matters."""
    facts = [fact for fact in row.before_if if fact in known]
    return max(facts, key=lambda fact: row.before_if[fact], default=None)


def read_refit_settings(house: House) -> RefitSettings:
    """Return the settings of re-fitting.

    Raises
    ------
    ValueError
        Naming the row that is missing, unknown, or no number that it can be.
    """
    row = house.table("cause_priors")["settings"]
    if set(row) != _SETTINGS:
        raise ValueError(f"cause_priors.settings needs {', '.join(sorted(_SETTINGS))}; it has {', '.join(sorted(row))}")
    worth, least = row["shipped_worth_studies"], row["least_studies"]
    if not _is_number(worth) or not 0 < worth < math.inf:
        raise ValueError(f"cause_priors.settings.shipped_worth_studies must be a number above 0, got {worth!r}")
    if not isinstance(least, int) or isinstance(least, bool) or least < 1:
        raise ValueError(f"cause_priors.settings.least_studies must be a whole number of 1 or more, got {least!r}")
    return RefitSettings(shipped_worth_studies=float(worth), least_studies=least)


def read_cause_priors(house: House) -> dict[str, FittedPrior]:
    """Return the probabilities that were re-fitted, by `prior_key`; those that are not here are as shipped.

    Raises
    ------
    ValueError
        Naming the row: its cause or fact does not exist, its numbers do not fit together, or the probability that
        causes go by is another one.
    """
    read_refit_settings(house)
    rows = read_causes(house)
    return {key: _fitted(key, row, rows) for key, row in house.table("cause_priors")["fitted"].items()}


def _fitted(key: str, row: Mapping[str, Any], rows: Mapping[str, CauseRow]) -> FittedPrior:
    where = f'cause_priors.fitted."{key}"'
    wanted = {field.name for field in fields(FittedPrior)} - {"cause", "fact"}
    if set(row) != wanted:
        raise ValueError(f"{where} needs {', '.join(sorted(wanted))}; it has {', '.join(sorted(row))}")
    cause, fact = _named(key, where, rows)
    for name in ("before", "low", "high"):
        if not _is_number(row[name]) or not 0 <= row[name] <= 1:
            raise ValueError(f"{where}.{name} must lie between 0 and 1, got {row[name]!r}")
    for name in ("n_studies", "n_named"):
        if not isinstance(row[name], int) or isinstance(row[name], bool) or row[name] < 0:
            raise ValueError(f"{where}.{name} must be a whole number of 0 or more, got {row[name]!r}")
    if row["n_named"] > row["n_studies"]:
        raise ValueError(f"{where}: n_named must not lie above n_studies, got {row['n_named']} of {row['n_studies']}")
    if not row["low"] <= row["high"]:
        raise ValueError(f"{where}: low must not lie above high, got {row['low']} and {row['high']}")
    if not isinstance(row["said"], str) or not row["said"].strip():
        raise ValueError(f"{where}.said must say where it comes from, got {row['said']!r}")
    now = prior_of(rows[cause], fact)
    if not math.isclose(now, row["before"], abs_tol=_CLOSE):
        raise ValueError(
            f"{where}.before is {row['before']}, and causes go by {now}: take this row out, or keep both as "
            "fanlight priors wrote them"
        )
    return FittedPrior(cause=cause, fact=fact, **row)


def _named(key: str, where: str, rows: Mapping[str, CauseRow]) -> tuple[str, AnimalFact | None]:
    cause, _, fact = key.partition(":")
    if cause not in rows:
        raise ValueError(f"{where}: no cause {cause}")
    if not fact:
        return cause, None
    known = {item.value: item for item in rows[cause].before_if}
    if fact not in known:
        there = ", ".join(known) or "none"
        raise ValueError(f"{where}: {cause} goes by no fact {fact}; its facts are: {there}")
    return cause, known[fact]


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
