"""Where an M-mode lies on the screen and what its pixels mean, from what the file says of it."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import Box, Layout, PhysicalUnit, Region, SpatialFormat


@dataclass(frozen=True, slots=True, kw_only=True)
class MModeAxes:
    """Rows are depth, columns are moments."""

    box: Box
    mm_per_row_px: float
    ms_per_col_px: float


def find_m_mode_axes(layout: Layout) -> MModeAxes | str:
    """Return the axes of the M-mode on a screen, or why there are none.

    The file's M-mode region says them (PS3.3 C.8.5.5: Region Spatial Format 2, depth in cm down and seconds across).
    """
    held = [item for item in layout.regions if item.region.spatial_format == SpatialFormat.M_MODE]
    if not held:
        return "the file does not say where the M-mode lies on the screen"
    trusted = [item.region for item in held if item.trusted]
    if not trusted:
        return f"what the file says of the M-mode is not borne out by the picture: {held[0].reason}"
    return _axes(max(trusted, key=lambda region: region.box.area_px))


def _axes(region: Region) -> MModeAxes | str:
    if region.unit_x != PhysicalUnit.SECONDS or not region.delta_x:
        return "the file gives no time scale for the M-mode"
    if region.unit_y != PhysicalUnit.CM or not region.delta_y:
        return "the file gives no depth scale for the M-mode"
    return MModeAxes(
        box=region.box, mm_per_row_px=10.0 * abs(region.delta_y), ms_per_col_px=1000.0 * abs(region.delta_x)
    )
