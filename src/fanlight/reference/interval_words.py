"""What is said about a value and a reference row, in plain English."""

from __future__ import annotations

from fanlight.reference.interval_limits import Limits, place
from fanlight.reference.interval_rows import IntervalRow
from fanlight.reference.units import say_value
from fanlight.study import ReferenceKind


def _limits_words(limits: Limits, unit: str) -> str:
    if limits.lower is not None and limits.upper is not None:
        low = say_value(limits.lower, unit)
        bare = low.split(" ")[0] if " " in low else low
        return f"{bare} to {say_value(limits.upper, unit)}"
    if limits.upper is not None:
        return f"{'up to' if limits.upper_is_inside else 'below'} {say_value(limits.upper, unit)}"
    if limits.lower is not None:
        return f"{'from' if limits.lower_is_inside else 'above'} {say_value(limits.lower, unit)}"
    return "no limits"


def _source_words(row: IntervalRow, short: str) -> str:
    unstated = "number of animals not stated, " if row.kind is ReferenceKind.REFERENCE_INTERVAL else ""
    animals = f"{row.n} {row.species.value}s, " if row.n else unstated
    doubt = {"memory": ", from memory", "derived": ", constants fitted here"}.get(row.status, "")
    checked = " and held against a published table" if doubt and row.checked == "yes" else ""
    return f"{animals}{short}{doubt}{checked}"


def _tail(doubts: tuple[str, ...], note: str) -> str:
    """Return the doubts and the row's own note as further sentences."""
    sentences = [f"Doubt: {doubt.removesuffix('.')}." for doubt in doubts] + ([note] if note else [])
    return "".join(f" {sentence}" for sentence in sentences)


def _threshold_words(limits: Limits, unit: str) -> str:
    threshold = limits.upper if limits.upper is not None else limits.lower
    return say_value(threshold, unit) if threshold is not None else ""


def say_interval(
    row: IntervalRow,
    *,
    value: float,
    limits: Limits,
    unit: str,
    short: str,
    animal: str,
    z: float | None,
    doubts: tuple[str, ...],
    percentiles: str = "",
) -> str:
    """Return what a reference interval says; without z it is orientation only and never says normal or abnormal."""
    where = place(value, limits)
    stand = f"{say_value(value, unit)} lies {where} the {row.basis} ({_limits_words(limits, unit)})"
    source = f"[{_source_words(row, short)}]"
    if z is not None:
        return f"{stand} for {animal}, z {z:+.2f} {source}.{percentiles}{_tail((), row.note)}"
    if where == "below" and not row.flag("low_side_speaks", True):
        stand += ", which this row does not call abnormal"
    return f"orientation only: {stand} {source}.{percentiles}{_tail(doubts, row.note)}"


def say_band(row: IntervalRow, *, value: float, short: str, lesion: str) -> str:
    """Return what the severity band in which a value lies says of a lesion that has been named."""
    number = say_value(value, row.unit)
    return (
        f"{number} is graded {row.detail('grade')} on this scale ({row.detail('scale')}; {_source_words(row, short)}): "
        f"it grades {lesion}, which has been named, and says nothing of a normal heart. {row.note}"
    ).strip()


def say_limit(
    row: IntervalRow, *, value: float, limits: Limits, unit: str, short: str, named: str, doubts: tuple[str, ...]
) -> str:
    """Return what a staging limit, a definition or a cut-off says, with what it must not be taken for."""
    reached = place(value, limits) != "inside"
    number, limit, source = say_value(value, unit), _threshold_words(limits, unit), f"[{_source_words(row, short)}]"
    if row.kind is ReferenceKind.STAGING_CRITERION:
        verb = "reaches" if reached else "does not reach"
        text = (
            f"{number} {verb} {limit}, a limit for stage {row.detail('stage')} {source}: a staging limit, it speaks "
            f"only where {named} is diagnosed, together with the other criteria of that stage, and is no normal limit."
        )
    elif row.kind is ReferenceKind.DISEASE_DEFINITION:
        verb = "meets" if reached else "does not meet"
        text = (
            f"{number} {verb} the limit of {limit} by which the source defines {row.detail('defines')} {source}: "
            f"it speaks only because {named} is in question, and is no normal limit."
        )
    else:
        verb = "lies beyond" if reached else "does not lie beyond"
        text = (
            f"{number} {verb} the cut-off of {limit} for {row.detail('predicts')} {source}: it predicts, it does not "
            f"diagnose; it speaks only because {named} is in question, and is no normal limit."
        )
    sensitivity, specificity = row.number("sensitivity_percent"), row.number("specificity_percent")
    if sensitivity is not None and specificity is not None:
        text += f" Sensitivity {sensitivity:g} %, specificity {specificity:g} % in that study."
    return f"{text}{_tail(doubts, row.note)}"


def say_group(row: IntervalRow, *, unit: str, short: str, doubts: tuple[str, ...], numbers: tuple[float, ...]) -> str:
    """Return the mean or median of a group, as context."""
    if row.form == "group_mean":
        told = f"{say_value(numbers[0], unit)} on average (SD {say_value(numbers[1], unit)})"
    else:
        told = (
            f"{say_value(numbers[0], unit)} in the middle (all values from {say_value(numbers[1], unit)} "
            f"to {say_value(numbers[2], unit)})"
        )
    return (
        f"context only: {row.detail('group')} had {told} [{_source_words(row, short)}]; a group, not an interval, so "
        f"that nothing is called normal or abnormal by it.{_tail(doubts, row.note)}"
    )


def say_silence(reason: str, limits: Limits | None, unit: str, basis: str) -> str:
    """Return that a row does not speak and why, with the limits where they can be worked out all the same."""
    if limits is None or (limits.lower is None and limits.upper is None):
        return f"does not speak: {reason}."
    return f"does not speak: {reason}. Its {basis} would be {_limits_words(limits, unit)}."
