"""Marks on pictures that a person kept as the engine proposed them: how well they lie, and which numbers rest on them.

Who keeps a caliper unmoved agrees with it and places nothing anew: its ends lie as well as the network lays them, never
better than a hand. A number says that it rests on such marks.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from fanlight.measure.marked import placement_px
from fanlight.measure.picture import Given, Placed
from fanlight.study import DrawnMark, Kept, Measurement, Point

_LESS_SURE = 2.0  # times: any factor above 1 tells whether a number rests on a point
_Place = tuple[int, tuple[Point, ...]]  # frame, points


def with_spreads(given: Given, marks: Iterable[DrawnMark]) -> Given:
    """Return what a person gave, each mark that was kept as proposed with the spread of the proposal.

    Parameters
    ----------
    given : Given
        Of one clip, each point with the error of a hand.
    marks : iterable of DrawnMark
        Of the same clip.
    """
    spreads = {(mark.frame, mark.points): placement_px(mark) for mark in marks}
    return _mapped(given, lambda item: spreads.get((item.frame, item.points), item.sd_px[0]))


def measured_with_kept(
    given: Given, marks: Iterable[DrawnMark], measure: Callable[[Given], Iterable[Measurement]]
) -> tuple[Measurement, ...]:
    """Return what shapes measure, each number with whether it rests on marks that were kept as proposed.

    Parameters
    ----------
    given : Given
        Of one clip, by a person.
    marks : iterable of DrawnMark
        Of the same clip.
    measure : callable
        Of shapes.

    Notes
    -----
    A number rests on points where it becomes less sure when they do.
    """
    listed = tuple(marks)
    kept: set[_Place] = {(mark.frame, mark.points) for mark in listed if mark.proposed_spread_px is not None}
    if not kept:
        return tuple(measure(given))
    placed = with_spreads(given, listed)
    found = tuple(measure(placed))
    on_kept, on_hand = (
        _errors(measure(_mapped(placed, lambda item, which=which: _less_sure(item, kept, which))))  # type: ignore[misc]
        for which in (True, False)
    )
    return tuple(replace(item, kept=_kept(item, on_kept, on_hand)) for item in found)


def _less_sure(item: Placed, kept: Collection[_Place], which: bool) -> float:
    is_meant = ((item.frame, item.points) in kept) is which
    return item.sd_px[0] * (_LESS_SURE if is_meant else 1.0)


def _mapped(given: Given, sd_px: Callable[[Placed], float]) -> Given:
    def each(items: tuple[Placed, ...]) -> tuple[Placed, ...]:
        return tuple(replace(item, sd_px=(sd_px(item),) * len(item.points)) for item in items)

    return replace(given, landmarks=each(given.landmarks), lines=each(given.lines), traces=each(given.traces))


def _of(item: Measurement) -> tuple[object, ...]:
    return item.name, item.label, item.frames


def _errors(measured: Iterable[Measurement]) -> dict[tuple[object, ...], float | None]:
    return {_of(item): item.uncertainty for item in measured}


def _kept(
    item: Measurement,
    on_kept: dict[tuple[object, ...], float | None],
    on_hand: dict[tuple[object, ...], float | None],
) -> Kept:
    if item.value is None or on_kept.get(_of(item)) == item.uncertainty:
        return Kept.NO
    return Kept.WHOLLY if on_hand.get(_of(item)) == item.uncertainty else Kept.IN_PART
