"""Values held against the reference tables: interval, z, or the reason why a row does not speak."""

from __future__ import annotations

import math
from dataclasses import replace

from fanlight.reference.bibliography import read_bibliography
from fanlight.reference.interval_case import Case, is_about_another_animal, make_case, why_silent
from fanlight.reference.interval_limits import Limits, needs_weight, place, work_out_limits, z_score
from fanlight.reference.interval_rows import IntervalRow, RefusedRow, read_intervals, read_refused
from fanlight.reference.interval_words import say_band, say_group, say_interval, say_limit, say_silence
from fanlight.reference.quantities import match_quantity, read_quantities
from fanlight.reference.repeatability import RepeatSpread, repeat_spread, say_repeat
from fanlight.reference.units import UnitError, convert_unit
from fanlight.study import House, IntervalReading, Patient, ReferenceKind, Request

# Limits on which a stage, a diagnosis or a treatment may hang: beside them stands what a repeat scan may give.
_HANGS_ON = (ReferenceKind.STAGING_CRITERION, ReferenceKind.DISEASE_DEFINITION, ReferenceKind.DIAGNOSTIC_CUTOFF)

__all__ = ["IntervalRow", "RefusedRow", "read_intervals", "read_refused", "weigh", "why_none"]


def _row_unit(row: IntervalRow, case: Case) -> str:
    """Return the unit of the row's limits for this quantity: an index limit has two."""
    if row.form == "index_limit" and case.quantity.key == row.detail("index_quantity"):
        return case.quantity.unit
    return row.unit


def _percentile_place(value: float, weight_kg: float, row: IntervalRow, curves: tuple[IntervalRow, ...]) -> str:
    """Say between which published percentile curves a value lies."""
    levels = sorted(
        (curve.number("percentile") or 0.0, work_out_limits(curve, row.quantities[0], weight_kg).centre or 0.0)
        for curve in curves
    )
    if not levels:
        return ""
    under = [percentile for percentile, level in levels if level <= value]
    over = [percentile for percentile, level in levels if level > value]
    if not under:
        return f" It lies below the {levels[0][0]:g}th percentile."
    if not over:
        return f" It lies at or above the {levels[-1][0]:g}th percentile."
    return f" It lies between the {under[-1]:g}th and the {over[0]:g}th percentile."


def _in_unit(limits: Limits, unit: str, wanted: str) -> Limits:
    def turned(number: float | None) -> float | None:
        return None if number is None else convert_unit(number, unit, wanted)

    return replace(limits, lower=turned(limits.lower), upper=turned(limits.upper), centre=turned(limits.centre))


def _animal_words(row: IntervalRow, case: Case) -> str:
    weight = f" of {case.patient.weight_kg:g} kg" if needs_weight(row, case.quantity.key) else ""
    return f"{'an adult' if row.adult else 'a'} {row.species.value}{weight}"


def _with_repeat(
    reading: IntervalReading, limits: Limits, value: float, unit: str, spread: RepeatSpread | None
) -> IntervalReading:
    """Return a reading of a limit with the band of a repeat scan."""
    if spread is None:
        unknown = "How far a repeat scan would scatter is not in the tables for this value."
        return replace(reading, repeat_words=unknown)
    low, high = spread.band(value)
    return replace(
        reading, repeat_lower=low, repeat_upper=high, repeat_words=say_repeat(value, unit, limits, spread),
        repeat_citation=spread.citation
    )  # fmt: skip


