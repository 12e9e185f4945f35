"""What a person said about one file by hand: its mode, its view, its scale, and what was drawn on its frames."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from fanlight.study.geometry import Point
from fanlight.study.landmark import Landmark
from fanlight.study.mode import Mode
from fanlight.study.strip_scale import MarkedAxis
from fanlight.study.view import Valve


class MarkKind(StrEnum):
    """Shapes that a person draws on a frame."""

    POINT = "point"
    LINE = "line"
    ANGLE = "angle"
    TRACE = "trace"


# How many points a shape takes: least and most.
_POINTS: dict[MarkKind, tuple[int, float]] = {
    MarkKind.POINT: (1, 1),
    MarkKind.LINE: (2, 2),
    MarkKind.ANGLE: (3, 3),
    MarkKind.TRACE: (2, math.inf),
}


def fits(kind: MarkKind, points: tuple[Point, ...]) -> bool:
    """Return whether a shape of this kind takes so many points."""
    least, most = _POINTS[kind]
    return least <= len(points) <= most


def check_spread(spread_px: float | None) -> None:
    """Raise a ValueError where the spread of a proposed mark is none."""
    if spread_px is not None and not (math.isfinite(spread_px) and spread_px > 0):
        raise ValueError(
            f"proposed_spread_px must be above 0, got {spread_px}; leave it out of a mark that a person set"
        )


def points_wanted(kind: MarkKind) -> str:
    """Return how many points a shape of this kind takes, in words."""
    least, most = _POINTS[kind]
    return f"{least}" if least == most else f"at least {least}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnMark:
    """A point, line, angle or trace on one frame."""

    kind: MarkKind
    frame: int  # counted from 0
    points: tuple[Point, ...]  # (row, col) in pixels of the stored frame
    landmark: str = ""  # name of a Landmark
    label: str = ""  # what it is, in words
    # As the engine proposed it, unmoved: how well it placed each point, one standard deviation. None: set by a person.
    proposed_spread_px: float | None = None

    def __post_init__(self) -> None:
        if self.frame < 0:
            raise ValueError(f"frame must be 0 or more, got {self.frame}")
        check_spread(self.proposed_spread_px)
        if not fits(self.kind, self.points):
            raise ValueError(f"a {self.kind} takes {points_wanted(self.kind)} points, got {len(self.points)}")
        if self.landmark and self.landmark not in Landmark.__members__:
            raise ValueError(f"landmark {self.landmark!r} is not known; leave it empty and write a label")

    @property
    def title(self) -> str:
        """What was marked, in words; "" when nobody said."""
        return self.label or (Landmark[self.landmark].value if self.landmark else "")


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
    axes: tuple[MarkedAxis, ...] = ()  # of a strip
    drawn: tuple[DrawnMark, ...] = ()
    mode: Mode | None = None  # of the whole file; it goes before what pixels and file tell
