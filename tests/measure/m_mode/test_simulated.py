"""A simulated strip whose tissue along the beam is known."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip, measure_m_mode
from fanlight.reference.m_mode import MModeSettings
from fanlight.simulate.clip.ring import Ring
from measure._m_mode_strips import draw_strip, true_distances

SEED = 301  # ring A: a normal dog of 8 kg
TARGET_SHARE = 0.03  # what M-mode diameters are held to; docs/accuracy.md has the figures of hundreds of strips


def test_a_simulated_dog_is_measured_within_the_target(settings: MModeSettings) -> None:
    """Both diameters to 3 %, over the beats that were measured."""
    drawn = draw_strip(SEED, Ring.A)
    strip = MModeStrip(
        levels=drawn.levels,
        mm_per_row=drawn.mm_per_row,
        ms_per_col=drawn.ms_per_col,
        r_times_ms=drawn.true_r_times_ms,
    )
    reading = measure_m_mode(strip, settings)
    true = true_distances(drawn)

    for item in reading.measurements[:2]:
        assert item.value is not None
        expected = np.mean([true[number - 1][item.name] for number in reading.distances[item.name].mm])
        assert item.value == pytest.approx(expected, rel=TARGET_SHARE)
