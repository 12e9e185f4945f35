"""Change since an earlier visit: told only beyond what a repeat scan of the same heart may differ."""

from __future__ import annotations

from fanlight.reference.methods import match_method
from fanlight.reference.repeatability import RepeatSpread, repeat_spread
from fanlight.reference.units import convert_unit, say_value
from fanlight.study import EarlierValue, Remark
from fanlight.validity.meaning.inputs import Input, Told, pick


def changes(told: Told) -> tuple[Remark, ...]:
    """Return a remark for each number of an earlier visit that was measured again."""
    listed = sorted(told.request.earlier, key=lambda item: item.examined_on)
    return tuple(_remark(told, earlier) for earlier in listed)


def _remark(told: Told, earlier: EarlierValue) -> Remark:
    unit = told.units[earlier.quantity]
    before = convert_unit(earlier.value, earlier.unit, unit)
    now = pick(told, earlier.quantity, unit)
    if now is None:
        symbol, on = told.symbols[earlier.quantity], _day(earlier)
        return Remark(kind="change", words=f"{symbol} {say_value(before, unit)} on {on}: not measured again.")
    return _change(told, earlier, before, now)


def _change(told: Told, earlier: EarlierValue, before: float, now: Input) -> Remark:
    symbol = told.symbols[earlier.quantity]
    values = f"{symbol} {say_value(before, now.unit)} on {_day(earlier)}, now {say_value(now.value, now.unit)}"
    then, today = match_method(told.house, earlier.method), match_method(told.house, now.method)
    other = then.technique and today.technique and not set(then.technique) & set(today.technique)
    if other:
        words, citation = f"{values}: taken in different ways, and not compared.", ""
    elif (spread := repeat_spread(told.house, earlier.quantity, told.patient, today)) is None:
        words, citation = f"{values}: how far repeat scans scatter is not in the tables, so no change is told.", ""
    else:
        words, citation = f"{values}: {_judged(before, now, spread)}", spread.citation
    return Remark(kind="change", words=words, citation=citation, sheet_only=now.sheet_only)


def _day(earlier: EarlierValue) -> str:
    return f"{earlier.examined_on.day} {earlier.examined_on:%B %Y}"


def _judged(before: float, now: Input, spread: RepeatSpread) -> str:
    least = spread.coefficient(before, now.value)
    limit = f"{say_value(least, now.unit)} ({spread.source_words})"
    if abs(now.value - before) <= least:
        return f"no change that can be told from a repeat scan, which may differ by {limit}."
    return f"{'more' if now.value > before else 'less'}, beyond the {limit} by which a repeat scan may differ."
