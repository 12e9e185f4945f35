"""Change since an earlier visit: told only beyond what a repeat scan of the same heart may differ."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from fanlight.reference.quantities import read_quantities
from fanlight.reference.units import say_value
from fanlight.study import EarlierValue, House, Identity, Measurement, Remark
from fanlight.validity.meaning.between_visits import Comparison, Group, say_day
from fanlight.validity.meaning.by_way import numbers_by_way
from fanlight.validity.meaning.inputs import TakenOn, Told


def change_remarks(told: Told, comparisons: Iterable[Comparison]) -> tuple[Remark, ...]:
    """Return a remark for each group of numbers of an earlier visit, those that changed first."""
    found: dict[tuple[str, Group, bool], list[Comparison]] = {}
    for item in _first_of_each(comparisons):
        found.setdefault((say_day(item.earlier), item.group, item.sheet_only), []).append(item)
    order = list(Group)
    return tuple(
        Remark(
            kind="change",
            words=f"{group.value.format(day=day)}: {'; '.join(_words(told, item) for item in items)}.",
            citation=", ".join(dict.fromkeys(item.spread.citation for item in items if item.spread is not None)),
            sheet_only=sheet_only,
        )
        for (day, group, sheet_only), items in sorted(found.items(), key=lambda pair: order.index(pair[0][1]))
    )


def _first_of_each(comparisons: Iterable[Comparison]) -> list[Comparison]:
    """Return of each quantity of a visit what was judged, else the first: rows say the rest."""
    by_quantity: dict[tuple[str, str], list[Comparison]] = {}
    for item in comparisons:
        by_quantity.setdefault((say_day(item.earlier), item.earlier.quantity), []).append(item)
    return [
        item for items in by_quantity.values() for item in ([each for each in items if each.is_judged] or items[:1])
    ]


def _words(told: Told, item: Comparison) -> str:
    """Return both numbers, and by how much a repeat scan may differ."""
    before = "no number" if item.before is None else say_value(item.before, item.unit)
    said = f"{told.symbols[item.earlier.quantity]} {before}"
    if item.group is Group.NOT_AGAIN and item.why:
        return f"{said} (now {item.why})"
    if item.now is None:
        return said
    if item.now.value is not None:
        said += f", now {say_value(item.now.value, item.unit)}"
    if item.group in (Group.OTHER_WAY, Group.NOT_HELD):
        return f"{said} ({item.why})"
    if item.spread is None or item.least is None:
        return said
    doubt = "" if item.spread.is_sure else ", technique not stated"
    return f"{said} ({say_value(item.least, item.unit)}, CV {item.spread.cv_percent:g} %{doubt})"


def earlier_values(
    measurements: Iterable[Measurement],
    house: House,
    identity: Identity,
    examined_on: date,
    taken: Mapping[str, TakenOn] | None = None,
) -> tuple[EarlierValue, ...]:
    """Return the numbers of an earlier review as they are held against this visit: one a way of taking a quantity.

    Parameters
    ----------
    measurements : iterable of Measurement
        Of that review. A quantity's value is that of the giver who is believed first, the mean of several. A bound or
        a refusal says why it is compared with nothing, where no number holds that was taken alike.
    house : House
        Tables "quantities", "methods" and "views".
    identity : Identity
        Of that review: another animal is compared with nothing.
    examined_on : date
        Of that visit.
    taken : mapping of str to TakenOn, optional
        View and mode of its clips, by the name that measurements carry.
    """
    listed, on = tuple(measurements), taken or {}
    return tuple(
        EarlierValue(
            examined_on=examined_on, quantity=quantity.key, label=item.first.label, value=item.value,
            unit=quantity.unit, method=item.first.method, animal_name=identity.animal_name,
            case_number=identity.case_number, sheet_only=item.first.sheet_only,
            given_by=item.first.giver + (f", mean of {item.n}" if item.n > 1 else ""), view=item.way.view,
            mode=on.get(item.first.clip, TakenOn()).mode, not_held=item.not_held,
        )
        for quantity in read_quantities(house).values()
        for item in numbers_by_way(house, listed, quantity.key, quantity.unit, on)
    )  # fmt: skip
