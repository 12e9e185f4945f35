"""What a person said about one file by hand: its view, and two points a known distance apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fanlight.study.geometry import Point
from fanlight.study.view import Valve


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedDistance:
    """Two points on a frame whose true distance is known, for example two ticks of the depth ruler."""

    start: Point  # (row, col) in pixels
    end: Point
    distance_mm: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.distance_mm) and self.distance_mm > 0):
            raise ValueError(f"distance_mm must be above 0, got {self.distance_mm}; state it in millimetres")
        if not self.length_px >= 2:
            # Closer than two pixels, the error of a click (about one pixel) is as large as the distance itself.
            raise ValueError(f"the two points must lie at least 2 px apart, got {self.length_px:g} px")

    @property
    def length_px(self) -> float:
        """Distance between the points in pixels of a square grid."""
        return math.dist(self.start, self.end)

    @property
    def mm_per_px(self) -> float:
        """Size of a pixel that these marks give."""
        return self.distance_mm / self.length_px


@dataclass(frozen=True, slots=True, kw_only=True)
class FileMarks:
    """Marks for one file, named as the user knows it. "" and None: not marked."""

    name: str
    view: str = ""
    valve: Valve | None = None
    scale: MarkedDistance | None = None
