"""Septum and free wall out of step, from borders that were invented."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.m_mode import Borders, MModeReading, MModeStrip, Seen
from fanlight.measure.m_mode.beats import Beat, Beats
from fanlight.measure.wall_peaks import measure_wall_peaks
from fanlight.study import Measurement

MS_PER_COL, MM_PER_ROW, BEAT_MS, N = 4.0, 0.2, 600.0, 3
COLS = round(N * BEAT_MS / MS_PER_COL) + 10


def _bump(peak_share: float) -> np.ndarray:
    """A motion of 0 to 1 and back about its peak, in each beat."""
    share = np.mod(np.arange(COLS) * MS_PER_COL / BEAT_MS, 1.0)
    return np.where(np.abs(share - peak_share) < 0.25, np.cos(2 * np.pi * (share - peak_share)) ** 2, 0.0)


def _measured(septum_share: float, wall_share: float, swing_mm: float = 4.0) -> Measurement:
    septum, wall = (swing_mm * _bump(share) / MM_PER_ROW for share in (septum_share, wall_share))
    rows = np.stack([np.full(COLS, at, float) for at in (20, 50, 80, 200, 240)])
    rows[2] += septum  # inwards is deeper
    rows[3] -= wall
    borders = Borders(rows=rows, seen=np.ones(rows.shape, bool), blur_mm=np.zeros(5), margin_share=0.5, has_fluid=False)
    length = round(BEAT_MS / MS_PER_COL)
    beats = tuple(
        Beat(number=n + 1, diastole_col=n * length, systole_col=n * length + 60, length_ms=BEAT_MS) for n in range(N)
    )
    reading = MModeReading(
        borders=borders, distances={}, measurements=(),
        beats=Beats(beats=beats, timed_by="R waves", diastole_timing_ms=4.0, length_timing_ms=4.0),
    )  # fmt: skip
    strip = MModeStrip(
        levels=np.zeros((300, COLS), np.uint8), mm_per_row=MM_PER_ROW, ms_per_col=MS_PER_COL, r_times_ms=()
    )
    return measure_wall_peaks(reading, strip, Seen())


@pytest.mark.parametrize(("septum", "wall"), [(0.4, 0.4), (0.35, 0.55), (0.6, 0.4)])
def test_the_share_that_was_drawn_is_read(septum: float, wall: float) -> None:
    """Two of 150 columns are 1.3 % of the beat."""
    assert _measured(septum, wall).value == pytest.approx(100 * (wall - septum), abs=1.4)


def test_the_error_holds_both_peaks() -> None:
    """√2 · 20 ms of 600 ms are 4.7 %; beats that differ add to it."""
    error = _measured(0.4, 0.4).uncertainty
    assert error is not None
    assert 4.7 < error < 6.0


def test_walls_that_hardly_move_have_no_peaks() -> None:
    found = _measured(0.4, 0.5, swing_mm=0.3)
    assert found.value is None
    assert "in no beat" in found.reason
