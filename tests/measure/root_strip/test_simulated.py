"""Simulated strips through aorta and left atrium, whose tissue along the beam is known."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.root_strip import measure_root
from fanlight.simulate.clip.ring import Ring
from measure._root_strips import draw_root_strip, true_beats

TARGET_MM = 1.0  # of a stored strip that is measured again (engineering judgement)


@pytest.mark.parametrize(
    "seed", [pytest.param(301, id="a normal dog"), pytest.param(302, id="a large atrium, above 35 mm")]
)
def test_diameters_are_those_of_the_tissue_in_the_same_beats(seed: int) -> None:
    drawn = draw_root_strip(seed, Ring.A)
    reading = measure_root(
        MModeStrip(
            levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
        )
    )

    true = list(true_beats(drawn))
    aorta, atrium, ratio = (item.value for item in reading.measurements)
    assert aorta == pytest.approx(np.mean([beat.aorta_mm for beat in true]), abs=TARGET_MM)
    assert atrium == pytest.approx(np.mean([beat.atrium_mm for beat in true]), abs=TARGET_MM)
    assert aorta is not None
    assert atrium is not None
    assert ratio == pytest.approx(atrium / aorta)
