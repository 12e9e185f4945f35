"""A measurement as a person would take it: a number, the lines it was read from, and the convention followed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]  # (row, col) on the label map
Line = tuple[Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caliper:
    """One number read from a label map, or the reason why there is none."""

    name: str  # what was measured, "lv_internal_diameter"
    convention: str  # how, in words
    value: float | None
    unit: str  # "mm", "mm2", "mL", "deg", "%", "1"
    lines: tuple[Line, ...] = ()  # ends of each line, (row, col); for a ratio those of both parts
    remark: str = ""  # what a reader should know of this value
    reason: str = ""  # why there is no value

    def __post_init__(self) -> None:
        if (self.value is None) != bool(self.reason):
            raise ValueError(f"caliper {self.name!r} needs either a value or the reason why there is none")

    def to(self, name: str) -> Caliper:
        """Return the same measurement under another name."""
        return Caliper(
            name=name,
            convention=self.convention,
            value=self.value,
            unit=self.unit,
            lines=self.lines,
            remark=self.remark,
            reason=self.reason,
        )


def line(first_px: NDArray[np.float64], second_px: NDArray[np.float64]) -> Line:
    """Return the line between two points (row, col)."""
    return (float(first_px[0]), float(first_px[1])), (float(second_px[0]), float(second_px[1]))


def length_mm(a_line: Line, mm_per_px: float) -> float:
    """Return the length of a line on a map."""
    (row_a, col_a), (row_b, col_b) = a_line
    return float(np.hypot(row_b - row_a, col_b - col_a)) * mm_per_px


def no_value(name: str, convention: str, unit: str, reason: str) -> Caliper:
    """Return a measurement that could not be taken."""
    return Caliper(name=name, convention=convention, value=None, unit=unit, reason=reason)


def ratio(name: str, over: Caliper, under: Caliper, convention: str = "") -> Caliper:
    """Return one length over another, or the reason of the one that is missing.

    Raises
    ------
    ValueError
        If the two have different units.
    """
    said = convention or f"({over.convention}) over ({under.convention})"
    if over.unit != under.unit:
        raise ValueError(f"{name}: cannot divide {over.unit} by {under.unit}")
    for part in (over, under):
        if part.value is None:
            return no_value(name, said, "1", part.reason)
    assert over.value is not None
    assert under.value is not None
    if under.value <= 0:
        return no_value(name, said, "1", f"{under.name} is 0")
    return Caliper(
        name=name,
        convention=said,
        value=over.value / under.value,
        unit="1",
        lines=over.lines + under.lines,
        remark="; ".join(part.remark for part in (over, under) if part.remark),
    )
