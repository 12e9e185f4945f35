"""Numbers of one heart that do not fit together: planes, function, M-mode against 2-D, and one giver's arithmetic."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from fanlight.reference.interval_rows import read_intervals
from fanlight.reference.methods import match_method
from fanlight.reference.units import say_value
from fanlight.study import Measurement, Remark, Species
from fanlight.validity.meaning.inputs import Input, Told, interval_side, pick, pick_la_ao, value_in
from fanlight.validity.measured import is_bound

_KIND = "discordance"
# The ratio from which sources call the short-axis atrium large; it decides here only whether two planes agree.
_LARGE_ROW = {Species.DOG: "dog_la_ao_stage_larouche2019", Species.CAT: "cat_la_ao_enlarged_abbott2006"}
_SMALL_DOG_KG = 15.0  # LV2DMM parts its dogs there


def discordances(told: Told, *, planes_told: bool = False) -> Iterator[Remark]:
    """Yield a remark for each pair of numbers that should agree and does not.

    Parameters
    ----------
    told : Told
        The study.
    planes_told : bool
        Whether it was said already that the long axis does not bear the short one out.
    """
    if not planes_told and (planes := _planes(told)) is not None:
        yield planes
    if (function := _function(told)) is not None:
        yield function
    yield from _modes(told)


def _planes(told: Told) -> Remark | None:
    """Short against long axis of the left atrium."""
    key = _LARGE_ROW.get(told.patient.species) if told.patient.species is not None else None
    short = pick_la_ao(told)
    if key is None or short is None:
        return None
    row = read_intervals(told.house)[key]
    limit = row.number("threshold") or 0.0
    is_large = short.value >= limit if row.detail("abnormal_if") == ">=" else short.value > limit
    for quantity in ("la_ao_long_axis", "left_atrium_long_axis"):
        long = pick(told, quantity, told.units[quantity])
        side = interval_side(told, quantity, long.value, long.unit) if long is not None else None
        if long is None or side is None or (side.side == "above") == is_large:
            continue
        one = f"{short.words} {'is at or above' if is_large else 'is below'} {say_value(limit, '1')}"
        other = f"{long.words} {side.words}"
        return Remark(
            kind=_KIND, words=f"Short and long axis of the left atrium disagree: {one}, {other}.",
            citation=row.citation, sheet_only=short.sheet_only or long.sheet_only,
        )  # fmt: skip
    return None


def _function(told: Told) -> Remark | None:
    """EPSS against fractional shortening."""
    epss, shortening = pick(told, "epss", "mm"), pick(told, "fractional_shortening", "%")
    if epss is None or shortening is None:
        return None
    wide = interval_side(told, "epss", epss.value, "mm")
    systole = interval_side(told, "fractional_shortening", shortening.value, "%")
    if wide is None or systole is None or (wide.side == "above") == (systole.side == "below"):
        return None
    return Remark(
        kind=_KIND,
        words=f"EPSS and FS disagree on systole: {epss.words} {wide.words}, {shortening.words} {systole.words}.",
        sheet_only=epss.sheet_only or shortening.sheet_only,
    )


def _modes(told: Told) -> Iterator[Remark]:
    """M-mode against 2-D of the left ventricle."""
    if told.patient.species is not Species.DOG:
        return
    for quantity, agreement in told.tables.modes.items():
        m_mode, two_d = (_taken_in(told, quantity, technique) for technique in ("m_mode", "two_d"))
        if m_mode is None or two_d is None:
            continue
        weight = told.patient.weight_kg
        is_small = weight is not None and weight < _SMALL_DOG_KG
        most_mm = agreement.small_mm if is_small else agreement.large_mm
        mean = (m_mode.value + two_d.value) / 2
        apart = abs(m_mode.value - two_d.value)
        if apart <= most_mm and apart <= agreement.share_percent / 100 * mean:
            continue
        yield Remark(
            kind=_KIND,
            words=f"M-mode and 2-D disagree by {say_value(apart, 'mm')}: {m_mode.words} in M-mode, {two_d.words} in "
            f"2-D; 95 % of pairs lay within {agreement.share_percent:g} % and {say_value(most_mm, 'mm')}.",
            citation=agreement.citation,
            sheet_only=m_mode.sheet_only or two_d.sheet_only,
        )


def _taken_in(told: Told, quantity: str, technique: str) -> Input | None:
    """Return the value of a quantity among those that were taken in one technique."""
    of_technique = tuple(
        item
        for item in told.measurements
        if item.name == quantity and technique in match_method(told.house, item.method).technique
    )
    return pick(told.among(of_technique), quantity, "mm")


def arithmetic(told: Told) -> Iterator[Remark]:
    """Yield a remark where one giver's derived number does not follow from that giver's own parts."""
    for giver in dict.fromkeys(item.given_by for item in told.measurements):
        own = _single([item for item in told.measurements if item.given_by == giver])
        yield from _of_giver(told, giver, own)


def _single(items: Iterable[Measurement]) -> dict[str, Measurement]:
    """Return the quantities that a giver gave once; of several nobody said which belong together."""
    found: dict[str, list[Measurement]] = {}
    for item in items:
        if item.name and item.value is not None and not is_bound(item):
            found.setdefault(item.name, []).append(item)
    return {key: listed[0] for key, listed in found.items() if len(listed) == 1}


# Derived quantity, its parts, how far rounding may take it, and the formula.
_FORMULAS: tuple[tuple[str, tuple[str, str], str, float, Callable[[float, float], float]], ...] = (
    ("fractional_shortening", ("lvidd", "lvids"), "mm", 1.5, lambda d, s: 100 * (d - s) / d),
    ("mitral_e_a", ("mitral_e", "mitral_a"), "m/s", 0.08, lambda e, a: abs(e / a)),
)


def _of_giver(told: Told, giver: str, own: dict[str, Measurement]) -> Iterator[Remark]:
    for derived, parts, unit, slack, formula in _FORMULAS:
        values = [value_in(own[part], unit) for part in parts if part in own]
        stated = value_in(own[derived], told.units[derived]) if derived in own else None
        one, other = values if len(values) == 2 else (None, None)
        if stated is None or not one or not other:
            continue
        follows = formula(one, other)
        if abs(follows - stated) > slack:
            yield _does_not_follow(told, giver, own, (derived, parts, follows, stated))
    diastole, systole = (value_in(own[part], "mm") if part in own else None for part in ("lvidd", "lvids"))
    if diastole is not None and systole is not None and systole >= diastole:
        yield Remark(
            kind=_KIND,
            words=f"LVIDs {say_value(systole, 'mm')} is not smaller than LVIDd {say_value(diastole, 'mm')} ({giver}).",
            likely="the two diameters may have been exchanged, or measured in the wrong phase",
            about_reading=True,
        )


def _does_not_follow(
    told: Told, giver: str, own: dict[str, Measurement], case: tuple[str, tuple[str, str], float, float]
) -> Remark:
    derived, parts, follows, stated = case
    unit = told.units[derived]
    return Remark(
        kind=_KIND,
        words=f"{told.symbols[derived]} {say_value(stated, unit)} ({giver}) does not follow from the same giver's "
        f"{' and '.join(told.symbols[part] for part in parts)}, which give {say_value(follows, unit)}.",
        about_reading=True,
        sheet_only=own[derived].sheet_only,
    )
