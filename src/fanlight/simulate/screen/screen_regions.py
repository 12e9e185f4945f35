"""The ultrasound regions of a painted screen, as its file states them: DICOM PS3.3 C.8.5.5."""

from __future__ import annotations

from fanlight.simulate.screen.screen_layout import EcgStyle
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.study import Box, PhysicalUnit, Region, SpatialFormat

# Region Data Type (0018,6014), PS3.3 C.8.5.5.1.2.
TISSUE = 1
ECG = 0xA
# Region Flags (0018,6016), PS3.3 C.8.5.5.1.3: bit 0 not set: high priority; bit 1: lengths stand for what was scanned.
_SCALED = 2


def two_d_region(placed: Placed, frequency_mhz: float, cursor_px: tuple[int, int, int, int] | None = None) -> Region:
    """Return the region of a sector; depth 0 under the middle of the face is its reference pixel.

    The ends of an M-mode cursor are counted from the reference pixel (PS3.3 C.8.5.5.1.10).
    """
    sector, box = placed.sector, placed.box
    reference_row = round(sector.apex_row_px + sector.near_px) - box.row0
    reference_col = round(sector.apex_col_px) - box.col0
    m_line = None
    if cursor_px is not None:
        row, col = box.row0 + reference_row, box.col0 + reference_col
        m_line = (cursor_px[0] - row, cursor_px[1] - col, cursor_px[2] - row, cursor_px[3] - col)
    return Region(
        spatial_format=SpatialFormat.TWO_D,
        data_type=TISSUE,
        box=box,
        unit_x=PhysicalUnit.CM,
        unit_y=PhysicalUnit.CM,
        delta_x=placed.mm_per_px / 10.0,
        delta_y=placed.mm_per_px / 10.0,
        reference_col_px=float(reference_col),
        reference_row_px=float(reference_row),
        reference_value_x=0.0,
        reference_value_y=0.0,
        flags=_SCALED,
        transducer_frequency_khz=_khz(frequency_mhz),
        m_line_px=m_line,
    )


def m_mode_region(box: Box, mm_per_px: float, ms_per_px: float, frequency_mhz: float) -> Region:
    """Return the region of an M-mode strip: seconds to the right, centimetres down, the face in its first row."""
    return Region(
        spatial_format=SpatialFormat.M_MODE,
        data_type=TISSUE,
        box=box,
        unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM,
        delta_x=ms_per_px / 1000.0,
        delta_y=mm_per_px / 10.0,
        reference_col_px=0.0,
        reference_row_px=0.0,
        reference_value_x=0.0,
        reference_value_y=0.0,
        flags=_SCALED,
        transducer_frequency_khz=_khz(frequency_mhz),
    )


def ecg_region(style: EcgStyle) -> Region:
    """Return the region of the trace: seconds to the right, no unit down."""
    return Region(
        spatial_format=SpatialFormat.WAVEFORM,
        data_type=ECG,
        box=Box(row0=style.row0, col0=style.col0, row1=style.row1, col1=style.col1),
        unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.NONE,
        delta_x=1.0 / style.px_per_s,
        delta_y=1.0,
        flags=0,
    )


def _khz(frequency_mhz: float) -> float:
    """Transducer Frequency (0018,6030) is a whole number of kHz, PS3.3 C.8.5.5.1."""
    return float(round(1000.0 * frequency_mhz))
