"""Change since an earlier visit: told only beyond what a repeat scan of the same heart may differ."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fanlight.reference.methods import match_method
from fanlight.reference.quantities import read_quantities
from fanlight.reference.repeatability import repeat_spread
from fanlight.reference.units import convert_unit, say_value
from fanlight.study import EarlierValue, House, Identity, Measurement, Remark
from fanlight.validity.meaning.inputs import Input, Told, best_of, caliper_way, pick


class _Group(StrEnum):
    """What numbers of one earlier visit are told together, and how."""

    BEYOND = "Changed since {day} beyond what a repeat scan may differ by"
    NOT_BEYOND = "No change since {day} that can be told from a repeat scan"
    NO_SPREAD = "Not judged against {day}, since how far repeat scans scatter is not in the tables"
    OTHER_WAY = "Not compared with {day}, since taken in different ways"
    NOT_AGAIN = "Measured on {day} and not again"
    NOT_BEFORE = "Not compared with {day}, which is no earlier day than this examination's"
    OTHER_ANIMAL = "Not compared with {day}, since the animal has another name or number there"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One number of an earlier visit."""

    group: _Group
    day: str
    words: str
    sheet_only: bool
    citation: str = ""


def changes(told: Told) -> tuple[Remark, ...]:
    """Return a remark for each group of numbers of an earlier visit, those that changed first."""
    listed = sorted(told.request.earlier, key=lambda item: item.examined_on)
    found: dict[tuple[str, _Group, bool], list[_Told]] = {}
    for item in (_compared(told, earlier) for earlier in listed):
        found.setdefault((item.day, item.group, item.sheet_only), []).append(item)
    order = list(_Group)
    return tuple(
        Remark(
            kind="change",
            words=f"{group.value.format(day=day)}: {'; '.join(item.words for item in items)}.",
            citation=", ".join(dict.fromkeys(item.citation for item in items if item.citation)),
            sheet_only=sheet_only,
        )
        for (day, group, sheet_only), items in sorted(found.items(), key=lambda pair: order.index(pair[0][1]))
    )


def earlier_values(
    measurements: Iterable[Measurement], house: House, identity: Identity, examined_on: date
) -> tuple[EarlierValue, ...]:
    """Return the numbers of an earlier review as they are held against this visit: one a quantity.

    Parameters
    ----------
    measurements : iterable of Measurement
        Of that review. A quantity's value is that of the giver who is believed first, the mean of several; bounds are
        left out.
    house : House
        Table "quantities".
    identity : Identity
        Of that review: another animal is compared with nothing.
    examined_on : date
        Of that visit.
    """
    listed = tuple(measurements)
    found = []
    for quantity in read_quantities(house).values():
        values = best_of(listed, quantity.key, quantity.unit)
        if values:
            item = values[0][0]
            mean = sum(value for _, value in values) / len(values)
            found.append(
                EarlierValue(
                    examined_on=examined_on, quantity=quantity.key, label=item.label, value=mean, unit=quantity.unit,
                    method=item.method, animal_name=identity.animal_name, case_number=identity.case_number,
                    sheet_only=item.sheet_only,
                )
            )  # fmt: skip
    return tuple(found)


def _compared(told: Told, earlier: EarlierValue) -> _Told:
    """Return what is said of one number of an earlier visit."""
    unit = told.units[earlier.quantity]
    before = convert_unit(earlier.value, earlier.unit, unit)
    said = f"{told.symbols[earlier.quantity]} {say_value(before, unit)}"
    day = f"{earlier.examined_on.day} {earlier.examined_on:%B %Y}"
    if _is_of_another_animal(told.identity, earlier):
        return _Told(group=_Group.OTHER_ANIMAL, day=day, words=said, sheet_only=earlier.sheet_only)
    examined = told.identity.examined_at
    if examined is not None and earlier.examined_on >= examined.date():
        return _Told(group=_Group.NOT_BEFORE, day=day, words=said, sheet_only=earlier.sheet_only)
    now = pick(told, earlier.quantity, unit)
    if now is None:
        return _Told(group=_Group.NOT_AGAIN, day=day, words=said, sheet_only=earlier.sheet_only)
    group, more, citation = _judged(told, earlier, before, now)
    return _Told(
        group=group, day=day, words=f"{said}, now {say_value(now.value, unit)}{more}", citation=citation,
        sheet_only=now.sheet_only or earlier.sheet_only,
    )  # fmt: skip


def _judged(told: Told, earlier: EarlierValue, before: float, now: Input) -> tuple[_Group, str, str]:
    """Return the group of a number that was measured again, by how much a repeat scan may differ, and its source."""
    then, today = match_method(told.house, earlier.method), match_method(told.house, now.method)
    if then.technique and today.technique and not set(then.technique) & set(today.technique):
        return _Group.OTHER_WAY, "", ""
    if caliper_way(f"{earlier.label} {earlier.method}") != caliper_way(f"{now.words} {now.method}"):
        return _Group.OTHER_WAY, "", ""  # caliper conventions are never mixed in one series
    spread = repeat_spread(told.house, earlier.quantity, told.patient, today)
    if spread is None:
        return _Group.NO_SPREAD, "", ""
    least = spread.coefficient(before, now.value)
    group = _Group.BEYOND if abs(now.value - before) > least else _Group.NOT_BEYOND
    doubt = "" if spread.is_sure else ", technique not stated"
    return group, f" ({say_value(least, now.unit)}, CV {spread.cv_percent:g} %{doubt})", spread.citation


def _is_of_another_animal(identity: Identity, earlier: EarlierValue) -> bool:
    """Whether both visits state a name or a case number, and it differs."""
    pairs = ((identity.animal_name, earlier.animal_name), (identity.case_number, earlier.case_number))
    return any(one and other and one.strip().lower() != other.strip().lower() for one, other in pairs)
