"""How far a value scatters when a heart is scanned again: published re-acquisition variability, never our own error."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.bibliography import read_bibliography
from fanlight.reference.breeds import match_breed
from fanlight.reference.formulas.agreement import smallest_change
from fanlight.reference.interval_limits import Limits, place
from fanlight.reference.interval_rows import IntervalRow, read_intervals
from fanlight.reference.methods import TakenBy
from fanlight.reference.units import say_value
from fanlight.study import House, Patient, ReferenceKind

NOT_APART = "cannot be told apart"  # said of a value and a limit that a repeat scan may put on either side
_WITHIN_95 = 1.96  # standard deviations: 95 % of a normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSpread:
    """The spread of repeated scans of one heart, from one source."""

    cv_percent: float
    what: str  # what was repeated, as the source says it
    animals: str  # "9 dogs"; "" where the source does not say how many
    citation: str
    short: str  # of the citation
    is_sure: bool  # False: the technique of the value was not stated, and the source holds for one only

    def band(self, value: float) -> tuple[float, float]:
        """Return within which values 95 % of further scans lie if this one hit their mean; in the unit of the value."""
        half = _WITHIN_95 * self.cv_percent / 100 * abs(value)
        return value - half, value + half

    def coefficient(self, one: float, other: float) -> float:
        """Return the change between two scans that repeating alone exceeds in 5 % of cases (2.77 SD)."""
        return smallest_change(self.cv_percent, (abs(one) + abs(other)) / 2)

    @property
    def source_words(self) -> str:
        """Where the spread comes from: "CV 12.5 %, 9 dogs, Hsue and others 2020"."""
        doubt = "" if self.is_sure else "technique not stated"
        return ", ".join(part for part in (f"CV {self.cv_percent:g} %", self.animals, self.short, doubt) if part)


def _speaks(row: IntervalRow, quantity: str, patient: Patient, breeds: frozenset[str]) -> bool:
    return (
        row.kind is ReferenceKind.REPEATABILITY
        and quantity in row.quantities
        and row.species is patient.species
        and not row.flag("part", False)  # breathing, or the choice of the frame, is not the whole spread
        and (not row.breeds or bool(breeds.intersection(row.breeds)))
    )


def _fits(row: IntervalRow, taken: TakenBy) -> bool:
    pairs = ((row.technique, taken.technique), (row.phase, taken.phase))
    return all(not wanted or not stated or bool(set(wanted) & set(stated)) for wanted, stated in pairs)


def repeat_spread(house: House, quantity: str, patient: Patient, taken: TakenBy) -> RepeatSpread | None:
    """Return the published spread of a repeat scan, None where the tables have none for this value.

    Parameters
    ----------
    house : House
        Tables "intervals" and "bibliography".
    quantity : str
        Key of the quantity.
    patient : Patient
        Species and breed; without the species there is none.
    taken : TakenBy
        How the value was taken. Where that is not stated, a source for one technique is used with that doubt.

    Notes
    -----
    Of several sources the first by the table's order counts, of equals the larger spread: the cautious one. Rows of a
    part of the spread (breathing, choice of the frame, two readers of one picture) never count.
    """
    breeds = frozenset(breed.key for breed in match_breed(house, patient.breed, patient.species))
    known = read_intervals(house).values()
    fitting = [row for row in known if _speaks(row, quantity, patient, breeds) and _fits(row, taken)]
    if not fitting:
        return None
    row = min(fitting, key=lambda item: (item.order, -(item.number("cv_percent") or 0.0)))
    return RepeatSpread(
        cv_percent=row.number("cv_percent") or 0.0,
        what=row.detail("what"),
        animals=f"{row.n} {row.species.value}s" if row.n else "",
        citation=row.citation,
        short=read_bibliography(house)[row.citation].short,
        is_sure=not row.technique or bool(set(row.technique) & set(taken.technique)),
    )


def straddles(band: tuple[float, float], limits: Limits) -> bool:
    """Whether a band reaches to both sides of a limit."""
    return any(limit is not None and band[0] < limit < band[1] for limit in (limits.lower, limits.upper))


def say_repeat(value: float, unit: str, limits: Limits, spread: RepeatSpread) -> str:
    """Return what the spread of a repeat scan says of a value and a limit, both in `unit`."""
    low, high = spread.band(value)
    bare = say_value(low, unit).split(" ")[0]
    scatter = f"Repeat scans scatter about it from {bare} to {say_value(high, unit)} (95 %; {spread.source_words})"
    limit = limits.upper if limits.upper is not None else limits.lower
    if limit is None:
        return f"{scatter}."
    if straddles((low, high), limits):
        return f"{scatter}: {say_value(value, unit)} and the limit of {say_value(limit, unit)} {NOT_APART}."
    side = "short of" if place(value, limits) == "inside" else "beyond"
    return f"{scatter}, all {side} the limit of {say_value(limit, unit)}."
