"""The trainee's and the machine's numbers against ours, and the slip that the numbers themselves show."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.methods import TakenBy, match_method
from fanlight.reference.repeatability import repeat_spread
from fanlight.reference.units import say_value
from fanlight.study import ENGINE, Measurement, Remark
from fanlight.validity.meaning.inputs import Told, caliper_way, value_in
from fanlight.validity.measured import is_bound

_WITHIN_95 = 1.96
_TENFOLD = (9.0, 11.0)  # mm written as cm; two readings of one thing do not differ so much
# M-mode and 2-D take these from other walls at other moments under one name: as in the tables of intervals, what does
# not say its technique is held against neither.
_TECHNIQUE_NEEDED = frozenset({"left_atrium", "aortic_root"})
# With which of our own numbers a reading may have been mixed up.
_MIXED_UP = {
    "lvidd": ("lvids",), "lvids": ("lvidd",), "ivsd": ("ivss",), "ivss": ("ivsd",), "lvwd": ("lvws",),
    "lvws": ("lvwd",), "mitral_e": ("mitral_a",), "mitral_a": ("mitral_e",),
}  # fmt: skip
# Which walls a caliper may have taken in, by the diameter.
_WALLS = {"lvidd": ("ivsd", "lvwd"), "lvids": ("ivss", "lvws")}
# Which two parts a ratio is made of.
_PARTS = {
    "la_ao": ("left_atrium", "aortic_root"), "fractional_shortening": ("lvidd", "lvids"),
    "mitral_e_a": ("mitral_e", "mitral_a"),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """One number of theirs beside ours, in one unit."""

    theirs: Measurement
    ours: Measurement
    their_value: float
    our_value: float
    unit: str
    is_same_clip: bool
    sd: float | None  # of their difference, when both read one thing; None: nobody published it
    because: str

    @property
    def differs(self) -> bool:
        """Whether the two lie further apart than two readings do."""
        return self.sd is not None and abs(self.their_value - self.our_value) > _WITHIN_95 * self.sd


def against_ours(told: Told) -> Iterator[Remark]:
    """Yield a remark for each number of trainee or machine that differs from ours by more than two readings do."""
    pairs = [pair for item in told.measurements if _is_theirs(item) and (pair := _pair(told, item)) is not None]
    for pair in pairs:
        slip = _tenfold(pair)
        if not slip and not pair.differs:
            continue
        yield Remark(
            kind="discordance",
            words=f"{told.symbols[pair.theirs.name]}: {_words(pair.their_value, pair)} ({_giver(pair.theirs)}) and "
            f"{_words(pair.our_value, pair)} ({_giver(pair.ours)}) differ by more than "
            f"{'two readings of one picture' if pair.is_same_clip else 'two scans'} do ({pair.because}).",
            likely=slip or _slip(told, pair, pairs),
            about_reading=True,
            sheet_only=pair.ours.sheet_only,
        )


def _words(value: float, pair: _Pair) -> str:
    return say_value(value, pair.unit)


def _giver(item: Measurement) -> str:
    return f"{item.given_by}, {item.clip}" if item.clip else item.given_by


def _is_ours(item: Measurement) -> bool:
    return item.given_by in (ENGINE, GIVEN_BY)


def _is_theirs(item: Measurement) -> bool:
    is_plain = bool(item.name) and item.value is not None and not item.given_by.startswith("computed")
    return is_plain and not _is_ours(item)


def _same_clip(one: Measurement, other: Measurement) -> bool:
    return bool(one.clip and other.clip) and (
        one.clip == other.clip or one.clip.rsplit("/", 1)[-1] == other.clip.rsplit("/", 1)[-1]
    )


def _ours(told: Told, quantity: str) -> list[Measurement]:
    return [
        item
        for item in told.measurements
        if item.name == quantity and _is_ours(item) and item.value is not None and not is_bound(item)
    ]


def _pair(told: Told, theirs: Measurement) -> _Pair | None:
    """Return a number of theirs with the one of ours that it is held against: of its clip, else taken alike."""
    unit = told.units[theirs.name]
    taken = match_method(told.house, theirs.method)
    candidates = [
        item
        for item in _ours(told, theirs.name)
        if _is_alike(theirs.name, taken, match_method(told.house, item.method)) and _is_same_way(theirs, item)
    ]
    candidates.sort(
        key=lambda item: (not _same_clip(item, theirs), item.given_by == ENGINE, item.uncertainty or math.inf)
    )
    their_value = value_in(theirs, unit)
    if not candidates or their_value is None:
        return None
    ours = candidates[0]
    our_value = value_in(ours, unit)
    if our_value is None:
        return None
    if unit == "m/s":
        their_value, our_value = abs(their_value), abs(our_value)
    is_same = _same_clip(ours, theirs)
    share, because = _spread(told, theirs.name, match_method(told.house, ours.method), is_same=is_same)
    sd = None
    if share is not None:
        own = (ours.uncertainty or 0.0) * our_value / (ours.value or math.inf)
        sd = math.hypot(share * our_value, max(abs(own), share * our_value))
    return _Pair(
        theirs=theirs, ours=ours, their_value=their_value, our_value=our_value, unit=unit, is_same_clip=is_same, sd=sd,
        because=because,
    )  # fmt: skip


def _is_alike(quantity: str, one: TakenBy, other: TakenBy) -> bool:
    """Whether two numbers may have been taken by one technique; one that is not stated may be any."""
    if not one.technique or not other.technique:
        return quantity not in _TECHNIQUE_NEEDED
    return bool(set(one.technique) & set(other.technique))


def _is_same_way(one: Measurement, other: Measurement) -> bool:
    """Whether two ratios may have been taken by one caliper convention: unless both name one, and not the same."""
    ways = {way for item in (one, other) if (way := caliper_way(f"{item.label} {item.method}"))}
    return len(ways) < 2


def _spread(told: Told, quantity: str, taken: TakenBy, *, is_same: bool) -> tuple[float | None, str]:
    """Return how far one reading scatters, as a share, and by which source; of a repeat scan for another clip."""
    if is_same:
        for technique in taken.technique:
            reader = told.tables.readers.get(technique)
            if reader is not None and quantity in reader.quantities:
                return reader.cv_percent / 100, f"CV {reader.cv_percent:g} %, {reader.citation}"
    spread = repeat_spread(told.house, quantity, told.patient, taken)
    return (None, "") if spread is None else (spread.cv_percent / 100, spread.source_words)


def _tenfold(pair: _Pair) -> str:
    if not pair.our_value or not pair.their_value:
        return ""
    times = abs(pair.their_value / pair.our_value)
    if _TENFOLD[0] <= times <= _TENFOLD[1] or _TENFOLD[0] <= 1 / times <= _TENFOLD[1]:
        is_length = pair.unit in ("mm", "cm")
        return f"the two differ tenfold: {'mm and cm may have been mixed up' if is_length else 'a decimal point?'}"
    return ""


def _slip(told: Told, pair: _Pair, pairs: list[_Pair]) -> str:
    """Return the likely mistake that other numbers of ours show, "" where none or more than one fits."""
    found = [*_mixed_up(told, pair), *_wall_taken_in(told, pair), *_one_part(told, pair, pairs)]
    return found[0] if len(found) == 1 else ""


def _near(told: Told, pair: _Pair, value: float, quantity: str) -> bool:
    """Whether a number of ours agrees with a value of theirs within its own uncertainty; without one nothing does."""
    for item in _ours(told, quantity):
        own = value_in(item, pair.unit)
        if own is None or not item.uncertainty or not _of_one_clip(item, pair.ours):
            continue
        error = abs(item.uncertainty * own / (item.value or math.inf))
        if abs(abs(own) - value) <= _WITHIN_95 * error:
            return True
    return False


def _of_one_clip(one: Measurement, other: Measurement) -> bool:
    return one.clip == other.clip


def _mixed_up(told: Told, pair: _Pair) -> list[str]:
    return [
        f"it agrees with our {told.symbols[other]}: the two may have been mixed up"
        for other in _MIXED_UP.get(pair.theirs.name, ())
        if _near(told, pair, pair.their_value, other)
    ]


def _wall_taken_in(told: Told, pair: _Pair) -> list[str]:
    more = pair.their_value - pair.our_value
    if more <= 0 or not pair.is_same_clip:
        return []
    return [
        f"the difference is the thickness of our {told.symbols[wall]}: the caliper may have taken that wall in"
        for wall in _WALLS.get(pair.theirs.name, ())
        if _near(told, pair, more, wall)
    ]


def _one_part(told: Told, pair: _Pair, pairs: list[_Pair]) -> list[str]:
    """Where a ratio differs and both its parts were given: which of them the difference lies in."""
    parts = _PARTS.get(pair.theirs.name, ())
    of_giver = {item.theirs.name: item for item in pairs if item.theirs.given_by == pair.theirs.given_by}
    if len(parts) != 2 or any(part not in of_giver or of_giver[part].sd is None for part in parts):
        return []
    wrong = [part for part in parts if of_giver[part].differs]
    right = [part for part in parts if part not in wrong]
    if len(wrong) != 1:
        return []
    one, other = told.symbols[right[0]], told.symbols[wrong[0]]
    return [f"{one} agrees and {other} does not: the difference lies in that caliper"]
