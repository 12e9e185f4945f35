"""Simulated strips through the tricuspid ring, where the way of the leaflet's hinge along the cursor is known."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.ring_strip import RingReading, measure_ring
from fanlight.simulate.clip.ring import Ring
from measure._cursor_strips import CursorStrip
from measure._ring_strips import draw_ring_strip, true_beats

TARGET_MM = 1.0  # of a stored strip that is measured again (engineering judgement)
DOG, CAT_WITHOUT_RING = 313, 303  # seeds of ring A


def _read(drawn: CursorStrip) -> RingReading:
    return measure_ring(
        MModeStrip(
            levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
        )
    )


def test_the_excursion_is_that_of_the_hinge_in_the_same_beats() -> None:
    """Within the target of the landmark, and of the tissue that lies under the cursor."""
    drawn = draw_ring_strip(DOG, Ring.A)
    reading, true = _read(drawn), list(true_beats(drawn))

    counted = [true[beat.number - 1] for beat in reading.beats]
    value = reading.measurements[0].value
    assert value == pytest.approx(np.mean([beat.hinge_mm for beat in counted]), abs=TARGET_MM)
    assert value == pytest.approx(np.mean([beat.tissue_mm for beat in counted]), abs=TARGET_MM)


def test_a_cursor_that_meets_the_wall_of_the_ventricle_in_place_of_the_ring_gives_no_number() -> None:
    """In this cat the atrium and its ring lie beside the beam: the tissue under it goes by 1 mm, the hinge by 5."""
    assert _read(draw_ring_strip(CAT_WITHOUT_RING, Ring.A)).measurements[0].value is None
