"""Where landmarks were seen, by whom and how surely: in the picture's own geometry, frame by frame.

A person's point counts before the network's on the same frame. What the network does not name on a frame at which it
looked is probably not there; what a person did not mark says nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.reference.plane import PlaneSettings
from fanlight.study import (
    ClipReading,
    ClipTime,
    DrawnMark,
    FoundLandmark,
    Landmark,
    Layout,
    MarkKind,
    Picture,
    Point,
    Sector,
)

END_DIASTOLE, END_SYSTOLE, ANY = "end_diastole", "end_systole", "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A landmark on one frame. Lengths in rows of the picture, of square pixels, from the apex of the fan."""

    across: float  # above 0 right of the apex
    down: float
    spread: float  # one standard deviation of either
    share: float  # probability that it lies in the plane
    by_person: bool
    point: Point  # (row, col) on the screen


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """All that was seen on one frame."""

    frame: int  # counted from 0
    end: str  # of the beat
    places: Mapping[Landmark, Place]
    is_asked: bool  # the network looked at this frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """From the screen to the picture's own geometry."""

    picture: Picture
    mm_per_px: float | None  # of a row, None without a scale

    @classmethod
    def of(cls, layout: Layout) -> Grid | None:
        """Return the geometry of a clip, None where no picture was found."""
        if layout.picture is None:
            return None
        return cls(picture=layout.picture, mm_per_px=layout.scale.mm_per_row_px if layout.scale is not None else None)

    def square(self, point: Point) -> tuple[float, float]:
        """Return (across, down) of a point on the screen."""
        row, col = point
        if isinstance(self.picture, Sector):
            return (col - self.picture.apex_col_px) * self.picture.col_stretch, row - self.picture.apex_row_px
        box = self.picture.box
        return col - 0.5 * (box.col0 + box.col1 - 1), row - box.row0

    def aside(self, place: Place) -> float:
        """Return how far beside the middle of the picture a place lies, share of the half width, right above 0."""
        if isinstance(self.picture, Sector):
            middle = 0.5 * (self.picture.left_deg + self.picture.right_deg)
            return (self._angle_deg(place) - middle) / (self.picture.width_deg / 2)
        return place.across / (self.picture.box.width_px / 2)

    def aside_spread(self, place: Place) -> float:
        """Return the error of `aside`."""
        if isinstance(self.picture, Sector):
            radius = max(math.hypot(place.across, place.down), 1.0)
            return math.degrees(place.spread / radius) / (self.picture.width_deg / 2)
        return place.spread / (self.picture.box.width_px / 2)

    def from_rim(self, place: Place) -> float:
        """Return how far inside the picture a place lies: share of the depth to the nearest border."""
        depth = self.picture.depth_px
        if not isinstance(self.picture, Sector):
            inside = min(place.down, depth - place.down, self.picture.box.width_px / 2 - abs(place.across))
            return inside / depth
        radius, angle = math.hypot(place.across, place.down), self._angle_deg(place)
        to_side = min(angle - self.picture.left_deg, self.picture.right_deg - angle)
        side = radius * math.sin(math.radians(max(min(to_side, 90.0), -90.0)))
        return min(side, radius - self.picture.near_px, self.picture.far_px - radius) / depth

    @staticmethod
    def _angle_deg(place: Place) -> float:
        return math.degrees(math.atan2(place.across, place.down))


def moments_of(
    reading: ClipReading, drawn: Iterable[DrawnMark], grid: Grid, settings: PlaneSettings
) -> tuple[Moment, ...]:
    """Return what was seen frame by frame, rising; frames that hold nothing are left out."""
    found: dict[int, dict[Landmark, Place]] = {}
    looked_at = {item.frame for item in reading.picture.landmarks} if reading.picture is not None else set()
    for item in reading.picture.landmarks if reading.picture is not None else ():
        found.setdefault(item.frame, {})[Landmark[item.landmark]] = _recognised(item, grid)
    for mark in drawn:
        if mark.landmark and mark.kind is MarkKind.POINT:
            found.setdefault(mark.frame, {})[Landmark[mark.landmark]] = _marked(mark.points[0], grid, settings)
    return tuple(
        Moment(frame=frame, end=end_of(frame, reading.time, settings.beat_share), places=found[frame],
               is_asked=frame in looked_at)
        for frame in sorted(found)
    )  # fmt: skip


def _recognised(item: FoundLandmark, grid: Grid) -> Place:
    across, down = grid.square(item.point)
    return Place(
        across=across, down=down, spread=item.spread_px, share=item.probability, by_person=False, point=item.point
    )


def _marked(point: Point, grid: Grid, settings: PlaneSettings) -> Place:
    across, down = grid.square(point)
    spread = math.hypot(settings.person_px, settings.person_depth_share * grid.picture.depth_px)
    return Place(across=across, down=down, spread=spread, share=1.0, by_person=True, point=point)


def end_of(frame: int, time: ClipTime, beat_share: float) -> str:
    """Return which end of the beat a frame stands for, "any" where nobody knows."""
    period = time.beat_period_frames
    if not period or not time.end_diastole_frames or not time.end_systole_frames:
        return ANY
    from_diastole = min(abs(frame - end) for end in time.end_diastole_frames)
    from_systole = min(abs(frame - end) for end in time.end_systole_frames)
    if min(from_diastole, from_systole) > beat_share * period:
        return ANY
    return END_DIASTOLE if from_diastole <= from_systole else END_SYSTOLE


def mirrored(moments: tuple[Moment, ...]) -> tuple[Moment, ...]:
    """Return the same with left and right exchanged; points on the screen stay."""
    return tuple(
        replace(item, places={mark: replace(place, across=-place.across) for mark, place in item.places.items()})
        for item in moments
    )
