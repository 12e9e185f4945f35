"""One number against that of an earlier visit: beyond what two scans of one heart differ by, or not, or no word."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import islice

from fanlight.reference.methods import TakenBy
from fanlight.reference.repeatability import RepeatSpread, repeat_spread
from fanlight.reference.units import UnitError, convert_unit, say_value
from fanlight.study import Change, Compared, EarlierValue, Identity, same_words
from fanlight.validity.meaning.by_way import NumberTaken, apart, numbers_by_way, way_of_earlier
from fanlight.validity.meaning.inputs import Told


class Group(StrEnum):
    """How a number stands to that of an earlier visit, and how several that stand alike are told together."""

    BEYOND = "Changed since {day} beyond what a repeat scan may differ by"
    NOT_BEYOND = "No change since {day} that can be told from a repeat scan"
    NO_SPREAD = "Not judged against {day}, since how far repeat scans scatter is not in the tables"
    OTHER_WAY = "Not compared with {day}, since taken in different ways"
    NOT_HELD = "Not compared with {day}, since one of the two does not hold"
    NOT_AGAIN = "Measured on {day} and not again"
    NOT_BEFORE = "Not compared with {day}, which is no earlier day than this examination's"
    OTHER_ANIMAL = "Not compared with {day}, since the animal has another name or number there"


_JUDGED = (Group.BEYOND, Group.NOT_BEYOND, Group.NO_SPREAD)
_NO_COEFFICIENT = "no published repeatability coefficient"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A number of an earlier visit, and what of this one it is held against."""

    earlier: EarlierValue
    group: Group
    unit: str  # of the tables
    before: float | None
    now: NumberTaken | None = None
    why: str = ""  # it is not compared
    least: float | None = None  # the repeatability coefficient
    spread: RepeatSpread | None = None

    @property
    def is_judged(self) -> bool:
        """Whether the two numbers hold and were taken alike."""
        return self.group in _JUDGED

    @property
    def sheet_only(self) -> bool:
        """Whether one of the two is kept off the clinical summary."""
        return self.earlier.sheet_only or (self.now is not None and self.now.first.sheet_only)


def compare(told: Told) -> tuple[Comparison, ...]:
    """Return how each number stands to those of earlier visits, the earliest visit first.

    Parameters
    ----------
    told : Told
        Its request holds the numbers of earlier visits.

    Notes
    -----
    Only numbers that hold at both visits are compared, each with one that was taken in the same way (`apart`). The
    coefficient is 2.77 times the within-scan standard deviation that was published for scans taken again, of the mean
    of both values (BA1986): changes that stay within it are met in 95 of 100 pairs of scans of an unchanged heart.
    """
    found: list[Comparison] = []
    for earlier in _visits(told.request.earlier):
        for quantity in dict.fromkeys(item.quantity for item in earlier):
            found += _of_quantity(told, [item for item in earlier if item.quantity == quantity])
    return tuple(found)


def changes_of_rows(comparisons: Iterable[Comparison]) -> tuple[Change, ...]:
    """Return what is said in the row of each number: of the newest visit that it can be judged against.

    A newer visit whose number does not hold, or was taken otherwise, is named too, and why it is passed over.
    """
    by_row: dict[int, list[Comparison]] = {}
    for item in comparisons:
        if item.now is not None:
            by_row.setdefault(id(item.now.first), []).append(item)
    return tuple(_change(item) for listed in by_row.values() for item in _newest(listed))


def say_day(item: EarlierValue) -> str:
    """Return the day of a visit: "1 March 2026"."""
    day = f"{item.examined_on.day} {item.examined_on:%B %Y}"
    return f"{day} (the day it was received)" if item.is_day_received else day


def _visits(values: Iterable[EarlierValue]) -> Iterator[list[EarlierValue]]:
    visits: dict[tuple[date, str, str], list[EarlierValue]] = {}
    for item in sorted(values, key=lambda each: each.examined_on):
        visits.setdefault((item.examined_on, item.animal_name, item.case_number), []).append(item)
    yield from visits.values()


def _of_quantity(told: Told, earlier: list[EarlierValue]) -> list[Comparison]:
    """Return the comparisons of one quantity with one visit."""
    first, unit = earlier[0], told.units[earlier[0].quantity]
    examined = told.identity.examined_at
    barred = None
    if _is_of_another_animal(told.identity, first):
        barred = Group.OTHER_ANIMAL
    elif examined is not None and first.examined_on >= examined.date():
        barred = Group.NOT_BEFORE
    today = numbers_by_way(told.house, told.measurements, first.quantity, unit, told.taken)
    held = [item for item in today if item.value is not None]
    if barred is not None or not held:
        group = barred or Group.NOT_AGAIN
        why = next((_bare(item.not_held) for item in today), "")
        some = [item for item in earlier if item.value is not None][:1]
        return [Comparison(earlier=item, group=group, unit=unit, before=_before(item, unit), why=why) for item in some]
    return [_against(told, earlier, item, unit) for item in held]


