"""Which of a study's numbers a grading uses: one value a quantity, with who gave it, or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.breeds import match_breed
from fanlight.reference.formulas.heart_size import LVIDD_EXPONENT, index_by_weight
from fanlight.reference.interval_limits import needs_weight, place, work_out_limits
from fanlight.reference.interval_rows import read_intervals
from fanlight.reference.meaning import MeaningTables, read_meaning
from fanlight.reference.methods import match_method
from fanlight.reference.quantities import read_quantities
from fanlight.reference.units import UnitError, convert_unit, say_value
from fanlight.study import (
    ENGINE,
    MODE_WORDS,
    ClipReading,
    House,
    Identity,
    Measurement,
    Named,
    Patient,
    ReferenceKind,
    Request,
    Study,
)
from fanlight.validity.measured import is_bound

# Who is believed before whom: a hand that marked the picture, the engine, the machine, the sheet. A number that is kept
# off the summary stands behind all others, for it has not been held against enough fresh animals.
_FIRST = (GIVEN_BY, ENGINE, "machine report", "request sheet")


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOn:
    """What picture a number was taken on, "" where that is not known."""

    view: str = ""  # its key
    mode: str = ""  # in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A study as gradings see it."""

    house: House
    patient: Patient
    identity: Identity
    request: Request
    measurements: tuple[Measurement, ...]
    tables: MeaningTables
    symbols: dict[str, str]
    units: dict[str, str]  # in which the tables keep each quantity
    taken: Mapping[str, TakenOn] = field(default_factory=dict)  # view and mode of each clip, by its name

    @property
    def named(self) -> Named:
        """What the mentor named."""
        return self.request.named

    def among(self, measurements: tuple[Measurement, ...]) -> Told:
        """Return the same study with some of its numbers only."""
        return replace(self, measurements=measurements)

    def is_breed(self, keys: tuple[str, ...]) -> bool:
        """Whether the animal is a pure-bred of one of these breeds; True where none is asked for."""
        breeds = match_breed(self.house, self.patient.breed, self.patient.species)
        return not keys or (len(breeds) == 1 and breeds[0].key in keys)


# As `measure.picture` writes of a ratio that was taken at neither moment.
_NO_MOMENT = "neither early nor late in diastole"
_WAYS = ("commissure-parallel", "single line")  # the two published caliper conventions, as labels and methods name them


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One value that a grading uses."""

    quantity: str
    value: float  # in `unit`
    unit: str
    words: str  # "LA:Ao 1.90 (machine report)"
    sheet_only: bool = False
    is_least: bool = False  # the value is at least so much
    method: str = ""


def caliper_way(words: str) -> str:
    """Return the caliper convention of LA:Ao that words name, "" where none is."""
    text = words.lower().replace("commissure parallel", "commissure-parallel")
    return next((way for way in _WAYS if way in text), "")


def taken_on(readings: Iterable[ClipReading]) -> dict[str, TakenOn]:
    """Return view and mode of each clip, by the name that measurements carry."""
    return {
        item.clip.name: TakenOn(view=item.view.view, mode=MODE_WORDS[item.mode.mode] if item.mode.mode else "")
        for item in readings
    }


def told_of(
    study: Study, house: House, measurements: Iterable[Measurement], taken: Mapping[str, TakenOn] | None = None
) -> Told:
    """Return a study and its numbers as gradings see them; `taken` is of `taken_on`."""
    quantities = read_quantities(house)
    return Told(
        house=house,
        patient=study.patient,
        identity=study.identity,
        request=study.request,
        measurements=tuple(measurements),
        tables=read_meaning(house),
        symbols={key: item.symbol for key, item in quantities.items()},
        units={key: item.unit for key, item in quantities.items()},
        taken=taken or {},
    )


def believed(item: Measurement) -> tuple[bool, int, bool]:
    """Return the place of a number among those of other givers: the least is believed first."""
    place = next((at for at, giver in enumerate(_FIRST) if giver in item.given_by), len(_FIRST))
    return item.sheet_only, place, item.given_by != GIVEN_BY  # of two hands that of the desk before one in a file sent


def value_in(item: Measurement, unit: str) -> float | None:
    """Return a measurement's value in another unit, None where it has none or the unit is not that kind."""
    if item.value is None:
        return None
    try:
        return convert_unit(item.value, item.unit, unit)
    except UnitError:
        return None


