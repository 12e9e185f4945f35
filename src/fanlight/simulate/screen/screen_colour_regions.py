"""The ultrasound regions that colour adds to a screen, as its file states them: DICOM PS3.3 C.8.5.5."""

from __future__ import annotations

from dataclasses import replace

from fanlight.simulate.colour.colour_setting import ColourSetting
from fanlight.simulate.screen.screen_regions import two_d_region
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.study import Box, PhysicalUnit, Region, SpatialFormat

# Region Data Type (0018,6014), PS3.3 C.8.5.5.1.2.
COLOUR_FLOW, COLOUR_BAR = 2, 0xE
# Region Flags (0018,6016), PS3.3 C.8.5.5.1.3: bit 0: low priority, where regions overlap; bit 1: lengths stand for what
# was scanned.
_LOW_PRIORITY, _SCALED = 1, 2


def colour_region(placed: Placed, box: Box, setting: ColourSetting) -> Region:
    """Return the region of the colour box: centimetres, the reference pixel where the grey picture has it."""
    grey = two_d_region(placed, setting.frequency_mhz)
    assert grey.reference_col_px is not None
    assert grey.reference_row_px is not None
    return replace(
        grey,
        data_type=COLOUR_FLOW,
        box=box,
        reference_col_px=grey.reference_col_px + placed.box.col0 - box.col0,
        reference_row_px=grey.reference_row_px + placed.box.row0 - box.row0,
        pulse_repetition_hz=float(round(setting.prf_hz)),
    )


def bar_region(bar: Box, setting: ColourSetting) -> Region:
    """Return the region of the colour bar: cm/s a pixel upwards, the reference pixel where nothing moves."""
    low, high = setting.range_m_s
    return Region(
        spatial_format=SpatialFormat.GRAPHICS,
        data_type=COLOUR_BAR,
        box=bar,
        unit_x=PhysicalUnit.NONE,
        unit_y=PhysicalUnit.CM_PER_S,
        delta_x=1.0,
        delta_y=-100.0 * (high - low) / bar.height_px,
        reference_col_px=0.0,
        reference_row_px=float(round(high / (high - low) * bar.height_px - 0.5)),
        reference_value_x=0.0,
        reference_value_y=0.0,
        flags=0,
    )


def lying_under(region: Region) -> Region:
    """Return a region of the grey screen; that of its picture lies under the colour."""
    is_picture = region.spatial_format == SpatialFormat.TWO_D
    return replace(region, flags=region.flags | _LOW_PRIORITY) if is_picture else region
