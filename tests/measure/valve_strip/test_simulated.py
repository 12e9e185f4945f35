"""Simulated strips through the mitral valve, whose tissue along the beam is known."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.valve_strip import measure_mitral
from fanlight.simulate.clip.ring import Ring
from measure._valve_strips import VIEWS, draw_mitral_strip

LONG, SHORT = VIEWS
TARGET_MM = 1.0  # of a stored strip that is measured again (engineering judgement)


@pytest.mark.parametrize(
    ("seed", "view"),
    [
        pytest.param(304, LONG, id="a dilated ventricle, over 10 mm"),
        pytest.param(302, SHORT, id="a large atrium, below 3 mm"),
    ],
)
def test_the_separation_is_that_of_the_tissue_in_the_same_beats(seed: int, view: str) -> None:
    drawn = draw_mitral_strip(seed, Ring.A, view)
    reading = measure_mitral(
        MModeStrip(
            levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
        )
    )

    expected = np.mean([drawn.true_mm[item.number - 1] for item in reading.openings])
    assert reading.measurements[0].value == pytest.approx(expected, abs=TARGET_MM)
