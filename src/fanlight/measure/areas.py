"""Which part of the screen is scaled how: pictures in mm, M-modes in ms and mm, spectra in ms and cm/s. Pure.

The scale of a part comes from the ultrasound regions of the file as far as the pixels bear them out (PS3.3 C.8.5.5);
what a person marked goes before it, in the part on which it was marked. `desk/static/areas.js` follows the same rules;
`tests/measure/read_out_cases.json` holds both to them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fanlight.study import (
    Box,
    Layout,
    MarkedAxis,
    MarkedDistance,
    PhysicalUnit,
    Point,
    Region,
    ScaleSource,
    Sector,
    SpatialFormat,
    StripAxis,
)

HAND_PX = 1.0  # how well a point is placed, one standard deviation in each direction (engineering judgement)
_SLACK_PX = 2.0  # a point set at the rim of a part by hand still belongs to it
_LEAST_STRIP = 0.1  # of the screen: less room beside the picture holds no strip (engineering judgement)
_LEAST_PX = 2.0  # rows of a depth marked on a strip: closer, the error of a hand is as large as the depth


class AreaKind(StrEnum):
    """What a part of the screen shows."""

    PICTURE = "picture"
    M_MODE = "M-mode"
    SPECTRUM = "spectrum"
    NONE = "not calibrated here"


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A part of the screen and what a pixel of it stands for; None: not known."""

    kind: AreaKind
    box: Box | None = None  # None: all that no area before it holds
    mm_per_row: float | None = None
    mm_per_col: float | None = None
    ms_per_col: float | None = None
    cm_s_per_row: float | None = None  # what a row further up adds: below 0 on an inverted display
    zero_row: float | None = None  # of a spectrum: the row of its baseline
    is_tissue: bool = False  # of a spectrum: muscle moves, no blood flows; 4·v² means nothing there
    # One standard deviation of each, as a share of it; of the baseline in rows. 0: taken as exact.
    mm_share: float = 0.0
    ms_share: float = 0.0
    cm_s_share: float = 0.0
    zero_row_px: float = 0.0

    def holds(self, point: Point) -> bool:
        """Return whether a point lies here."""
        if self.box is None:
            return True
        row, col = point
        return (
            self.box.row0 - _SLACK_PX <= row <= self.box.row1 - 1 + _SLACK_PX
            and self.box.col0 - _SLACK_PX <= col <= self.box.col1 - 1 + _SLACK_PX
        )


UNKNOWN = Area(kind=AreaKind.NONE)


def areas_of(
    layout: Layout, depth: MarkedDistance | None, marked: Iterable[MarkedAxis], *, holds_read: bool = False
) -> tuple[Area, ...]:
    """Return the scaled parts of a screen; of two that hold a point the first counts.

    Parameters
    ----------
    layout : Layout
        What the engine found.
    depth : MarkedDistance or None
        Two points of the depth scale that a person marked. They hold for the part in which both lie; where both lie
        in none, for all that nothing else calibrates; one here and one there, for nothing.
    marked : iterable of MarkedAxis
        What a person marked on a strip; of two on one axis the last counts. Where the file tells of no strip, it lies
        on that side of the picture on which everything was marked; on a screen without picture it is all of it; marks
        across the picture calibrate nothing.
    holds_read : bool, optional
        Whether a scale that the layout has from marked points still holds. Without, it is left out: what holds of it
        comes as `depth`.
    """
    if not holds_read and layout.scale is not None and layout.scale.source is ScaleSource.MARKED:
        layout = replace(layout, scale=None)
    axes = {item.axis: item for item in marked}
    trusted = [item.region for item in layout.regions if item.trusted]
    pictures = [region for region in trusted if region.spatial_format == SpatialFormat.TWO_D]
    strips = [area for region in trusted if (area := _strip(region)) is not None]
    if strips:
        held = [area for area in strips if axes and all(map(area.holds, _points_of(axes)))]
        strips = [_as_marked(area, axes) if not held or area in held else area for area in strips]
    elif axes:
        strips = [_as_marked(area, axes) for area in _untold_strip(layout, pictures, axes)]
    listed = [*strips, *_pictures(pictures, layout, depth is not None)]
    return tuple(listed if depth is None else _with_depth(listed, layout, depth))


