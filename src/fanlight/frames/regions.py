"""Hold each ultrasound region of the file against the size of the frame and the picture found in its pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fanlight.study import Box, PhysicalUnit, Picture, Region, RegionReading, SpatialFormat

# The last pixel is inside in the standard (PS3.3 C.8.5.5.1.3); some files give the first one outside. Two pixels
# of overhang change no length.
_SLACK_PX = 2
# Size of a pixel that a heart can be measured with: below 0.01 mm is finer than any wavelength used (physics:
# 0.1 mm at 15 MHz), above 2 mm a whole cat's heart covers ten pixels.
_PLAUSIBLE_MM = (0.01, 2.0)
# Reductions and enlargements that export programs make: simple fractions (engineering judgement).
_FACTORS = (4.0, 3.0, 2.0, 1.6, 1.5, 4 / 3, 1.25, 0.8, 0.75, 2 / 3, 0.5, 1 / 3, 0.25)
_SURE_OF_PICTURE = 0.5  # confidence from which the picture may contradict a region
_TISSUE, _COLOUR_FLOW = 1, 2  # Region Data Type (0018,6014), PS3.3 C.8.5.5.1.2
_INSIDE_FRACTION = 0.93  # share of the picture that its region must hold
_MATCH_FRACTION = 0.8  # share of the scaled region that the picture must fill, along one axis, to call a factor certain


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionCheck:
    """A region, whether it is believed, and the factor by which its pixels were rescaled where that is certain."""

    reading: RegionReading
    factor: float | None = None  # pixels of the region per pixel of the frame; 2: the frame was halved

    @property
    def mm_per_row_px(self) -> float | None:
        """Height of a pixel as the region states it, set right by the factor where there is one."""
        region = self.reading.region
        if not _is_lengths(region) or not region.delta_y:
            return None
        return abs(region.delta_y) * 10.0 * (self.factor or 1.0)  # centimetres in the standard

    @property
    def col_per_row(self) -> float:
        """Width of a pixel divided by its height."""
        region = self.reading.region
        if not region.delta_x or not region.delta_y:
            return 1.0
        return abs(region.delta_x / region.delta_y)


def _is_lengths(region: Region) -> bool:
    return region.spatial_format == SpatialFormat.TWO_D and region.unit_y == PhysicalUnit.CM


def picture_box(picture: Picture, rows: int, cols: int) -> Box | None:
    """Return the upright box round the part of the picture that lies on the screen."""
    shares = np.linspace(0, 1, 33)
    points = [picture.point(depth, beam) for depth in (0.0, 1.0) for beam in shares]
    points += [picture.point(depth, beam) for depth in shares for beam in (0.0, 1.0)]
    rows_px, cols_px = (np.array(v) for v in zip(*points, strict=True))
    return Box(
        row0=round(float(rows_px.min())),
        col0=round(float(cols_px.min())),
        row1=round(float(rows_px.max())) + 1,
        col1=round(float(cols_px.max())) + 1,
    ).clipped_to(rows, cols)


def check_regions(
    regions: tuple[Region, ...], rows: int, cols: int, picture: Picture | None, picture_confidence: float
) -> tuple[RegionCheck, ...]:
    """Say of each region whether the frame and the picture found in it bear it out.

    Parameters
    ----------
    regions : tuple of Region
        As written in the file.
    rows, cols : int
        Size of the frames as stored.
    picture : Sector, Strip or None
        Found from the pixels.
    picture_confidence : float
        0 to 1; a picture found with little confidence contradicts nothing.

    Notes
    -----
    A region that lies on the frame and holds the picture is believed here; the depth ruler and the text on the
    screen are heard later (``frames.scale``). A reduction that leaves the region on the frame and round the picture
    cannot be seen here.
    """
    sure = picture if picture_confidence >= _SURE_OF_PICTURE else None
    box = picture_box(sure, rows, cols) if sure is not None else None
    return tuple(
        _check(number, region, rows, cols, None if _is_colour_box(region, regions) else box)
        for number, region in enumerate(regions, start=1)
    )


def _is_colour_box(region: Region, regions: tuple[Region, ...]) -> bool:
    """Whether a region is the colour box inside a grey picture, which need not hold all of that."""
    return region.data_type == _COLOUR_FLOW and any(
        other.data_type == _TISSUE and other.spatial_format == SpatialFormat.TWO_D and _holds(other.box, region.box)
        for other in regions
    )


def _check(number: int, region: Region, rows: int, cols: int, picture: Box | None) -> RegionCheck:
    name = f"region {number}"

    def refused(reason: str, factor: float | None = None) -> RegionCheck:
        return RegionCheck(
            reading=RegionReading(region=region, trusted=False, reason=f"{name} {reason}"), factor=factor
        )

    fault = _units_fault(region)
    if fault:
        return refused(fault)
    over_cols, over_rows = region.box.col1 - cols, region.box.row1 - rows
    off = max(over_cols, over_rows, -region.box.col0, -region.box.row0) > _SLACK_PX
    is_picture = region.spatial_format == SpatialFormat.TWO_D
    if not off and not (is_picture and picture is not None and not _holds(region.box, picture)):
        return RegionCheck(
            reading=RegionReading(
                region=region,
                trusted=True,
                reason=f"{name} lies on the frame"
                + (" and holds the picture found in the pixels" if is_picture and picture is not None else ""),
            )
        )
    covers = f"covers columns {region.box.col0}–{region.box.col1 - 1} and rows {region.box.row0}–{region.box.row1 - 1}"
    frame = f"the frame has {cols} columns and {rows} rows"
    factor = _certain_factor(region.box, rows, cols, picture) if is_picture else None
    if factor is not None:
        change = f"reduced to 1/{factor:g}" if factor > 1 else f"enlarged {1 / factor:.3g} times"
        return refused(
            f"{covers}, but {frame}. Divided by {factor:.3g} it fits the picture found in the pixels: the frame was "
            f"{change} of its size after it was stored, and the region still describes the original. Ask for the "
            f"original export; until then a ruler or a depth on the screen must agree before lengths are measured",
            factor,
        )
    if off:
        fits_across, fits_down = over_cols <= _SLACK_PX, over_rows <= _SLACK_PX
        by = " and ".join(
            text
            for text, over in ((f"{over_cols} columns", over_cols), (f"{over_rows} rows", over_rows))
            if over > _SLACK_PX
        )
        cause = (
            "the frame was probably cut after it was stored"
            if fits_across != fits_down
            else "the region describes a frame of another size"
        )
        return refused(
            f"{covers}, but {frame}: it runs off the frame{' by ' + by if by else ''}, so {cause}. Ask for the "
            "original export, or mark two points of known distance"
        )
    assert picture is not None
    return refused(
        f"{covers}, but the picture found in the pixels covers columns {picture.col0}–{picture.col1 - 1} and rows "
        f"{picture.row0}–{picture.row1 - 1}: the region describes other pixels than these. Ask for the original "
        "export, or mark two points of known distance"
    )


def _units_fault(region: Region) -> str:
    """What is wrong with the units and steps of a region, or "". Units: PS3.3 C.8.5.5.1.15."""
    if region.spatial_format == SpatialFormat.TWO_D:
        if region.unit_x != PhysicalUnit.CM or region.unit_y != PhysicalUnit.CM:
            return f"is two-dimensional but its units are numbers {region.unit_x} and {region.unit_y}, not centimetres"
        steps = [region.delta_x, region.delta_y]
    elif region.spatial_format == SpatialFormat.M_MODE:
        if region.unit_x != PhysicalUnit.SECONDS or region.unit_y != PhysicalUnit.CM:
            return (
                f"is an M-mode but its units are numbers {region.unit_x} and {region.unit_y}, "
                "not seconds across and centimetres down"
            )
        steps = [region.delta_y]
    elif region.spatial_format == SpatialFormat.SPECTRAL:
        if region.unit_x != PhysicalUnit.SECONDS or region.unit_y not in (PhysicalUnit.CM_PER_S, PhysicalUnit.HZ):
            return (
                f"is a spectrum but its units are numbers {region.unit_x} and {region.unit_y}, "
                "not seconds across and cm/s or Hz up"
            )
        return "" if region.delta_x and region.delta_y else "gives no size of a pixel"
    else:
        return ""
    if any(not step for step in steps):
        return "gives no size of a pixel (Physical Delta, 0018,602C and 602E)"
    low, high = _PLAUSIBLE_MM
    for step in steps:
        if step is not None and not low <= abs(step) * 10.0 <= high:
            return f"gives {abs(step) * 10.0:.4g} mm a pixel; {low:g} to {high:g} mm can be true"
    return ""


def _holds(region: Box, picture: Box) -> bool:
    return region.overlap_px(picture) >= _INSIDE_FRACTION * picture.area_px


def _scaled(box: Box, factor: float) -> Box:
    row0, col0 = round(box.row0 / factor), round(box.col0 / factor)
    return Box(
        row0=row0,
        col0=col0,
        row1=max(round(box.row1 / factor), row0 + 1),
        col1=max(round(box.col1 / factor), col0 + 1),
    )


def _certain_factor(region: Box, rows: int, cols: int, picture: Box | None) -> float | None:
    """The one simple factor that lays the region round the picture found in the pixels, or None."""
    if picture is None:
        return None
    fits = []
    for factor in _FACTORS:
        box = _scaled(region, factor)
        on_frame = box.row1 <= rows + _SLACK_PX and box.col1 <= cols + _SLACK_PX
        filled = max(picture.height_px / box.height_px, picture.width_px / box.width_px)
        if on_frame and _holds(box, picture) and filled >= _MATCH_FRACTION:
            fits.append(factor)
    return fits[0] if len(fits) == 1 else None
