"""What a person's marks on one strip give as quantities, and what follows from them with the engine's other numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.measure.areas import Area, AreaKind, area_at, areas_of
from fanlight.measure.jets import is_jet
from fanlight.measure.m_mode.spread import combined
from fanlight.measure.marked import GIVEN_BY, METHOD, NO_SCALE, fault_of, uncertainty_of
from fanlight.measure.picture.from_marks import quantity_named
from fanlight.measure.read_out import ReadValue, read_out
from fanlight.measure.strip_lines.follows import Follows, follows_in
from fanlight.reference.quantities import QuantityName, read_quantities
from fanlight.study import MODE_WORDS, ClipReading, DrawnMark, FileMarks, House, MarkKind, Measurement, Mode, Valve

# Distances that are taken on an M-mode; another length of the same name lies on a picture.
_DISTANCES = frozenset(
    {"lvidd", "lvids", "ivsd", "ivss", "lvwd", "lvws", "epss", "tapse", "aortic_root", "left_atrium"}
)
# What a mark reads that is of a quantity's unit, and by how much that is divided.
_READS: Mapping[tuple[AreaKind, MarkKind, str], tuple[str, float]] = {
    (AreaKind.M_MODE, MarkKind.LINE, "mm"): ("depth", 1.0),
    (AreaKind.SPECTRUM, MarkKind.POINT, "m/s"): ("velocity", 100.0),
    (AreaKind.SPECTRUM, MarkKind.POINT, "cm/s"): ("velocity", 1.0),
    (AreaKind.SPECTRUM, MarkKind.LINE, "ms"): ("time", 1.0),
    (AreaKind.SPECTRUM, MarkKind.TRACE, "cm"): ("velocity-time integral", 1.0),
}
# An outline of a tract gives its mean gradient as well.
_MEAN_GRADIENT = {"aortic_vti": "aortic_mean_gradient", "pulmonary_vti": "pulmonary_mean_gradient"}
_LEFT, _RIGHT = frozenset({Valve.MITRAL, Valve.AORTIC}), frozenset({Valve.TRICUSPID, Valve.PULMONIC})
_SIDES = {
    **dict.fromkeys(("aortic", "ar", "mitral", "mr", "ivrt"), _LEFT),
    **dict.fromkeys(("pulmonary", "pa", "pr", "tricuspid", "tr"), _RIGHT),
}
_NO_EXTENT = "it has no extent on the strip; set it again"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenMark:
    """A mark that is a quantity of its strip.

    Attributes
    ----------
    value : float or None
        In the unit of the quantity, without a sign; None where it gives none, and `reason` says why.
    error : float
        One standard deviation, in the same unit.
    """

    mark: DrawnMark
    quantity: QuantityName
    value: float | None
    error: float = 0.0
    reason: str = ""


def marks_taken(marks: FileMarks, reading: ClipReading, house: House) -> tuple[TakenMark, ...]:
    """Return the marks of a strip that are quantities by their label.

    Parameters
    ----------
    marks : FileMarks
        A mark is a quantity by the words of its label, alone or before a comma or bracket, where its shape reads that
        quantity's unit: on an M-mode lines read depths, on a spectrum points read velocities, lines times, traces
        integrals. All others stay what they are: marks with a name.
    reading : ClipReading
        Of the clip: its layout, mode and valve.
    house : House
        Names of quantities.
    """
    mode = reading.mode.mode
    areas = tuple(
        replace(area, is_tissue=mode is Mode.TISSUE_DOPPLER)
        for area in areas_of(reading.layout, marks.scale, marks.axes)
    )
    known = read_quantities(house)
    found: list[TakenMark] = []
    for mark in marks.drawn:
        key = quantity_named(mark.label, house) if mark.label else ""
        if key:
            found += _taken(mark, known[key], areas, reading, known)
    return tuple(found)


def _taken(
    mark: DrawnMark, quantity: QuantityName, areas: tuple[Area, ...], reading: ClipReading,
    known: Mapping[str, QuantityName],
) -> list[TakenMark]:  # fmt: skip
    where = area_at(mark.points, areas)
    what = _READS.get((where.kind, mark.kind, quantity.unit))
    if what is None or (where.kind is AreaKind.M_MODE and quantity.key not in _DISTANCES):
        return []
    if why := fault_of(mark, reading.clip) or _of_other_side(quantity, reading):
        return [TakenMark(mark=mark, quantity=quantity, value=None, reason=why)]
    values = read_out(mark.kind.value, mark.points, areas).values
    found = [_read(mark, quantity, what, values, where)]
    if also := _MEAN_GRADIENT.get(quantity.key):
        found.append(_read(mark, known[also], ("mean gradient", 1.0), values, where))
    return found


def _read(
    mark: DrawnMark, quantity: QuantityName, what: tuple[str, float], values: tuple[ReadValue, ...], where: Area
) -> TakenMark:
    name, per = what
    for place, value in enumerate(values):
        if value.name == name:
            size = abs(value.value) / per
            if not size:
                return TakenMark(mark=mark, quantity=quantity, value=None, reason=_NO_EXTENT)
            error = uncertainty_of(mark, where, place, value) / per
            return TakenMark(mark=mark, quantity=quantity, value=size, error=error)
    return TakenMark(mark=mark, quantity=quantity, value=None, reason=NO_SCALE)


def _of_other_side(quantity: QuantityName, reading: ClipReading) -> str:
    """Return why a mark cannot be of the flow that its clip is placed at, "" where it can or nobody placed it."""
    valve, side = reading.view.valve, _SIDES.get(quantity.key.split("_")[0])
    if valve is None or side is None or valve in side or quantity.unit == "mm":
        return ""
    return f"the clip is placed at the {valve} valve; give the mark another name, or place the clip"


def numbers_of_marks(
    taken: Iterable[TakenMark], reading: ClipReading, read: Iterable[Measurement], house: House
) -> tuple[Measurement, ...]:
    """Return a number for each quantity that was marked on a strip, and what follows from it.

    Parameters
    ----------
    taken : iterable of TakenMark
        Of one clip.
    reading : ClipReading
        Of that clip.
    read : iterable of Measurement
        What the engine read off the same strip: where a ratio has one part by hand, the other is taken from here. Such
        a number says so and, like all of the engine's, stays on the study sheet.
    house : House

    Notes
    -----
    A number is the mean of its marks, one a beat: those of the engine are never mixed in. Of a jet the highest counts.
    u² is that of one mark, as if all erred alike (they share the scale), and s²/n of the beats (JCGM 100:2008, 4.2 and
    5.1.2). What follows carries the errors of its parts on by its derivatives.
    """
    by_key: dict[str, list[TakenMark]] = {}
    for item in taken:
        by_key.setdefault(item.quantity.key, []).append(item)
    found = {key: _number(items, reading) for key, items in by_key.items()}
    engine = {item.name: item for item in read if item.name and item.value is not None}
    known = read_quantities(house)
    for row in follows_in(house):
        if row.key not in found and (follows := _following(row, found, engine, reading, known)) is not None:
            found[row.key] = follows
    return tuple(found.values())


def _number(items: list[TakenMark], reading: ClipReading) -> Measurement:
    quantity = items[0].quantity
    frames = tuple(sorted({item.mark.frame for item in items}))
    good = [(item.value, item.error) for item in items if item.value is not None]
    base = Measurement(
        name=quantity.key, label=quantity.symbol, value=None, unit=quantity.unit, clip=reading.clip.name,
        frames=frames, method=_method(reading, ""), given_by=GIVEN_BY,
    )  # fmt: skip
    if not good:
        return replace(base, reason="; ".join(dict.fromkeys(item.reason for item in items)))
    values, n = [value for value, _ in good], len(good)
    base = replace(base, beside=_left_out(items))
    if is_jet(quantity.key, max(values)):
        value, error = max(good)
        return replace(
            base, value=value, uncertainty=error, method=_method(reading, f"the highest of {n}" if n > 1 else "")
        )
    mean = sum(values) / n
    scatter = sum((value - mean) ** 2 for value in values) / max(n - 1, 1) / n
    hand = math.sqrt(sum(error**2 for _, error in good) / n)
    words = f"mean of {n} marks" if n > 1 else "one mark"
    return replace(base, value=mean, uncertainty=combined(hand, math.sqrt(scatter)), method=_method(reading, words))


def _left_out(items: Iterable[TakenMark]) -> str:
    """Return which marks gave nothing while others did, and why; "" where all of them gave a value."""
    frames: dict[str, list[str]] = {}
    for item in items:
        if item.value is None:
            frames.setdefault(item.reason, []).append(str(item.mark.frame + 1))
    said = (
        f"{len(at)} mark{'s' if len(at) > 1 else ''} not counted (frame {', '.join(dict.fromkeys(at))}): {why}"
        for why, at in frames.items()
    )
    return "; ".join(said)


def _method(reading: ClipReading, words: str) -> str:
    where = f", {MODE_WORDS[reading.mode.mode]}" if reading.mode.mode else ""
    return f"{METHOD}{where}{f'; {words}' if words else ''}"


def _following(
    row: Follows, by_hand: Mapping[str, Measurement], engine: Mapping[str, Measurement], reading: ClipReading,
    known: Mapping[str, QuantityName],
) -> Measurement | None:  # fmt: skip
    """Return what follows from numbers of which one at least is by hand, None where a part is not known."""
    marked = [part for part in row.parts if part in by_hand]
    parts = [by_hand.get(part, engine.get(part)) for part in row.parts]
    sizes = [abs(part.value) for part in parts if part is not None and part.value is not None]
    if not marked or len(sizes) != len(parts):
        return None
    listed = [part for part in parts if part is not None]
    said = ", ".join(
        f"{known[part.name].symbol} {'marked by hand' if part.given_by == GIVEN_BY else 'read by the engine'}"
        for part in listed
    )
    how = "; ".join(filter(None, (row.how, f"from {said}")))
    base = Measurement(
        name=row.key, label=known[row.key].symbol, value=None, unit=known[row.key].unit, clip=reading.clip.name,
        frames=tuple(sorted({frame for part in listed for frame in part.frames})),
        method=_method(reading, how), given_by=GIVEN_BY, sheet_only=len(marked) < len(parts),
    )  # fmt: skip
    if why := row.why_not(*sizes):
        return replace(base, reason=why)
    errors = [slope * (part.uncertainty or 0.0) for slope, part in zip(row.slopes(*sizes), listed, strict=True)]
    return replace(base, value=row.formula(*sizes), uncertainty=combined(*errors))
