"""How the cursor of an M-mode lies on the guide picture beside its strip, held against what was marked there."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.cursor import find_cursor, find_guide
from fanlight.frames.polar import to_grey
from fanlight.measure.areas import HAND_PX
from fanlight.measure.strip_part import StripPart
from fanlight.study import (
    ENGINE,
    Box,
    DrawnMark,
    Landmark,
    Layout,
    MarkKind,
    Measurement,
    PhysicalUnit,
    Point,
    Region,
    Sector,
    SpatialFormat,
)

# Labels of lines that a person lays on the guide.
SEPTUM_LINE, RING_LINE, CURSOR_LINE = "septum line", "ring line", "cursor line"
CURSOR_FOUND = "cursor on the guide, from straight down"
# Of a cursor found in the pixels: 0.6 (RMS) and 1.24 at most on 20 drawn guides of five screens, four angles each.
_FOUND_ERROR_DEG = 0.7
_FEWEST_LINE_PX = 6.0  # of a line by hand: shorter, an error of a pixel turns it by ten degrees
_SHORT_AXIS = "short_axis"  # in the keys of views: there the ventricle is round about its centre
_TO_SEPTUM = (StripPart.LEFT_VENTRICLE, StripPart.MITRAL_LEAFLETS)


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideCursor:
    """How a cursor lies in the plane of its guide; out of that plane nothing is known of it."""

    part: StripPart
    aslant_deg: float  # from square to the septum; from along the way of the ring. 0 to 90
    error_deg: float  # one standard deviation
    beside_mm: float | None = None  # of the middle of the ventricle, in a short axis; None: not known
    beside_error_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cursor:
    angle_deg: float  # from straight down, positive to the right
    error_deg: float
    through: Point | None  # None: where it runs is not known well enough


@dataclass(frozen=True, slots=True, kw_only=True)
class _Guide:
    box: Box
    col_stretch: float  # width of a pixel divided by its height
    mm_per_px: float | None  # of the rows
    region: Region | None

    def holds(self, points: Iterable[Point]) -> bool:
        box = self.box
        return all(box.row0 <= row < box.row1 and box.col0 <= col < box.col1 for row, col in points)

    def angle_deg(self, start: Point, end: Point) -> float:
        """Return the direction of a line from straight down, -90 to 90."""
        turn = math.degrees(math.atan2((end[1] - start[1]) * self.col_stretch, end[0] - start[0]))
        return (turn + 90.0) % 180.0 - 90.0


def find_cursor_angle(pixels: NDArray[np.uint8], layout: Layout, strip: Box, frame: int) -> Measurement | None:
    """Return the angle of the cursor that is drawn on the guide, where the file does not state it and one is seen.

    Parameters
    ----------
    pixels : ndarray of shape (row, col) or (row, col, 3), uint8
        The screen.
    layout : Layout
    strip : Box
        Where the strip lies on it.
    frame : int
        Number of the screen's frame, from 0.
    """
    region = _region(layout)
    if region is not None and region.m_line_px is not None:
        return None
    sector = find_guide(layout.picture, np.asarray(to_grey(pixels[None])[0], np.uint8), strip)
    cursor = None if sector is None else find_cursor(pixels, sector)
    if cursor is None:
        return None
    return Measurement(
        name="", label=CURSOR_FOUND, value=cursor.angle_deg, unit="°", uncertainty=_FOUND_ERROR_DEG, frames=(frame,),
        method="the line that is drawn on the guide picture/1", given_by=ENGINE,
    )  # fmt: skip


def judge_cursor(
    part: StripPart | None,
    view: str,
    layout: Layout,
    measured: Iterable[Measurement],
    drawn: tuple[DrawnMark, ...],
) -> GuideCursor | None:
    """Return how the cursor lies to the septum or to the way of the ring; None where one of the two is not known.

    Parameters
    ----------
    part : StripPart or None
        What the strip runs through.
    view : str
        Key of the view.
    layout : Layout
    measured : iterable of Measurement
        Of the strip: the angle that was found in the pixels may be among them.
    drawn : tuple of DrawnMark
        On the clip. Only what lies on the guide counts; of two lines of one name the last.

    Notes
    -----
    The cursor is a line by hand, else what the file states (TM Line Position, PS3.3 C.8.5.5.1.10), else what was found
    in the pixels. The network is never asked of an M-mode, so that septum and ring are known by marks alone.
    """
    guide = _guide(layout)
    against = None if guide is None or part is None else _against(part, guide, drawn)
    cursor = None if guide is None else _cursor(guide, measured, drawn)
    if guide is None or part is None or against is None or cursor is None:
        return None
    turn = abs((guide.angle_deg(*against) - cursor.angle_deg + 90.0) % 180.0 - 90.0)
    beside = None
    if part is StripPart.LEFT_VENTRICLE and _SHORT_AXIS in view:
        beside = _beside_mm(guide, cursor, drawn)
    return GuideCursor(
        part=part, aslant_deg=90.0 - turn if part in _TO_SEPTUM else turn,
        error_deg=math.hypot(cursor.error_deg, _hand_error_deg(*against)), beside_mm=beside,
        beside_error_mm=math.sqrt(2.0) * HAND_PX * (guide.mm_per_px or 0.0),
    )  # fmt: skip


def _region(layout: Layout) -> Region | None:
    trusted = (item.region for item in layout.regions if item.trusted)
    return next((region for region in trusted if region.spatial_format == SpatialFormat.TWO_D), None)


def _guide(layout: Layout) -> _Guide | None:
    """Return where the guide lies: as the file says, else the fan that was found."""
    region, picture = _region(layout), layout.picture
    if region is not None:
        is_cm = region.unit_x == PhysicalUnit.CM and region.unit_y == PhysicalUnit.CM
        if is_cm and region.delta_x and region.delta_y:
            down = abs(region.delta_y)
            return _Guide(box=region.box, col_stretch=abs(region.delta_x) / down, mm_per_px=10.0 * down, region=region)
        return _Guide(box=region.box, col_stretch=1.0, mm_per_px=None, region=region)
    if not isinstance(picture, Sector):
        return None
    ends = [picture.point(depth, beam) for depth in (0.0, 1.0) for beam in (0.0, 0.5, 1.0)]
    rows, cols = zip(*ends, strict=True)
    box = Box(
        row0=max(int(min(rows)), 0), col0=max(int(min(cols)), 0), row1=math.ceil(max(rows)) + 1,
        col1=math.ceil(max(cols)) + 1,
    )  # fmt: skip
    return _Guide(box=box, col_stretch=picture.col_stretch, mm_per_px=None, region=None)


def _line(guide: _Guide, drawn: tuple[DrawnMark, ...], label: str) -> tuple[Point, Point] | None:
    """Return the last line of this name that lies on the guide and is long enough to have a direction."""
    for mark in reversed(drawn):
        is_named = mark.kind is MarkKind.LINE and mark.label.strip().casefold() == label
        if is_named and guide.holds(mark.points) and math.dist(*mark.points) >= _FEWEST_LINE_PX:
            return mark.points[0], mark.points[1]
    return None


def _point(guide: _Guide, drawn: tuple[DrawnMark, ...], landmark: Landmark) -> Point | None:
    for mark in reversed(drawn):
        if mark.kind is MarkKind.POINT and mark.landmark == landmark.name and guide.holds(mark.points):
            return mark.points[0]
    return None


def _against(part: StripPart, guide: _Guide, drawn: tuple[DrawnMark, ...]) -> tuple[Point, Point] | None:
    """Return two points along the septum, or along the way of the ring."""
    if part in _TO_SEPTUM:
        return _line(guide, drawn, SEPTUM_LINE)
    return _line(guide, drawn, RING_LINE) if part is StripPart.TRICUSPID_RING else None


def _cursor(guide: _Guide, measured: Iterable[Measurement], drawn: tuple[DrawnMark, ...]) -> _Cursor | None:
    by_hand = _line(guide, drawn, CURSOR_LINE)
    if by_hand is not None:
        return _Cursor(angle_deg=guide.angle_deg(*by_hand), error_deg=_hand_error_deg(*by_hand), through=by_hand[0])
    if (stated := _stated(guide)) is not None:
        return _Cursor(angle_deg=guide.angle_deg(*stated), error_deg=_pixel_error_deg(*stated), through=stated[0])
    found = next((item for item in measured if item.label == CURSOR_FOUND and item.value is not None), None)
    if found is None or found.value is None:
        return None
    return _Cursor(angle_deg=found.value, error_deg=found.uncertainty or 0.0, through=None)


def _stated(guide: _Guide) -> tuple[Point, Point] | None:
    """Return the ends of the cursor as the file states them, counted from the region's reference pixel."""
    region = guide.region
    if region is None or region.m_line_px is None or None in (region.reference_row_px, region.reference_col_px):
        return None
    row = region.box.row0 + (region.reference_row_px or 0.0)
    col = region.box.col0 + (region.reference_col_px or 0.0)
    top, left, bottom, right = region.m_line_px
    start, end = (row + top, col + left), (row + bottom, col + right)
    return (start, end) if math.dist(start, end) >= _FEWEST_LINE_PX else None


def _hand_error_deg(start: Point, end: Point) -> float:
    return math.degrees(math.atan(math.sqrt(2.0) * HAND_PX / math.dist(start, end)))


def _pixel_error_deg(start: Point, end: Point) -> float:
    """Return the error of a line between whole pixels: each end is even over one pixel (GUM 4.3.7)."""
    return math.degrees(math.atan(math.sqrt(2.0 / 12.0) / math.dist(start, end)))


def _beside_mm(guide: _Guide, cursor: _Cursor, drawn: tuple[DrawnMark, ...]) -> float | None:
    """Return how far the cursor runs from the middle of the ventricle, where that is marked and all is known."""
    middle = _point(guide, drawn, Landmark.LV_CENTRE)
    if middle is None or cursor.through is None or guide.mm_per_px is None:
        return None
    turn = math.radians(cursor.angle_deg)
    down, across = middle[0] - cursor.through[0], (middle[1] - cursor.through[1]) * guide.col_stretch
    return abs(across * math.cos(turn) - down * math.sin(turn)) * guide.mm_per_px