def area_at(points: Iterable[Point], areas: Iterable[Area]) -> Area:
    """Return the area that holds all points, `UNKNOWN` where they lie in none or in several."""
    listed = tuple(areas)
    found = {next((area for area in listed if area.holds(point)), UNKNOWN) for point in points}
    return found.pop() if len(found) == 1 else UNKNOWN


def _with_depth(areas: list[Area], layout: Layout, depth: MarkedDistance) -> list[Area]:
    ends = (depth.start, depth.end)
    places = {next((n for n, area in enumerate(areas) if area.holds(end)), None) for end in ends}
    if len(places) > 1:
        return areas
    place = places.pop()
    if place is None:
        stretch = layout.picture.col_stretch if isinstance(layout.picture, Sector) else 1.0
        return [*areas, _scaled(Area(kind=AreaKind.PICTURE, mm_per_row=1.0, mm_per_col=stretch), depth)]
    return [_scaled(area, depth) if n == place else area for n, area in enumerate(areas)]


def _scaled(area: Area, depth: MarkedDistance) -> Area:
    """Return an area with the millimetres of two points in it; the shape of its pixels stays the file's."""
    down, across = (abs(b - a) for a, b in zip(depth.start, depth.end, strict=True))
    if area.kind is AreaKind.M_MODE:  # columns are time: the rows alone tell of depth
        if down < _LEAST_PX:
            return area
        return replace(area, mm_per_row=depth.distance_mm / down, mm_share=hand_share(down))
    if area.kind is not AreaKind.PICTURE or not area.mm_per_row or not area.mm_per_col:
        return area
    stretch = area.mm_per_col / area.mm_per_row
    length = math.hypot(down, across * stretch)  # in pixels of the row axis
    mm = depth.distance_mm / length
    # Each end errs by a pixel in each direction; a column counts for `stretch` of a row.
    error_px = HAND_PX * math.sqrt(2) * math.hypot(down, across * stretch * stretch) / length
    return replace(area, mm_per_row=mm, mm_per_col=mm * stretch, mm_share=error_px / length)


def hand_share(length_px: float) -> float:
    """Return the standard deviation of a length between two points set by hand, as a share of it."""
    return math.sqrt(2) * HAND_PX / length_px


def _strip(region: Region) -> Area | None:
    if region.spatial_format == SpatialFormat.M_MODE and region.delta_y:
        return Area(
            kind=AreaKind.M_MODE,
            box=region.box,
            mm_per_row=abs(region.delta_y) * 10.0,  # centimetres in the standard
            ms_per_col=abs(region.delta_x) * 1000.0 if region.delta_x else None,  # seconds in the standard
        )
    is_velocity = region.spatial_format == SpatialFormat.SPECTRAL and region.unit_y == PhysicalUnit.CM_PER_S
    if not (is_velocity and region.delta_x and region.delta_y):
        return None
    zero = None
    if region.reference_row_px is not None:
        # The reference pixel counts from the region's own corner and has the reference value (PS3.3 C.8.5.5.1.9).
        zero = region.box.row0 + region.reference_row_px - (region.reference_value_y or 0.0) / region.delta_y
    return Area(
        kind=AreaKind.SPECTRUM,
        box=region.box,
        ms_per_col=abs(region.delta_x) * 1000.0,
        # The step is what a row further down adds (PS3.3 C.8.5.5): above 0 the display is inverted, up is away.
        cm_s_per_row=-region.delta_y,
        zero_row=zero,
    )


def _as_marked(area: Area, axes: dict[StripAxis, MarkedAxis]) -> Area:
    """Return a strip with what a person marked in place of what the file says."""
    if (time := axes.get(StripAxis.TIME)) is not None:
        area = replace(area, ms_per_col=time.per_px, ms_share=hand_share(time.length_px))
    if (velocity := axes.get(StripAxis.VELOCITY)) is not None:
        # A hand marks the size of a row; which way is towards the probe stays as the file says, else it is up.
        step = math.copysign(velocity.per_px, area.cm_s_per_row or 1.0)
        area = replace(
            area, kind=AreaKind.SPECTRUM, mm_per_row=None, mm_share=0.0, cm_s_per_row=step,
            cm_s_share=hand_share(velocity.length_px),
        )  # fmt: skip
    if (baseline := axes.get(StripAxis.BASELINE)) is not None:
        area = replace(area, zero_row=baseline.start[0], zero_row_px=HAND_PX)
    return area


