"""What a person draws on frames. A point is ``(row, col)`` in pixels of the stored frame."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.store.action_checks import check_place, needs
from fanlight.store.action_words import MarkKind
from fanlight.study import Landmark, MarkedAxis, MarkedDistance, Point
from fanlight.study.marks import check_spread, fits, points_wanted


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawMark:
    """A point, line, angle or trace on one frame."""

    mark: str  # id made by the page
    clip: str
    frame: int
    kind: MarkKind
    points: tuple[Point, ...]
    landmark: str = ""  # name of a Landmark, e.g. "LV_APEX"; "" when `label` says what it is
    label: str = ""
    proposed_spread_px: float | None = None  # kept as the engine proposed it: its spread; None: set by a person

    def __post_init__(self) -> None:
        needs(self, mark=self.mark, clip=self.clip)
        check_place(self.frame, self.points)
        check_spread(self.proposed_spread_px)
        if not fits(self.kind, self.points):
            raise ValueError(f"points: a {self.kind} takes {points_wanted(self.kind)}, got {len(self.points)}")
        if self.landmark and self.landmark not in Landmark.__members__:
            raise ValueError(f"landmark {self.landmark!r} is not known; leave it empty and write a label")


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveMark:
    """A mark has new points, maybe on another frame."""

    mark: str
    clip: str
    frame: int
    points: tuple[Point, ...]

    def __post_init__(self) -> None:
        needs(self, mark=self.mark, clip=self.clip)
        check_place(self.frame, self.points)
        if not self.points:
            raise ValueError("points must not be empty; remove the mark instead")


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveMark:
    """A mark is taken off."""

    mark: str
    clip: str

    def __post_init__(self) -> None:
        needs(self, mark=self.mark, clip=self.clip)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetScale:
    """Two points a known distance apart tell the size of a pixel."""

    clip: str
    frame: int
    distance: MarkedDistance

    def __post_init__(self) -> None:
        needs(self, clip=self.clip)
        check_place(self.frame, (self.distance.start, self.distance.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetStripScale:
    """Two points of an M-mode or a spectrum tell what a pixel is in time or velocity, or where its baseline lies."""

    clip: str
    frame: int
    marked: MarkedAxis

    def __post_init__(self) -> None:
        needs(self, clip=self.clip)
        check_place(self.frame, (self.marked.start, self.marked.end))
