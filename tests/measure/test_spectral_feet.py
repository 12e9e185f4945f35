"""Where waves begin and end: domes of ejection and bells of filling, drawn by their formulas."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.flank import BELL, DOME, Flank, foot_ms
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.study import Valve
from tests.measure.drawn_spectra import Drawing, Waves, case_of

Floats = NDArray[np.float64]

ONSETS_MS = [100.0, 600.0, 1100.0, 1600.0]
R_MS = [50.0, 550.0, 1050.0, 1550.0, 2050.0]
LENGTH_MS = 160.0
RISES_FOR = 0.3  # of ejection


def _dome(share: Floats) -> Floats:
    return np.asarray(np.sin(0.5 * np.pi * np.clip(share, 0, 1)), np.float64)


def _bell(share: Floats) -> Floats:
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0, 1)), np.float64)


def waves(
    flank: Callable[[Floats], Floats], peak_cm_s: float, rise_ms: float, fall_ms: float, late_ms: float = 0.0
) -> Waves:  # fmt: skip
    """Return waves that rise and fall by a flank, so long after each onset."""

    def at(times: Floats) -> Floats:
        into = [times - onset - late_ms for onset in ONSETS_MS]
        each = [np.minimum(flank(t / rise_ms), flank((rise_ms + fall_ms - t) / fall_ms)) for t in into]
        return np.asarray(peak_cm_s * np.sum(each, axis=0), np.float64)

    return at


def values_of(drawing: Drawing, valve: Valve) -> dict[str, Any]:
    return {m.name: m for m in measure_spectrum(case_of(drawing, valve, Signal.FORWARD, r_times_ms=R_MS))}


@pytest.mark.parametrize("gain_db", [-6.0, 0.0])
def test_ejection_that_rises_at_once_lasts_as_long_as_drawn(gain_db):
    """Onset and end within 5 ms together, and the mean gradient 2·V² of two quarter sines within 6 % (identity)."""
    rise_ms = RISES_FOR * LENGTH_MS
    drawing = Drawing(waves=[waves(_dome, -100.0, rise_ms, LENGTH_MS - rise_ms)], span_ms=2150, gain_db=gain_db)

    found = values_of(drawing, Valve.AORTIC)

    assert found["aortic_ejection_time"].value == pytest.approx(LENGTH_MS, abs=5)
    assert found["aortic_mean_gradient"].value == pytest.approx(2.0, rel=0.06)


def test_wave_of_the_atrium_begins_and_ends_at_three_percent():
    """A bell of 2·38 ms runs above 3 % of its peak for 0.889 of its time (identity)."""
    drawing = Drawing(
        waves=[waves(_bell, 75.0, 48, 108), waves(_bell, 50.0, 38, 38, late_ms=220)], scale_cm_s=100, span_ms=2150
    )

    found = values_of(drawing, Valve.MITRAL)

    assert found["mitral_a_duration"].value == pytest.approx(0.889 * 76, abs=7)


def test_wave_begins_at_the_valley_to_the_one_before():
    """A that starts while E still falls is no longer than from the valley to its end."""
    early, late = waves(_bell, 75.0, 48, 108), waves(_bell, 50.0, 38, 38, late_ms=125)

    def both(times: Floats) -> Floats:
        return np.maximum(early(times), late(times))

    times = np.arange(ONSETS_MS[0] + 100.0, ONSETS_MS[0] + 160.0, 0.5)
    valley_ms = float(times[np.argmin(both(times))]) - ONSETS_MS[0]
    found = values_of(Drawing(waves=[both], scale_cm_s=100, span_ms=2150), Valve.MITRAL)

    assert found["mitral_a_duration"].value == pytest.approx(125 + 76 - 0.056 * 76 - valley_ms, abs=8)


@pytest.mark.parametrize(("flank", "height", "begins"), [(DOME, _dome, 0.0), (BELL, _bell, 0.111)])
def test_foot_of_a_flank_is_that_of_its_formula(flank: Flank, height: Callable[[Floats], Floats], begins: float):
    """Without blur the foot is that of the formula, but for what the length of a column is taken to hide."""
    times = np.arange(1.0, 50.0, 2.5)

    found = foot_ms(times, height(times / 50.0), 1.0, flank)

    assert found == pytest.approx(50.0 * begins + flank.inner_ms, abs=0.1)
