"""Numbers that the engine took by itself and that papers may name before anybody confirmed them.

Calipers on the network's masks:

A quantity is here once each ring of its table in docs/picture-values.md holds: off by no more (RMS) than that page
tolerates, nine tenths inside the stated 95 % band, no more than two in a hundred confident and wrong (engineering
judgement); of LA:Ao by both conventions, since stages hang on it. The rings that nothing was tuned on can only take a
quantity away. The table takes the view as given: of a view that was only recognised, no number is named.
Of strips that the engine read: what the rows of validity.toml list under `engine`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.methods import match_method
from fanlight.reference.repeatability import NOT_APART, RepeatSpread, repeat_spread
from fanlight.reference.units import UnitError, convert_unit, say_value
from fanlight.reference.validity import Standing, TakenFrom, read_standings
from fanlight.study import (
    ENGINE,
    SPECTRA,
    ClipReading,
    House,
    IntervalReading,
    Measurement,
    Mode,
    ReferenceKind,
    Study,
    Unconfirmed,
    ViewSource,
)
from fanlight.validity.meaning.inputs import told_of
from fanlight.validity.meaning.others import against_ours
from fanlight.validity.measured import is_bound, standing_of

HELD = ("lvidd", "fractional_shortening", "ivsd", "ivss", "lvwd")
_FOUND = "found by the network"  # as `measure.picture` writes how it was taken
_WITHIN_95 = 1.96  # standard deviations: 95 % of a normal distribution


def find_unconfirmed(
    study: Study, readings: Iterable[ClipReading], measurements: Iterable[Measurement], house: House
) -> Unconfirmed:
    """Return the numbers of the engine that papers may name, and which the letter asks to measure again.

    Parameters
    ----------
    study : Study
    readings : iterable of ClipReading
        With the views that hold.
    measurements : iterable of Measurement
        All of the study. What a person marked on a clip stands in place of the engine's own there.
    house : House
        How far two readers differ, units, and what stands in the summary.

    Notes
    -----
    Only calipers on masks speak in the letter: a strip's numbers are held against the trainee's by `against_ours`.
    """
    listed = tuple(measurements)
    named = {item.clip.name: item for item in readings if _is_named(item)}
    by_hand = {(item.name, item.clip) for item in listed if item.given_by == GIVEN_BY and item.value is not None}
    standings = read_standings(house)
    numbers = tuple(
        item
        for item in listed
        if item.given_by == ENGINE
        and item.value is not None
        and item.rank <= 1
        and (item.name, item.clip) not in by_hand
        if item.clip in named and (_is_held(item) or _is_read(item, named[item.clip], standings))
    )
    sure = tuple(item for item in numbers if is_laid(item) and not is_bound(item))
    kept = tuple(item for item in listed if item.kept and item.name in HELD and item.value is not None)
    given = (item for item in listed if item.given_by not in (ENGINE, GIVEN_BY))
    told = told_of(study, house, (*given, *sure, *(item for item in kept if not is_bound(item))))
    apart = (f"{item.words}{f' Likely: {item.likely}.' if item.likely else ''}" for item in against_ours(told))
    near = (
        words
        for item in sure
        for words in (
            *_near(item, repeat_spread(house, item.name, study.patient, match_method(house, item.method))),
            *_near_treatment(item),
        )
    )
    return Unconfirmed(numbers=numbers, look_again=(*apart, *near))


def is_laid(item: Measurement) -> bool:
    """Whether a number is of calipers that the engine laid on the network's masks."""
    return item.given_by == ENGINE and _FOUND in item.method


def _is_named(item: ClipReading) -> bool:
    return bool(item.view.view or item.view.valve) and item.view.source is not ViewSource.RECOGNISED


def _is_held(item: Measurement) -> bool:
    return is_laid(item) and item.name in HELD


def _is_read(item: Measurement, clip: ClipReading, standings: tuple[Standing, ...]) -> bool:
    """Whether a number was read off a strip, and the house lets such numbers into the summary."""
    if clip.mode.mode is not Mode.M_MODE and clip.mode.mode not in SPECTRA:
        return False
    row = standing_of(item.name, (each for each in standings if each.taken_from in (None, TakenFrom.STRIP)))
    if row is None or not row.summary.has(row.summary.engine, item.name, clip.view.view):
        return False
    return row.summary.engine_when in item.method


def _near(item: Measurement, spread: RepeatSpread | None) -> Iterator[str]:
    """Yield that the first published interval has a limit within the number's own error, where it has.

    What a repeat scan adds does not bring a number here: of some diameters it is wider than the interval, and every
    number would be asked for again. It is said beside the limit, or the number's own error where that is larger.
    """
    reading = next(
        (each for each in item.readings if each.applies and each.kind is ReferenceKind.REFERENCE_INTERVAL), None
    )
    if reading is None or item.value is None or item.uncertainty is None:
        return
    for limit in (reading.lower, reading.upper):
        if limit is not None and _reaches(item, limit, reading):
            yield (
                f"{_named(item)} lies at a limit of the interval, {say_value(limit, reading.unit)} "
                f"({reading.citation}): on which side it lies cannot be told. {_scatter(item, limit, reading, spread)}"
            )


def _scatter(item: Measurement, limit: float, reading: IntervalReading, spread: RepeatSpread | None) -> str:
    """Return how far a number beside a limit scatters: by a repeat scan or its own error, whichever reaches farther.

    The limit lies within the number's own error, and so within the larger of the two: no side is ever told.
    """
    assert item.value is not None
    assert item.uncertainty is not None
    if spread is None:
        own = say_value(item.uncertainty, item.unit)
        return f"Its own error is ± {own}; how far a repeat scan would scatter is not in the tables."
    low, high = spread.band(item.value)
    who, source = "Repeat scans scatter about it", spread.source_words
    own_half = _WITHIN_95 * item.uncertainty
    if own_half > high - item.value:
        low, high = item.value - own_half, item.value + own_half
        who, source = "By its own error it lies", f"repeat scans scatter less: {source}"
    bare = say_value(low, item.unit).split(" ")[0]
    there = say_value(convert_unit(limit, reading.unit, item.unit), item.unit)
    return (
        f"{who} from {bare} to {say_value(high, item.unit)} (95 %; {source}): "
        f"{say_value(item.value, item.unit)} and the limit of {there} {NOT_APART}."
    )


def _near_treatment(item: Measurement) -> Iterator[str]:
    """Yield that a limit on which something hangs, where it speaks, lies within the band of a repeat scan."""
    told = (each for each in item.readings if each.applies and NOT_APART in each.repeat_words)
    yield from (f"{_named(item)}. {each.repeat_words} The limit is of {each.citation}." for each in told)


def _named(item: Measurement) -> str:
    assert item.value is not None
    return f"{item.label}: the engine's {say_value(item.value, item.unit)} ({item.clip})"


def _reaches(item: Measurement, limit: float, reading: IntervalReading) -> bool:
    assert item.value is not None
    assert item.uncertainty is not None
    try:
        there = convert_unit(limit, reading.unit, item.unit)
    except UnitError:
        return False
    return abs(item.value - there) <= _WITHIN_95 * item.uncertainty
