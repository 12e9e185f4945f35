"""The regions of a screen with a spectrum, as its file states them: DICOM PS3.3 C.8.5.5."""

from __future__ import annotations

from dataclasses import replace

from fanlight.simulate.screen.screen_regions import two_d_region
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.simulate.spectral.spectral_strip import SpectralStrip
from fanlight.study import Box, Mode, PhysicalUnit, Region, SpatialFormat

# Region Data Type (0018,6014), PS3.3 C.8.5.5.1.2. There is none of its own for tissue Doppler: it is pulsed.
PULSED, CONTINUOUS = 3, 4
_SCALED = 2  # Region Flags: lengths stand for what was scanned; bit 2 not set: velocities, not frequencies


def spectral_region(box: Box, strip: SpectralStrip) -> Region:
    """Return the region of a spectrum: seconds to the right, cm/s down from the baseline.

    A row further down is a lower velocity, so that the step is negative; positive where the display is inverted.
    Velocities towards the probe are positive.
    """
    setting = strip.setting
    down = strip.cm_s_per_px if setting.is_inverted else -strip.cm_s_per_px
    return Region(
        spatial_format=SpatialFormat.SPECTRAL,
        data_type=CONTINUOUS if setting.mode is Mode.CONTINUOUS_WAVE else PULSED,
        box=box,
        unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM_PER_S,
        delta_x=strip.ms_per_px / 1000.0,
        delta_y=down,
        reference_col_px=0.0,
        reference_row_px=float(strip.baseline_px),
        reference_value_x=0.0,
        reference_value_y=0.0,
        flags=_SCALED,
        transducer_frequency_khz=float(round(1000.0 * setting.frequency_mhz)),  # whole kHz, PS3.3 C.8.5.5.1
        pulse_repetition_hz=float(round(setting.sample_hz)) if setting.is_gated else None,
        steering_deg=setting.cursor_deg,
        doppler_angle_deg=setting.corrected_deg or None,
    )


def guide_region(
    placed: Placed, frequency_mhz: float, cursor_px: tuple[int, int, int, int], gate_px: tuple[int, int] | None
) -> Region:
    """Return the region of the guide with its cursor and the middle of the gate, both from its reference pixel.

    That the gate counts from there as the cursor does (PS3.3 C.8.5.5.1.10) is from memory: the clause was not seen.
    """
    region = two_d_region(placed, frequency_mhz, cursor_px=cursor_px)
    if gate_px is None:
        return region
    assert region.reference_row_px is not None
    assert region.reference_col_px is not None
    row = region.box.row0 + round(region.reference_row_px)
    col = region.box.col0 + round(region.reference_col_px)
    return replace(region, sample_volume_px=(gate_px[0] - row, gate_px[1] - col))