def _points_of(axes: dict[StripAxis, MarkedAxis]) -> list[Point]:
    return [point for item in axes.values() for point in (item.start, item.end)]


def _untold_strip(layout: Layout, pictures: Sequence[Region], axes: dict[StripAxis, MarkedAxis]) -> list[Area]:
    """Return the strip that no region tells of, and that a person marked; none where the marks lie on the picture."""
    picture = _picture_box(layout, pictures)
    if picture is None:
        scale = layout.scale
        mm, share = (None, 0.0) if scale is None else (scale.mm_per_row_px, scale.uncertainty_fraction)
        return [Area(kind=AreaKind.M_MODE, mm_per_row=mm, mm_share=share)]
    # The millimetres of the picture are not the strip's: machines draw a strip at another size.
    beside = [Area(kind=AreaKind.M_MODE, box=box) for box in _room_beside(picture, layout.rows, layout.cols)]
    return [area for area in beside if all(map(area.holds, _points_of(axes)))][:1]


def _picture_box(layout: Layout, pictures: Sequence[Region]) -> Box | None:
    """Return the upright box around the picture, or None where none is known."""
    if isinstance(layout.picture, Sector):
        return _sector_box(layout.picture)
    if layout.picture is not None:
        return layout.picture.box
    if not pictures:
        return None
    boxes = [region.box for region in pictures]
    return Box(
        row0=min(box.row0 for box in boxes), col0=min(box.col0 for box in boxes),
        row1=max(box.row1 for box in boxes), col1=max(box.col1 for box in boxes),
    )  # fmt: skip


def _sector_box(sector: Sector) -> Box:
    corners = [sector.point(depth, beam) for depth in (0.0, 1.0) for beam in (0.0, 1.0)]
    rows, cols = [row for row, _ in corners], [col for _, col in corners]
    return Box(
        row0=math.floor(min(rows)),
        col0=math.floor(min(cols)),
        row1=math.floor(sector.apex_row_px + sector.far_px) + 1,
        col1=math.floor(max(cols)) + 1,
    )


def _room_beside(picture: Box, rows: int, cols: int) -> list[Box]:
    """Return the room for a strip below, right, left and above of the picture, where there is enough of it."""
    down, right = (1 - _LEAST_STRIP) * rows, (1 - _LEAST_STRIP) * cols
    room: list[Box] = []
    if 0 < picture.row1 <= down:
        room.append(Box(row0=picture.row1, col0=0, row1=rows, col1=cols))
    if 0 < picture.col1 <= right:
        room.append(Box(row0=0, col0=picture.col1, row1=rows, col1=cols))
    if cols > picture.col0 >= cols - right:
        room.append(Box(row0=0, col0=0, row1=rows, col1=picture.col0))
    if rows > picture.row0 >= rows - down:
        room.append(Box(row0=0, col0=0, row1=picture.row0, col1=cols))
    return room


def _pictures(regions: Sequence[Region], layout: Layout, is_marked: bool) -> list[Area]:
    scale = layout.scale
    if scale is None and not (is_marked and regions):
        return []
    if scale is not None and len(regions) <= 1:
        scaled = Area(
            kind=AreaKind.PICTURE, mm_per_row=scale.mm_per_row_px, mm_per_col=scale.mm_per_col_px,
            mm_share=scale.uncertainty_fraction,
        )  # fmt: skip
        return [replace(scaled, box=regions[0].box) if regions else scaled]
    # Several pictures, or a mark elsewhere that contradicts the scale: each region tells of itself.
    return [
        Area(
            kind=AreaKind.PICTURE,
            box=region.box,
            mm_per_row=abs(region.delta_y) * 10.0,
            mm_per_col=abs(region.delta_x) * 10.0,
            mm_share=0.0 if scale is None else scale.uncertainty_fraction,
        )
        for region in regions
        if region.delta_x and region.delta_y
    ]
