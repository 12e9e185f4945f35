"""Dilated cardiomyopathy of dogs: a score of major and minor points, with what is open as a range."""

from __future__ import annotations

from fanlight.reference.intervals import weigh
from fanlight.reference.repeatability import NOT_APART
from fanlight.reference.units import say_value
from fanlight.study import IntervalReading, ReferenceKind
from fanlight.validity.meaning.grade import Answer, Sheet, join
from fanlight.validity.meaning.inputs import Input, Told, pick, pick_la_ao

_DIAMETERS = ("lvidd", "lvids")
_MAJOR, _MINOR = 3, 1
# Minor signs that only a person can name, by their key.
_NAMED = ("arrhythmia_in_predisposed_breed", "atrial_fibrillation", "long_preejection")
_ATRIUM = "left_atrial_enlargement"


class _Points:
    """Counts points that are there, and points that are open."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.there = 0
        self.open = 0

    def judge(self, is_met: bool | None, points: int, what: str) -> None:
        """Take a criterion: met, not met, or None: nobody measured it."""
        if is_met is None:
            self.open += points
            self.sheet.missing.append(what)
        elif is_met:
            self.there += points
            self.sheet.notes.append(f"{points} {'points' if points > 1 else 'point'}: {what}.")


def dilated_cardiomyopathy(told: Told, sheet: Sheet) -> Answer:
    """Return the points, and whether they reach the score's limit with all that is open."""
    limits, points = sheet.limits, _Points(sheet)
    is_dilated, near = _is_dilated(told, sheet)
    points.judge(is_dilated, _MAJOR, "LVIDd or LVIDs above its limit")
    sphericity = _take(told, sheet, "sphericity_index", "1")
    points.judge(
        None if sphericity is None else sphericity.value < limits["sphericity_index"], _MAJOR,
        f"sphericity index below {limits['sphericity_index']:g}",
    )  # fmt: skip
    _judge_systole(told, sheet, points)
    epss = _take(told, sheet, "epss", "mm")
    points.judge(
        None if epss is None else epss.value > limits["epss"], _MINOR, f"EPSS above {say_value(limits['epss'], 'mm')}"
    )
    for key in _NAMED:
        points.judge(_was_named(told, key), _MINOR, told.tables.signs[key])
    points.judge(_is_atrium_large(told, sheet), _MINOR, told.tables.signs[_ATRIUM])
    result, reason = _answer(points.there, points.there + points.open, int(limits["points"]))
    if result and near:
        result += f", but {join(near)} cannot be told apart from the limit"
    return result, reason


def _answer(low: int, high: int, wanted: int) -> Answer:
    if low >= wanted:
        return f"{low} points or more: the score's limit of {wanted} is reached", ""
    if high < wanted:
        said = f"{low}" if low == high else f"{low} to {high}"
        return f"{said} points: the score's limit of {wanted} is not reached", ""
    return "", f"{low} points by what is known, up to {high} with what is open; the score's limit is {wanted}"


def _take(told: Told, sheet: Sheet, quantity: str, unit: str) -> Input | None:
    found = pick(told, quantity, unit)
    if found is not None:
        sheet.take(found, "")
    return found


def _was_named(told: Told, key: str) -> bool | None:
    return True if key in told.named.signs else False if key in told.named.signs_absent else None


def _is_atrium_large(told: Told, sheet: Sheet) -> bool | None:
    if (named := _was_named(told, _ATRIUM)) is not None:
        return named
    ratio = pick_la_ao(told)
    if ratio is not None:
        sheet.take(ratio, "")
    return None if ratio is None else ratio.value >= sheet.limits["la_ao"]


def _judge_systole(told: Told, sheet: Sheet, points: _Points) -> None:
    """Take FS and EF: a weak systole is a major point, a borderline FS alone a minor one."""
    limits = sheet.limits
    shortening = _take(told, sheet, "fractional_shortening", "%")
    ejection = _take(told, sheet, "ejection_fraction", "%")
    weak = f"FS below {limits['fs_low']:g} % or EF below {limits['ejection_fraction']:g} %"
    if shortening is None and ejection is None:
        points.judge(None, _MAJOR, weak)
        return
    is_weak = (shortening is not None and shortening.value < limits["fs_low"]) or (
        ejection is not None and ejection.value < limits["ejection_fraction"]
    )
    # "or" is only answered with no when both were measured
    is_open = not is_weak and (shortening is None or ejection is None)
    points.judge(None if is_open else is_weak, _MAJOR, weak)
    if not is_weak and shortening is not None:
        between = f"FS between {limits['fs_low']:g} and {limits['fs_border']:g} %"
        points.judge(shortening.value < limits["fs_border"], _MINOR, between)


def _is_dilated(told: Told, sheet: Sheet) -> tuple[bool | None, list[str]]:
    """Whether a diameter lies above its limit, and which lie too near to tell where all that decide do.

    The limit is the breed's cut-off where there is one, else that of the interval by weight.
    """
    above: dict[str, bool] = {}
    near: list[str] = []
    for quantity in _DIAMETERS:
        size = _take(told, sheet, quantity, "mm")
        reading = _limit_of(told, size) if size is not None else None
        if size is None or reading is None or reading.upper is None:
            continue
        symbol = told.symbols[quantity]
        above[symbol] = size.value > reading.upper
        if NOT_APART in reading.repeat_words:
            near.append(symbol)
        sheet.notes.append(f"{symbol}: limit {say_value(reading.upper, 'mm')} ({reading.citation}).")
    is_dilated = any(above.values())
    deciding = [symbol for symbol, is_above in above.items() if is_above == is_dilated]
    hangs_on = [symbol for symbol in deciding if symbol in near]
    is_open = not is_dilated and len(above) < len(_DIAMETERS)  # "or" is only answered with no when both were measured
    return (None if is_open else is_dilated), (hangs_on if hangs_on == deciding else [])


def _limit_of(told: Told, size: Input) -> IntervalReading | None:
    said = weigh(told.house, size.quantity, size.value, size.unit, size.method, told.patient, told.request)
    speaking = [item for item in said if item.applies and item.upper is not None]
    cutoffs = [item for item in speaking if item.kind is ReferenceKind.DIAGNOSTIC_CUTOFF]
    intervals = [item for item in speaking if item.kind is ReferenceKind.REFERENCE_INTERVAL and item.z is not None]
    return next(iter(cutoffs + intervals), None)
