"""Which part of the screen is scaled how: pictures in mm, M-modes in ms and mm, spectra in ms and cm/s. Pure.

The scale of a part comes from the ultrasound regions of the file as far as the pixels bear them out (PS3.3 C.8.5.5);
what a person marked goes before it. `desk/static/areas.js` follows the same rules; `tests/measure/read_out_cases.json`
holds both to them.
"""

from __future__ import annotations

from collections.abc import Iterable
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
    Sector,
    SpatialFormat,
    StripAxis,
)

_SLACK_PX = 2.0  # a point set at the rim of a part by hand still belongs to it
_LEAST_STRIP = 0.1  # of the rows: less room below the picture holds no strip (engineering judgement)


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
    cm_s_per_row: float | None = None
    zero_row: float | None = None  # of a spectrum: the row of its baseline

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


def areas_of(layout: Layout, depth: MarkedDistance | None, marked: Iterable[MarkedAxis]) -> tuple[Area, ...]:
    """Return the scaled parts of a screen; of two that hold a point the first counts.

    Parameters
    ----------
    layout : Layout
        What the engine found.
    depth : MarkedDistance or None
        Two points of the depth scale that a person marked.
    marked : iterable of MarkedAxis
        What a person marked on a strip; of two on one axis the last counts.
    """
    axes = {item.axis: item for item in marked}
    trusted = [item.region for item in layout.regions if item.trusted]
    strips = [area for region in trusted if (area := _strip(region)) is not None]
    if axes and not strips:
        strips = [Area(kind=AreaKind.M_MODE, box=_strip_box(layout), mm_per_row=_mm_per_row(layout, depth))]
    strips = [_as_marked(area, axes, depth) for area in strips]
    pictures = [region for region in trusted if region.spatial_format == SpatialFormat.TWO_D]
    return (*strips, *_pictures(pictures, layout, depth))


def area_at(points: Iterable[Point], areas: Iterable[Area]) -> Area:
    """Return the area that holds all points, `UNKNOWN` where they lie in none or in several."""
    listed = tuple(areas)
    found = {next((area for area in listed if area.holds(point)), UNKNOWN) for point in points}
    return found.pop() if len(found) == 1 else UNKNOWN


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
        # Files give the step with either sign; above the baseline counts as positive here, as it stands on the screen.
        cm_s_per_row=abs(region.delta_y),
        zero_row=zero,
    )


def _as_marked(area: Area, axes: dict[StripAxis, MarkedAxis], depth: MarkedDistance | None) -> Area:
    """Return a strip with what a person marked in place of what the file says."""
    if StripAxis.TIME in axes:
        area = replace(area, ms_per_col=axes[StripAxis.TIME].per_px)
    if StripAxis.VELOCITY in axes:
        area = replace(area, kind=AreaKind.SPECTRUM, mm_per_row=None, cm_s_per_row=axes[StripAxis.VELOCITY].per_px)
    if StripAxis.BASELINE in axes:
        area = replace(area, zero_row=axes[StripAxis.BASELINE].start[0])
    if area.kind is AreaKind.M_MODE and depth is not None:
        area = replace(area, mm_per_row=depth.mm_per_px)
    return area


def _mm_per_row(layout: Layout, depth: MarkedDistance | None) -> float | None:
    if depth is not None:
        return depth.mm_per_px
    return None if layout.scale is None else layout.scale.mm_per_row_px


def _strip_box(layout: Layout) -> Box | None:
    """Return where a strip lies that no region tells of: below the picture; None: the whole screen."""
    if not isinstance(layout.picture, Sector):
        return None
    row0 = int(layout.picture.apex_row_px + layout.picture.far_px) + 1
    if not 0 < row0 <= (1 - _LEAST_STRIP) * layout.rows:
        return None
    return Box(row0=row0, col0=0, row1=layout.rows, col1=layout.cols)


def _pictures(regions: list[Region], layout: Layout, depth: MarkedDistance | None) -> list[Area]:
    if depth is not None:
        return [Area(kind=AreaKind.PICTURE, mm_per_row=depth.mm_per_px, mm_per_col=depth.mm_per_px)]
    if layout.scale is None:
        return []
    scaled = Area(kind=AreaKind.PICTURE, mm_per_row=layout.scale.mm_per_row_px, mm_per_col=layout.scale.mm_per_col_px)
    if not regions:
        return [scaled]
    if len(regions) == 1:
        return [replace(scaled, box=regions[0].box)]
    return [
        Area(
            kind=AreaKind.PICTURE,
            box=region.box,
            mm_per_row=abs(region.delta_y) * 10.0,
            mm_per_col=abs(region.delta_x) * 10.0,
        )
        for region in regions
        if region.delta_x and region.delta_y
    ]
