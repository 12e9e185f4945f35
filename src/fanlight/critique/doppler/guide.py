"""The guide picture of a spectrum, read once for all families: its cursor, its gate, its scale, and the flow's axis."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.doppler.spectrum_frames import SpectrumFrames
from fanlight.critique.doppler.valve_plane import CENTRES, HINGES
from fanlight.frames.doppler.cursor import find_cursor, find_guide
from fanlight.study import DrawnMark, Landmark, MarkKind, PhysicalUnit, Point, Region, Sector, SpatialFormat, Valve

_NAME = "doppler.guide"
_FEWEST_LINE_PX = 6.0  # of an axis: shorter, an error of a pixel turns it by ten degrees
FLOW_AXIS = "flow axis"  # label of a line that a person lays along the flow

# From the ring with the flow: two marks that give the axis. The first of each group that is marked counts.
_BEYOND: dict[Valve, tuple[Landmark, ...]] = {
    Valve.MITRAL: (Landmark.LV_APEX, Landmark.MITRAL_TIPS),
    Valve.TRICUSPID: (Landmark.RV_APEX, Landmark.RV_CENTRE),
    Valve.AORTIC: (Landmark.AORTIC_ASCENDING, Landmark.AORTIC_SINUS_CENTRE),
    Valve.PULMONIC: (Landmark.PULMONARY_BIFURCATION,),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """Where the guide lies and what is drawn on it. Angles are in the picture, from straight down."""

    sector: Sector
    cursor_deg: float | None
    gate: Point | None  # (row, col)
    mm_per_px: float | None
    how: str  # where the cursor is known from, or why it is not


def guide_of(context: ClipContext, frames: SpectrumFrames) -> Guide | str:
    """Return the guide of a spectrum, or why there is none to go by."""
    if _NAME not in context.shared:
        context.shared[_NAME] = _read(context, frames)
    found = context.shared[_NAME]
    assert isinstance(found, Guide | str)
    return found


def _read(context: ClipContext, frames: SpectrumFrames) -> Guide | str:
    assert frames.axes is not None
    sector = find_guide(context.layout.picture, frames.grey, frames.axes.box)
    if sector is None:
        return "no guide picture was found beside the strip"
    region = _guide_region(context)
    mm_per_px = None if region is None else _mm_per_px(region)
    cursor = find_cursor(frames.pixels, sector)
    if cursor is not None:
        how = "the cursor drawn on the guide"
        return Guide(sector=sector, cursor_deg=cursor.angle_deg, gate=cursor.gate, mm_per_px=mm_per_px, how=how)
    told = None if region is None else _told_cursor(region, sector)
    if told is not None:
        return Guide(
            sector=sector, cursor_deg=told[0], gate=told[1], mm_per_px=mm_per_px,
            how="the place of the cursor that the file states",
        )  # fmt: skip
    return Guide(
        sector=sector, cursor_deg=None, gate=None, mm_per_px=mm_per_px,
        how="no cursor stands out on the guide, and the file does not state it",
    )  # fmt: skip


def _guide_region(context: ClipContext) -> Region | None:
    trusted = (item.region for item in context.layout.regions if item.trusted)
    return next((region for region in trusted if region.spatial_format == SpatialFormat.TWO_D), None)


def _mm_per_px(region: Region) -> float | None:
    is_cm = region.unit_x == PhysicalUnit.CM and region.unit_y == PhysicalUnit.CM
    return 10.0 * abs(region.delta_y) if is_cm and region.delta_y else None


def _told_cursor(region: Region, sector: Sector) -> tuple[float, Point | None] | None:
    """Return angle and gate as the file states them, counted from the region's reference pixel."""
    if region.m_line_px is None or region.reference_row_px is None or region.reference_col_px is None:
        return None
    row0, col0 = region.box.row0 + region.reference_row_px, region.box.col0 + region.reference_col_px
    top, left, bottom, right = region.m_line_px
    angle = math.degrees(math.atan2((right - left) * sector.col_stretch, bottom - top))
    gate = region.sample_volume_px
    return angle, None if gate is None else (row0 + gate[0], col0 + gate[1])


def marked_point(marks: Iterable[DrawnMark], landmarks: tuple[Landmark, ...]) -> Point | None:
    """Return the middle of these landmarks where all of them are marked as points."""
    points = []
    for landmark in landmarks:
        found = next((m for m in marks if m.kind is MarkKind.POINT and m.landmark == landmark.name), None)
        if found is None:
            return None
        points.append(found.points[0])
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


def ring_point(marks: tuple[DrawnMark, ...], valve: Valve) -> Point | None:
    """Return the middle of a valve's ring from marks."""
    groups = ((CENTRES[valve],), HINGES.get(valve, ()))
    return next((p for group in groups if group and (p := marked_point(marks, group)) is not None), None)


def ring_width_px(marks: tuple[DrawnMark, ...], valve: Valve) -> float | None:
    """Return the width of a valve's ring from the marks of its two hinges."""
    ends = [marked_point(marks, (landmark,)) for landmark in HINGES.get(valve, ())]
    return math.dist(ends[0], ends[1]) if len(ends) == 2 and ends[0] is not None and ends[1] is not None else None


def marked_axis(marks: tuple[DrawnMark, ...], valve: Valve | None) -> tuple[Point, Point] | None:
    """Return two points along the flow: a line labelled as its axis, else the ring and what lies beyond it."""
    for mark in marks:
        if mark.kind is MarkKind.LINE and FLOW_AXIS in mark.label.casefold():
            return _long_enough(mark.points[0], mark.points[1])
    if valve is None:
        return None
    ring = ring_point(marks, valve)
    beyond = next((p for one in _BEYOND[valve] if (p := marked_point(marks, (one,))) is not None), None)
    return None if ring is None or beyond is None else _long_enough(ring, beyond)


def _long_enough(start: Point, end: Point) -> tuple[Point, Point] | None:
    return (start, end) if math.dist(start, end) >= _FEWEST_LINE_PX else None


def angle_between_deg(sector: Sector, cursor_deg: float, axis: tuple[Point, Point]) -> float:
    """Return the angle between cursor and axis in the picture, 0 to 90."""
    (row0, col0), (row1, col1) = axis
    turn = math.degrees(math.atan2((col1 - col0) * sector.col_stretch, row1 - row0)) - cursor_deg
    turn = abs((turn + 90.0) % 180.0 - 90.0)
    return turn