def _against(told: Told, earlier: list[EarlierValue], now: NumberTaken, unit: str) -> Comparison:
    """Return how one number stands to the one of that visit that comes nearest to how it was taken."""

    def order(item: EarlierValue) -> tuple[bool, bool, int]:
        return bool(item.not_held), item.sheet_only, -way_of_earlier(told.house, item).n_stated

    reasons = [apart(told.house, way_of_earlier(told.house, item), now.way) for item in earlier]
    alike = [item for item, why in zip(earlier, reasons, strict=True) if not why]
    then = min(alike, key=order) if alike else earlier[0]
    before = _before(then, unit)
    plain = Comparison(earlier=then, group=Group.OTHER_WAY, unit=unit, before=before, now=now, why=reasons[0])
    if not alike:
        return plain
    if then.not_held or before is None:
        return replace(plain, group=Group.NOT_HELD, why=f"then {_bare(then.not_held)}")
    if now.not_held or now.value is None:
        return replace(plain, group=Group.NOT_HELD, why=f"now {_bare(now.not_held)}")
    spread = _spread(told, then.quantity, (way_of_earlier(told.house, then).taken, now.way.taken))
    if spread is None:
        return replace(plain, group=Group.NO_SPREAD, why=_NO_COEFFICIENT)
    least = spread.coefficient(before, now.value)
    group = Group.BEYOND if abs(now.value - before) > least else Group.NOT_BEYOND
    return replace(plain, group=group, why="", least=least, spread=spread)


def _spread(told: Told, quantity: str, ways: Iterable[TakenBy]) -> RepeatSpread | None:
    """Return by how much repeat scans scatter; where one of two numbers does not say how it was taken, the larger."""
    found = [each for taken in ways if (each := repeat_spread(told.house, quantity, told.patient, taken)) is not None]
    if not found:
        return None
    return replace(max(found, key=lambda item: item.cv_percent), is_sure=all(item.is_sure for item in found))


def _before(item: EarlierValue, unit: str) -> float | None:
    if item.value is None:
        return None
    value = convert_unit(item.value, item.unit, unit)
    return abs(value) if unit == "m/s" else value


def _bare(validity: str) -> str:
    """Return the gravest of what makes a number none or a bound: "at least: the beam crosses the flow"."""
    return validity.split("; note: ")[0].rstrip(".")


def _is_of_another_animal(identity: Identity, earlier: EarlierValue) -> bool:
    """Whether both visits state a name or a case number, and it differs."""
    one, other = identity.case_number.strip().lower(), earlier.case_number.strip().lower()
    if one and other and one != other:
        return True
    names = identity.animal_name.strip(), earlier.animal_name.strip()
    return all(names) and not same_words(*names)


def _newest(listed: list[Comparison]) -> Iterator[Comparison]:
    """Yield the newest visit's comparison; where that judges nothing, or off the summary only, one that does too."""
    newest, *older = sorted(listed, key=lambda item: item.earlier.examined_on, reverse=True)
    yield newest
    if not newest.is_judged or newest.sheet_only:
        judged = (item for item in older if item.is_judged and (newest.is_judged <= (not item.sheet_only)))
        yield from islice(judged, 1)


def _change(item: Comparison) -> Change:
    assert item.now is not None
    row = item.now.first
    unit = _row_unit(item.unit, row.unit)
    before, now, least = (
        None if value is None else convert_unit(value, item.unit, unit)
        for value in (item.before, item.now.value, item.least)
    )
    told = {Group.BEYOND: Compared.BEYOND, Group.NOT_BEYOND: Compared.WITHIN}.get(item.group, Compared.NOT_COMPARED)
    return Change(
        quantity=row.name, label=row.label, given_by=row.given_by, clip=row.clip,
        examined_on=item.earlier.examined_on, told=told, before=before, now=now, unit=unit, least=least,
        words=_words(item, before, now, least, unit), citation=item.spread.citation if item.spread is not None else "",
        sheet_only=item.sheet_only,
    )  # fmt: skip


def _row_unit(unit: str, row: str) -> str:
    """Return the unit in which a row is written; an index by weight may be written bare."""
    try:
        convert_unit(1.0, unit, row)
    except UnitError:
        return unit
    return row


def _words(item: Comparison, before: float | None, now: float | None, least: float | None, unit: str) -> str:
    """Return the sentence of a row."""
    day = say_day(item.earlier)
    bound = f"{' '.join(item.earlier.not_held.split()[:2]).rstrip(':')} " if item.earlier.not_held else ""
    then = "no number" if before is None else f"{bound}{say_value(before, unit)}"
    giver = f" ({item.earlier.given_by})" if item.earlier.given_by else ""
    if item.spread is None or before is None or now is None or least is None:
        return f"{day}: {then}{giver}. Not compared: {item.why}."
    more = now - before
    moved = f"{'+' if more >= 0 else '−'}{say_value(abs(more), unit)} since"
    if item.now is not None and item.now.n > 1:
        moved += f" (now the mean of {item.now.n})"
    doubt = "" if item.spread.is_sure else ", technique not stated"
    coefficient = f"repeatability coefficient {say_value(least, unit)}: {item.spread.source_words}{doubt}"
    if item.group is Group.BEYOND:
        said = f"differs by more than 95 of 100 repeat scans of one heart do ({coefficient})"
    else:
        said = f"cannot be told from a repeat scan ({coefficient})"
    return f"{day}: {then}{giver}. {moved}: {said}."
