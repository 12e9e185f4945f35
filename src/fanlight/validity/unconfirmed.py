"""Numbers of the engine's own calipers that papers may name before anybody confirmed them.

A quantity is here once each ring of its table in docs/picture-values.md holds: off by no more (RMS) than that page
tolerates, nine tenths inside the stated 95 % band, no more than two in a hundred confident and wrong (engineering
judgement); of LA:Ao by both conventions, since stages hang on it. The rings that nothing was tuned on can only take a
quantity away. The table takes the view as given: of a view that was only recognised, no number is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.units import UnitError, convert_unit, say_value
from fanlight.study import (
    ENGINE,
    ClipReading,
    House,
    IntervalReading,
    Measurement,
    ReferenceKind,
    Study,
    Unconfirmed,
    ViewSource,
)
from fanlight.validity.meaning.inputs import told_of
from fanlight.validity.meaning.others import against_ours
from fanlight.validity.measured import is_bound

HELD = ("lvidd", "fractional_shortening", "ivsd", "ivss", "lvwd")
_FOUND = "found by the network"  # as `measure.picture` writes how it was taken
_WITHIN_95 = 1.96  # standard deviations: 95 % of a normal distribution


def find_unconfirmed(
    study: Study, readings: Iterable[ClipReading], measurements: Iterable[Measurement], house: House
) -> Unconfirmed:
    """Return the numbers of the engine's calipers that papers may name, and what is to be measured again.

    Parameters
    ----------
    study : Study
    readings : iterable of ClipReading
        With the views that hold.
    measurements : iterable of Measurement
        All of the study. What a person marked on a clip stands in place of the engine's own there.
    house : House
        How far two readers differ, and units.
    """
    listed = tuple(measurements)
    named = {item.clip.name for item in readings if item.view.view and item.view.source is not ViewSource.RECOGNISED}
    by_hand = {(item.name, item.clip) for item in listed if item.given_by == GIVEN_BY and item.value is not None}
    numbers = tuple(
        item
        for item in listed
        if _is_found(item) and item.rank <= 1 and item.clip in named and (item.name, item.clip) not in by_hand
    )
    sure = tuple(item for item in numbers if not is_bound(item))
    kept = tuple(item for item in listed if item.kept and item.name in HELD and item.value is not None)
    given = (item for item in listed if item.given_by not in (ENGINE, GIVEN_BY))
    told = told_of(study, house, (*given, *sure, *(item for item in kept if not is_bound(item))))
    apart = (f"{item.words}{f' Likely: {item.likely}.' if item.likely else ''}" for item in against_ours(told))
    return Unconfirmed(numbers=numbers, look_again=(*apart, *(words for item in sure for words in _near(item))))


def _is_found(item: Measurement) -> bool:
    return item.given_by == ENGINE and item.name in HELD and item.value is not None and _FOUND in item.method


def _near(item: Measurement) -> Iterator[str]:
    """Yield that the first published interval has a limit within the number's error, where it has."""
    reading = next(
        (each for each in item.readings if each.applies and each.kind is ReferenceKind.REFERENCE_INTERVAL), None
    )
    if reading is None or item.value is None or item.uncertainty is None:
        return
    for limit in (reading.lower, reading.upper):
        if limit is not None and _reaches(item, limit, reading):
            yield (
                f"{item.label}: the engine's {say_value(item.value, item.unit)} ± "
                f"{say_value(item.uncertainty, item.unit)} ({item.clip}) reaches over a limit of the interval, "
                f"{say_value(limit, reading.unit)} ({reading.citation}): on which side it lies cannot be told."
            )


def _reaches(item: Measurement, limit: float, reading: IntervalReading) -> bool:
    assert item.value is not None
    assert item.uncertainty is not None
    try:
        there = convert_unit(limit, reading.unit, item.unit)
    except UnitError:
        return False
    return abs(item.value - there) <= _WITHIN_95 * item.uncertainty
