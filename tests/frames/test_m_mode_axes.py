"""The axes of an M-mode as the standard's region states them (PS3.3 C.8.5.5), or why there are none."""

from dataclasses import replace

import pytest

from fanlight.frames.m_mode_axes import MModeAxes, find_m_mode_axes
from fanlight.study import Box, Layout, Region, RegionReading

BOX = Box(row0=100, col0=20, row1=400, col1=620)
REGION = Region(spatial_format=2, data_type=1, box=BOX, unit_x=4, unit_y=3, delta_x=0.005, delta_y=0.02)


def _layout(*regions: Region, trusted: bool = True) -> Layout:
    checks = tuple(RegionReading(region=region, trusted=trusted, reason="it lies elsewhere") for region in regions)
    return Layout(rows=480, cols=640, picture=None, picture_confidence=0.0, picture_reason="", scale=None,
                  scale_reason="", regions=checks)  # fmt: skip


def test_seconds_and_centimetres_become_ms_and_mm() -> None:
    assert find_m_mode_axes(_layout(REGION)) == MModeAxes(box=BOX, mm_per_row_px=0.2, ms_per_col_px=5.0)


def test_the_larger_of_two_is_meant() -> None:
    small = replace(REGION, box=Box(row0=0, col0=0, row1=60, col1=60))
    found = find_m_mode_axes(_layout(small, REGION))
    assert isinstance(found, MModeAxes)
    assert found.box == BOX


@pytest.mark.parametrize(
    ("layout", "said"),
    [
        (_layout(), "does not say where"),
        (_layout(REGION, trusted=False), "it lies elsewhere"),
        (_layout(replace(REGION, unit_x=3)), "no time scale"),
        (_layout(replace(REGION, delta_y=0.0)), "no depth scale"),
        (_layout(replace(REGION, spatial_format=1)), "does not say where"),
    ],
)
def test_what_is_missing_is_said(layout: Layout, said: str) -> None:
    found = find_m_mode_axes(layout)
    assert isinstance(found, str)
    assert said in found
