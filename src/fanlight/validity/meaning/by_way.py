"""The numbers of one visit as another visit is held against them: one for each way in which a quantity was taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.measure.jets import is_jet
from fanlight.reference.methods import TakenBy, match_method, read_methods
from fanlight.reference.views import read_views
from fanlight.study import EarlierValue, House, Measurement
from fanlight.validity.meaning.inputs import TakenOn, believed, caliper_way, value_in
from fanlight.validity.measured import is_bound

# M-mode and 2-D take these from other walls at other moments under one name.
_TECHNIQUE_NEEDED = frozenset({"left_atrium", "aortic_root"})
_KINDS = ("technique", "phase", "window")
_NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a number was taken. What is empty is not stated."""

    quantity: str
    taken: TakenBy
    calipers: str = ""
    view: str = ""  # key

    @property
    def n_stated(self) -> int:
        """How much of it is stated."""
        return sum(map(bool, (*(getattr(self.taken, kind) for kind in _KINDS), self.view)))


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberTaken:
    """A number of a visit that may be held against that of another."""

    first: Measurement  # in whose row it stands
    value: float | None  # in the unit asked for; None: it was refused
    n: int  # how many values it is the mean of
    way: Way
    not_held: str = ""  # "at least: …", "refused: …"; "" = it holds


def way_of(house: House, quantity: str, words: str, on: TakenOn) -> Way:
    """Return how a number was taken, by the words beside it and, where they name no technique, the mode of its clip."""
    taken = match_method(house, words)
    if not taken.technique:
        taken = replace(taken, technique=match_method(house, on.mode).technique)
    return Way(quantity=quantity, taken=taken, calipers=caliper_way(words), view=on.view)


def way_of_earlier(house: House, item: EarlierValue) -> Way:
    """Return how a number of an earlier visit was taken."""
    return way_of(house, item.quantity, f"{item.label} {item.method}", TakenOn(view=item.view, mode=item.mode))


def apart(house: House, then: Way, now: Way) -> str:
    """Return why two numbers of one quantity were not taken in one way, "" where they may have been.

    Technique, moment, window and view tell two ways apart where both numbers state them. Calipers of LA:Ao are of one
    published convention or of none that is named; the two are never mixed in one series.
    """
    methods = read_methods(house)
    for kind in _KINDS:
        before, after = getattr(then.taken, kind), getattr(now.taken, kind)
        if before and after and not set(before) & set(after):
            return _differ(*(" and ".join(methods[key].title for key in keys) for keys in (before, after)))
        if kind == "technique" and now.quantity in _TECHNIQUE_NEEDED and not (before and after):
            return f"the technique is {_NOT_STATED}, and M-mode and 2-D differ"
    if then.calipers != now.calipers:
        return _differ(*(f"calipers {way or _NOT_STATED}" for way in (then.calipers, now.calipers)))
    if then.view and now.view and then.view != now.view:
        views = read_views(house)
        return _differ(*(views[key].title if key in views else key for key in (then.view, now.view)))
    return ""


def _differ(then: str, now: str) -> str:
    return f"{then} then, {now} now"


def numbers_by_way(
    house: House, measurements: Iterable[Measurement], quantity: str, unit: str, taken: Mapping[str, TakenOn]
) -> tuple[NumberTaken, ...]:
    """Return the numbers of a quantity, one for each way it was taken in; those who are believed first come first.

    Parameters
    ----------
    house : House
        Tables "methods" and "views".
    measurements : iterable of Measurement
        Of one visit, weighed and ranked.
    quantity : str
        Its key.
    unit : str
        In which values are wanted.
    taken : mapping of str to TakenOn
        View and mode of each clip, by its name.

    Notes
    -----
    Of several clips the one that gives the number counts. Several values of one giver under one label are averaged; of
    a jet the highest counts. A bound or a refusal stands only where nothing holds that was taken in the same way.
    """
    listed = sorted((item for item in measurements if item.name == quantity and item.rank <= 1), key=believed)
    found: list[NumberTaken] = []
    for want_held in (True, False):
        for item in listed:
            not_held = _not_held(item)
            value = value_in(item, unit)
            if bool(not_held) is want_held or (value is None and not not_held.startswith("refused")):
                continue
            way = way_of(house, quantity, f"{item.label} {item.method}", taken.get(item.clip, TakenOn()))
            alike = next((at for at, each in enumerate(found) if not apart(house, each.way, way)), None)
            one = NumberTaken(first=item, value=_size(value, unit), n=1, way=way, not_held=not_held)
            if alike is None:
                found.append(one)
            elif want_held and _is_beside(found[alike].first, item):
                found[alike] = _together(found[alike], one)
    return tuple(found)


def newest_that_hold(house: House, visits: Iterable[Iterable[EarlierValue]]) -> tuple[EarlierValue, ...]:
    """Return the numbers of several visits that are worth a comparison.

    All of the newest visit; of an older one those of which no newer visit holds one that was taken in the same way. One
    that is kept off the clinical summary does not stand for one that is not.

    Parameters
    ----------
    house : House
        Tables "methods" and "views".
    visits : iterable of iterable of EarlierValue
        The newest visit first.
    """
    found: list[EarlierValue] = []
    held: list[Way] = []
    for values in visits:
        ways = [(item, way_of_earlier(house, item)) for item in values]
        new = [
            (item, way)
            for item, way in ways
            if not any(each.quantity == way.quantity and not apart(house, each, way) for each in held)
        ]
        found += [item for item, _ in new]
        held += [way for item, way in new if not item.not_held and not item.sheet_only]
    return tuple(found)


def _not_held(item: Measurement) -> str:
    if item.value is None:
        return item.validity or item.reason
    return item.validity if is_bound(item) else ""


def _size(value: float | None, unit: str) -> float | None:
    """Return a value as visits are compared by it: the sign of a velocity tells its direction only."""
    return abs(value) if value is not None and unit == "m/s" else value


def _is_beside(first: Measurement, item: Measurement) -> bool:
    """Whether two values are of one giver and label; a label names the convention."""
    return (believed(first), first.label) == (believed(item), item.label)


def _together(one: NumberTaken, other: NumberTaken) -> NumberTaken:
    assert one.value is not None
    assert other.value is not None
    if is_jet(one.way.quantity, max(one.value, other.value)):
        return max(one, other, key=lambda each: each.value or 0.0)
    return replace(one, value=(one.value * one.n + other.value) / (one.n + 1), n=one.n + 1)