def _read(
    row: IntervalRow, case: Case, curves: tuple[IntervalRow, ...], short: str, spread: RepeatSpread | None
) -> IntervalReading:
    """Hold one value against one row."""
    silence, doubts = why_silent(row, case)
    own_unit = _row_unit(row, case)
    blank = IntervalReading(row=row.key, citation=row.citation, kind=row.kind, applies=False, reason=silence.reason)
    if case.patient.species is None or row.kind is ReferenceKind.REPEATABILITY:
        return replace(blank, words=say_silence(silence.reason, None, "", ""))
    try:
        value = convert_unit(case.value, case.unit, own_unit)
    except UnitError as error:
        return replace(blank, reason=str(error), words=say_silence(str(error), None, "", ""))
    if own_unit == "m/s":
        value = abs(value)  # the sign of a velocity tells its direction on the screen
    if not (math.isfinite(value) and value > 0):
        wrong = f"the value must be a number above 0, got {case.value:g} {case.unit}".rstrip()
        return replace(blank, reason=wrong, words=say_silence(wrong, None, "", ""))
    # What is shown stays in the unit that was given; an index by weight, which comes as a bare number, in its own.
    unit = own_unit if not case.unit or own_unit.startswith("cm/kg^") else case.unit

    can_work_out = case.patient.weight_kg is not None or not needs_weight(row, case.quantity.key)
    limits = work_out_limits(row, case.quantity.key, case.patient.weight_kg) if can_work_out else None
    shown = _in_unit(limits, own_unit, unit) if limits is not None else None
    given = abs(case.value) if own_unit == "m/s" else case.value
    if silence.reason or limits is None or shown is None:
        # Limits are shown beside the reason only where something is not stated, never where the row is for others.
        is_interval = row.kind is ReferenceKind.REFERENCE_INTERVAL
        keep = shown if is_interval and silence.only_gaps else None
        return replace(
            blank,
            lower=keep.lower if keep else None,
            upper=keep.upper if keep else None,
            unit=unit if keep else "",
            words=say_silence(silence.reason, keep, unit, row.basis),
        )

    speaks = replace(blank, applies=True, reason=row.applies_when, unit=unit)
    if row.kind is ReferenceKind.OTHER_FACT:
        names = ("mean", "sd") if row.form == "group_mean" else ("median", "lowest", "highest")
        numbers = tuple(convert_unit(row.number(name) or 0.0, own_unit, unit) for name in names)
        return replace(speaks, words=say_group(row, unit=unit, short=short, doubts=doubts, numbers=numbers))

    named = case.list_titles(tuple(key for key in row.needs_named if key in case.named)) if row.needs_named else ""
    if row.kind is ReferenceKind.SEVERITY_BAND:
        step = row.number("rounded_to") or 1.0
        inside = place(round(value / step) * step, limits) == "inside"
        if not inside:
            elsewhere = f"the value lies outside the band {row.detail('grade')!r} of this scale"
            return replace(blank, reason=elsewhere, words=say_silence(elsewhere, None, "", ""))
        words = say_band(row, value=value, short=short, lesion=named)
        return replace(speaks, lower=shown.lower, upper=shown.upper, words=words)
    if row.kind is not ReferenceKind.REFERENCE_INTERVAL:
        words = say_limit(row, value=given, limits=shown, unit=unit, short=short, named=named, doubts=doubts)
        said = replace(speaks, lower=shown.lower, upper=shown.upper, words=words)
        return _with_repeat(said, shown, given, unit, spread) if row.kind in _HANGS_ON else said

    z = None
    if row.gives_z and not doubts and row.n >= case.z_needs_animals:
        z = z_score(value, limits, skewed=row.flag("skewed", False))
    percentiles = _percentile_place(value, case.patient.weight_kg or 0.0, row, curves) if curves else ""
    words = say_interval(
        row,
        value=given,
        limits=shown,
        unit=unit,
        short=short,
        animal=_animal_words(row, case),
        z=z,
        doubts=doubts,
        percentiles=percentiles,
    )
    return replace(speaks, lower=shown.lower, upper=shown.upper, z=z, words=words)


def _read_refused(row: RefusedRow) -> IntervalReading:
    """Say why a number that stands in print is not used."""
    reason = f"must not be used: {row.reason}"
    return IntervalReading(
        row=row.key,
        citation=row.citation,
        kind=row.kind,
        applies=False,
        reason=reason,
        words=f"not used: {row.reason} Needed: {row.needed}.",
    )


def weigh(
    house: House, quantity: str, value: float, unit: str, method: str, patient: Patient, request: Request
) -> tuple[IntervalReading, ...]:
    """Return what every reference row of this quantity says of a value, or why it does not speak.

    Only a reference interval says inside, above or below, and only one of enough adult animals gives z. Rows that
    stage, define, predict or grade a disease speak only where the request names that disease. Nothing is guessed:
    where weight, species, breed, age or method is needed and not stated, the row says so and stays silent.

    Parameters
    ----------
    house : House
        Tables "intervals", "quantities", "methods", "breeds", "diseases" and "bibliography".
    quantity : str
        Key of the quantity, or a label that names one ("LVIDd", "LA/Ao").
    value : float
        Value as it was given.
    unit : str
        Unit as it was written; a ratio may come without one.
    method : str
        How it was taken, in words ("M-mode", "2-D, early diastole"); "" when it is not stated.
    patient : Patient
        The animal.
    request : Request
        The request sheet; its `named_diseases`, and what the mentor `named`, decide which limits may speak. A band
        grades only once the mentor has named lesion, failure status and treatment.

    Returns
    -------
    tuple of IntervalReading
        Rows that speak first, the primary one at the front (the table's `order`), then those that stay silent,
        then those that must not be used.
        Limits are in the unit of the value. Rows for another species, or for another breed than the one stated,
        are left out. Empty when the tables have no row for the quantity.
    """
    quantities = read_quantities(house)
    key = quantity if quantity in quantities else match_quantity(house, quantity)
    if not key:
        return ()
    case = make_case(house, quantities[key], value, unit, method, patient, request)
    works = read_bibliography(house)
    rows = read_intervals(house)
    spread = repeat_spread(house, key, patient, case.taken)
    curves: dict[str, list[IntervalRow]] = {}
    for row in rows.values():
        curves.setdefault(row.curve_of, []).append(row)
    readings = [
        (row.order, _read(row, case, tuple(curves.get(row.key, ())), works[row.citation].short, spread))
        for row in rows.values()
        if key in row.quantities and not row.curve_of and not is_about_another_animal(row, case)
    ]
    readings.sort(key=lambda item: (not item[1].applies, item[0]))
    refused = (row for row in read_refused(house).values() if key in row.quantities)
    return tuple(reading for _, reading in readings) + tuple(
        _read_refused(row) for row in refused if patient.species in (None, row.species)
    )


def why_none(readings: tuple[IntervalReading, ...]) -> str:
    """Return one sentence that says why no reference interval speaks, or "" when one does.

    What is missing most often stands first, so that a request sheet can be mended in one go.
    """
    if any(reading.applies and reading.kind is ReferenceKind.REFERENCE_INTERVAL for reading in readings):
        return ""
    intervals = [reading for reading in readings if reading.kind is ReferenceKind.REFERENCE_INTERVAL]
    if not intervals:
        return "the tables have no reference interval for this value in this animal"
    return intervals[0].reason