def best_of(
    measurements: Iterable[Measurement], quantity: str, unit: str, *, highest: bool = False
) -> list[tuple[Measurement, float]]:
    """Return the values of a quantity by the giver who is believed first, each in `unit`; see `pick`."""
    found = [
        (item, abs(value) if unit == "m/s" else value)
        for item in measurements
        if item.name == quantity and (value := value_in(item, unit)) is not None
        if not is_bound(item) or (highest and item.validity.startswith("at least"))
    ]
    if not found:
        return []
    first = min(believed(item) for item, _ in found)
    found = [(item, value) for item, value in found if believed(item) == first]
    if not highest:
        found = [(item, value) for item, value in found if item.rank <= 1]  # of several clips the best alone
    if highest:
        return [max(found, key=lambda pair: pair[1])]
    return [(item, value) for item, value in found if item.label == found[0][0].label]


def pick(told: Told, quantity: str, unit: str, *, highest: bool = False) -> Input | None:
    """Return the value of a quantity that gradings use, None when nobody gave one.

    Parameters
    ----------
    told : Told
        The study.
    quantity : str
        Key of the quantity.
    unit : str
        In which the value is wanted.
    highest : bool
        For jets: the highest value counts and may be a bound ("at least"). Else several values of the giver who is
        believed first are averaged, those of one label only (a label names the convention) and of the best clip, and a
        bound is no value.
    """
    found = best_of(told.measurements, quantity, unit, highest=highest)
    if not found:
        return None
    item, value = found[0]
    said = f"{told.symbols[quantity]} "
    if len(found) > 1:
        values = [number for _, number in found]
        value = sum(values) / len(values)
        said += f"{say_value(value, unit)}, mean of {len(values)} ({min(values):.2f} to {max(values):.2f})"
    else:
        said += f"{'at least ' if is_bound(item) else ''}{say_value(value, unit)}"
    return Input(
        quantity=quantity,
        value=value,
        unit=unit,
        words=f"{said} ({item.given_by})",
        sheet_only=item.sheet_only,
        is_least=is_bound(item),
        method=item.method,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalSide:
    """Where a value lies to a published interval."""

    side: str  # "below", "inside", "above"
    source: str  # "STROHM2018", "from memory, confirm"

    @property
    def words(self) -> str:
        """As "lies within its interval (STROHM2018)"."""
        return f"lies {'within' if self.side == 'inside' else self.side} its interval ({self.source})"


def interval_side(told: Told, quantity: str, value: float, unit: str) -> IntervalSide | None:
    """Return where a value lies to the first published interval that needs no weight, None where none is.

    It serves to hold two numbers of one animal against each other; it calls nothing normal or abnormal.
    """
    for row in read_intervals(told.house).values():
        is_interval = row.kind is ReferenceKind.REFERENCE_INTERVAL and not needs_weight(row, quantity)
        if is_interval and quantity in row.quantities and row.species is told.patient.species and not row.breeds:
            try:
                side = place(convert_unit(value, unit, row.unit), work_out_limits(row, quantity, None))
            except UnitError:
                return None
            source = "from memory, confirm" if row.status == "memory" else row.citation
            return IntervalSide(side=side, source=source)
    return None


def short_axis_ratios(told: Told) -> tuple[Measurement, ...]:
    """Return the values of LA:Ao that nobody took in M-mode, whose cursor may miss the body of the atrium (WARE6)."""
    return tuple(
        item
        for item in told.measurements
        if item.name == "la_ao" and "m_mode" not in match_method(told.house, item.method).technique
    )


def pick_la_ao(told: Told) -> Input | None:
    """Return LA:Ao in the short axis, of several the one of early diastole; None where nobody gave one in 2-D."""
    return pick(told.among(tuple(sorted(short_axis_ratios(told), key=_off_moment))), "la_ao", "1")


def _off_moment(item: Measurement) -> int:
    """Return how far the stated moment lies from early diastole, in which atrium and aorta are compared."""
    text = f"{item.label} {item.method}"
    if _NO_MOMENT in text:
        return 2
    return int("end-diastole" in text)


def pick_lviddn(told: Told) -> Input | None:
    """Return LVIDd over BW^0.294 of a dog: as given, else from the diameter and the weight (CORNELL2004)."""
    given = pick(told, "lviddn", f"cm/kg^{LVIDD_EXPONENT}")
    if given is not None:
        return given
    size = pick(told, "lvidd", "cm")
    if size is None or told.patient.weight_kg is None:
        return None
    index = index_by_weight(size.value, told.patient.weight_kg, LVIDD_EXPONENT)
    words = f"LVIDDN {index:.2f}, from {size.words} and {told.patient.weight_kg:g} kg"
    return Input(
        quantity="lviddn", value=index, unit=f"cm/kg^{LVIDD_EXPONENT}", words=words, sheet_only=size.sheet_only,
        method=size.method,
    )  # fmt: skip
