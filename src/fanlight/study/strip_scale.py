"""What a person marked on a strip, an M-mode or a spectrum, to say how its axes are scaled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.geometry import Point


class StripAxis(StrEnum):
    """What two points on a strip tell."""

    TIME = "time"  # ms across
    VELOCITY = "velocity"  # cm/s upwards
    BASELINE = "baseline"  # where the velocity is 0; the first point counts


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedAxis:
    """Two points of a strip and what lies between them, along one axis only."""

    axis: StripAxis
    start: Point  # (row, col) in pixels
    end: Point
    amount: float  # ms or cm/s between the points; 0 for the baseline

    def __post_init__(self) -> None:
        if self.axis is StripAxis.BASELINE:
            return
        unit, across = ("ms", "columns") if self.axis is StripAxis.TIME else ("cm/s", "rows")
        if not (math.isfinite(self.amount) and self.amount > 0):
            raise ValueError(f"amount must be above 0 {unit}, got {self.amount}")
        if not self.length_px >= 2:
            # Closer than two pixels, the error of a click (about one pixel) is as large as the distance itself.
            raise ValueError(f"the two points must lie at least 2 {across} apart, got {self.length_px:g}")

    @property
    def length_px(self) -> float:
        """Pixels between the points along the axis."""
        place = 1 if self.axis is StripAxis.TIME else 0
        return abs(self.end[place] - self.start[place])

    @property
    def per_px(self) -> float:
        """What a pixel stands for, ms or cm/s."""
        return self.amount / self.length_px
