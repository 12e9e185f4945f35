"""Jumps of a border to what lies on it."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import Border, MModeStrip
from fanlight.measure.m_mode.doubts import find_doubts
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL, Ventricle, borders_mm, times_ms

LEAFLET = slice(150, 190)
LEAFLET_MM = 1.5
RIM = 4  # columns that a jump takes


@pytest.fixture
def strip() -> MModeStrip:
    return MModeStrip(levels=np.zeros((400, len(times_ms())), np.uint8), mm_per_row=MM_PER_ROW, ms_per_col=MS_PER_COL)


def test_a_beating_wall_is_not_in_doubt(strip: MModeStrip) -> None:
    """Thickening by a third within a beat of 440 ms."""
    rows = borders_mm(Ventricle(), times_ms()) / MM_PER_ROW

    assert not find_doubts(strip, rows).any()


@pytest.mark.parametrize("border", [Border.SEPTUM_START, Border.ENDOCARDIUM])
def test_a_leaflet_puts_its_border_in_doubt_as_long_as_it_lies_there(strip: MModeStrip, border: Border) -> None:
    """160 ms on the wall: these columns and the rims, nothing else."""
    rows = borders_mm(Ventricle(), times_ms()) / MM_PER_ROW
    rows[border, LEAFLET] -= LEAFLET_MM / MM_PER_ROW
    doubts = find_doubts(strip, rows)

    assert doubts[border, LEAFLET].all()
    far = np.ones(len(times_ms()), bool)
    far[LEAFLET.start - RIM : LEAFLET.stop + RIM] = False
    assert not doubts[border, far].any()
    assert not doubts[Border.SEPTUM_END].any()
