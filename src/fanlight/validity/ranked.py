"""Which of several clips gives a number: the one that holds best; beside it stands what the others gave. Pure.

Beats and frames are averaged within one clip only: another clip is another plane, and a mean of a good and a poor plane
is a poor number. Of a jet the clip with the highest velocity gives it, since a beam that misses reads too low.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.measure.jets import is_jet
from fanlight.reference.units import say_value
from fanlight.study import ENGINE, Measurement
from fanlight.validity.measured import HOLDS, is_bound


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class _Standing:
    """How well the numbers of one clip stand: the least is the best."""

    is_bound: bool
    n_doubts: int  # that their validity notes
    relative_uncertainty: float
    number: int  # of the clip: of two alike the first


def rank_clips(measurements: Iterable[Measurement], numbers: Mapping[str, int]) -> tuple[Measurement, ...]:
    """Return the numbers, those that several clips give with the place of their clip and what the others gave.

    Parameters
    ----------
    measurements : iterable of Measurement
        Of a study, weighed; what was given with the study (report, sheet) passes as it is.
    numbers : mapping of str to int
        Of each clip, as the user counts, by the name that measurements carry.

    Returns
    -------
    tuple of Measurement
        In their order, with `rank` and `beside`.
    """
    items = tuple(measurements)
    alike: dict[tuple[str, str, str, str], dict[str, list[Measurement]]] = {}
    for item in items:
        if (key := _key(item)) is not None and item.clip in numbers:
            alike.setdefault(key, {}).setdefault(item.clip, []).append(item)
    told: dict[int, Measurement] = {}
    for by_clip in alike.values():
        if len(by_clip) > 1:
            told |= _ranked(by_clip, numbers)
    return tuple(told.get(id(item), item) for item in items)


def _key(item: Measurement) -> tuple[str, str, str, str] | None:
    """Return what makes numbers of two clips the same: quantity, label (it names the convention), giver, unit."""
    if item.value is None or not item.name or not item.clip:
        return None
    return item.name, item.label, "engine" if item.given_by == ENGINE else item.given_by, item.unit


def _ranked(by_clip: Mapping[str, list[Measurement]], numbers: Mapping[str, int]) -> dict[int, Measurement]:
    found = [item for items in by_clip.values() for item in items]
    of_jet = is_jet(found[0].name, max(_value([item]) for item in found))

    def order(clip: str) -> tuple[float, _Standing]:
        return (-_value(by_clip[clip]) if of_jet else 0.0), _standing(by_clip[clip], numbers[clip])

    clips = sorted(by_clip, key=order)
    first, rest = clips[0], clips[1:]
    unit = by_clip[first][0].unit
    others = ", ".join(f"clip {numbers[clip]}: {say_value(_value(by_clip[clip]), unit)}" for clip in rest)
    why = "the highest" if of_jet else "the one that holds best"
    said = f"of {len(clips)} clips clip {numbers[first]}, {why}; beside it {others}"
    left = f"clip {numbers[first]} gives this number: it is {why}"
    return {
        id(item): replace(item, rank=place, beside="; ".join(filter(None, (item.beside, said if place == 1 else left))))
        for place, clip in enumerate(clips, start=1)
        for item in by_clip[clip]
    }


def _value(items: list[Measurement]) -> float:
    """Return the mean of the values of one clip; the sign of a velocity tells its direction only."""
    values = [abs(item.value) if item.unit == "m/s" else item.value for item in items if item.value is not None]
    return sum(values) / len(values)


def _standing(items: list[Measurement], number: int) -> _Standing:
    shares = [
        item.uncertainty / abs(item.value) if item.value and item.uncertainty is not None else float("inf")
        for item in items
    ]
    return _Standing(
        is_bound=any(is_bound(item) for item in items),
        n_doubts=max(0 if item.validity in ("", HOLDS) else 1 + item.validity.count(";") for item in items),
        relative_uncertainty=round(min(shares), 3),  # a thousandth tells nothing
        number=number,
    )
