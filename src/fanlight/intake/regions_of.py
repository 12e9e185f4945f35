"""Ultrasound regions of a DICOM file, as written; whether they are true is judged against the pixels elsewhere."""

from __future__ import annotations

from pydicom.dataset import Dataset

from fanlight.intake.dicom_header import items_of, number_of, whole_of
from fanlight.study import Box, Region


def _pair(item: Dataset, first: str, second: str) -> tuple[int, int] | None:
    one, other = whole_of(item, first), whole_of(item, second)
    return None if one is None or other is None else (one, other)


def _m_line(item: Dataset) -> tuple[int, int, int, int] | None:
    start = _pair(item, "TMLinePositionY0", "TMLinePositionX0")
    end = _pair(item, "TMLinePositionY1", "TMLinePositionX1")
    return None if start is None or end is None else (*start, *end)


def _region(item: Dataset) -> Region | None:
    """Return one region, or None when it has no place on the picture."""
    corner = _pair(item, "RegionLocationMinY0", "RegionLocationMinX0")
    far_corner = _pair(item, "RegionLocationMaxY1", "RegionLocationMaxX1")
    if corner is None or far_corner is None or far_corner[0] < corner[0] or far_corner[1] < corner[1]:
        return None
    # PS3.3 C.8.5.5.1.14: the reference pixel is counted from the corner of the region.
    reference_col, reference_row = number_of(item, "ReferencePixelX0"), number_of(item, "ReferencePixelY0")
    return Region(
        spatial_format=whole_of(item, "RegionSpatialFormat") or 0,
        data_type=whole_of(item, "RegionDataType") or 0,
        box=Box(row0=corner[0], col0=corner[1], row1=far_corner[0] + 1, col1=far_corner[1] + 1),
        unit_x=whole_of(item, "PhysicalUnitsXDirection") or 0,
        unit_y=whole_of(item, "PhysicalUnitsYDirection") or 0,
        delta_x=number_of(item, "PhysicalDeltaX"),
        delta_y=number_of(item, "PhysicalDeltaY"),
        reference_col_px=reference_col,
        reference_row_px=reference_row,
        reference_value_x=number_of(item, "ReferencePixelPhysicalValueX"),
        reference_value_y=number_of(item, "ReferencePixelPhysicalValueY"),
        flags=whole_of(item, "RegionFlags") or 0,
        transducer_frequency_khz=number_of(item, "TransducerFrequency"),
        pulse_repetition_hz=number_of(item, "PulseRepetitionFrequency"),
        steering_deg=number_of(item, "SteeringAngle"),
        doppler_angle_deg=number_of(item, "DopplerCorrectionAngle"),
        sample_volume_px=_pair(item, "DopplerSampleVolumeYPosition", "DopplerSampleVolumeXPosition"),
        m_line_px=_m_line(item),
    )


def regions_of(data: Dataset) -> tuple[tuple[Region, ...], int]:
    """Return the regions of the Sequence of Ultrasound Regions (0018,6011), and how many had no usable place.

    References
    ----------
    DICOM PS3.3 C.8.5.5 (US Region Calibration module).
    """
    items = items_of(data, "SequenceOfUltrasoundRegions")
    found = [region for item in items if (region := _region(item)) is not None]
    return tuple(found), len(items) - len(found)
