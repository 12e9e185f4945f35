"""How far to move, as a range and never a point."""

from __future__ import annotations

from collections.abc import Sequence

from fanlight.reference.movements import MovementLimits
from fanlight.study import ProbeOffset

_UNITS = {"deg": "°", "mm": " mm"}


def size_words(offsets: Sequence[ProbeOffset], limits: MovementLimits) -> str:
    """Return the range of several offsets of one movement in words, with the largest step where it is far.

    Examples
    --------
    Of a tilt that lies between 6.2 and 13.8 degrees nine times in ten: "6° to 14°, in steps of 10° at most".
    """
    ends = [sorted((abs(one.low), abs(one.high))) if one.low * one.high > 0 else [0.0, max(abs(one.low), abs(one.high))]
            for one in offsets]  # fmt: skip
    least, most = offsets[0].limit, max(high for _, high in ends)
    low = max(min(low for low, _ in ends), least)
    unit = offsets[0].unit
    if unit == "spaces":
        return _spaces(low, most)
    step = limits.step_deg if unit == "deg" else limits.step_mm
    sign = _UNITS[unit]
    first, last = round(low), round(max(most, low))
    said = f"{first}{sign}" if first == last else f"{first}{sign} to {last}{sign}"
    return said if last <= step else f"{said}, in steps of {step:.0f}{sign} at most"


def _spaces(low: float, high: float) -> str:
    """Return so many spaces in words: nobody counts finer than half a space."""
    halves = [max(1, round(2 * value)) for value in (low, high)]
    names = {1: "half a space", 2: "one space", 3: "one and a half spaces", 4: "two spaces"}
    first, last = (names.get(half, f"{half / 2:g} spaces") for half in halves)
    return first if first == last else f"{first} to {last}"
