"""The trace on the screen keeps the time of the recording."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.screen_ecg import EcgPainter
from fanlight.simulate.screen.screen_layout import EcgPen, EcgStyle
from tests.simulate import screen_stand_ins as stand_in

STYLE = EcgStyle(
    row0=10, row1=70, col0=20, col1=420, ink=(200, 200, 200), pen=EcgPen.WIPES, px_per_s=100.0, gap_px=15, line_px=1
)


def drawn(style: EcgStyle, time_ms: float, ecg: EcgStrip | None = None) -> np.ndarray:
    canvas = np.zeros((80, 440, 3), np.uint8)
    EcgPainter(style, ecg or stand_in.ecg()).draw(canvas, time_ms)
    return np.asarray(canvas.max(axis=2))


def peaks(picture: np.ndarray, style: EcgStyle) -> np.ndarray:
    """Columns in which the line reaches the upper part of its field, one for each wave."""
    high = np.flatnonzero((picture[style.row0 : style.row0 + 20] > 60).any(axis=0))
    groups = np.split(high, np.flatnonzero(np.diff(high) > 3) + 1) if len(high) else []
    return np.array([group.mean() for group in groups])


@pytest.mark.parametrize("pen", list(EcgPen))
@pytest.mark.parametrize("time_ms", [0.0, 130.0, 777.0])
def test_r_waves_stand_as_far_apart_as_their_time(pen, time_ms):
    """Half a second is fifty pixels at 100 pixels a second, whatever the pen."""
    style = replace(STYLE, pen=pen)
    found = peaks(drawn(style, time_ms), style)

    steps = np.diff(found)
    expected = stand_in.RR_MS / 1000 * style.px_per_s
    regular = steps[np.abs(steps - expected) < 8]
    assert len(regular) >= 5
    assert regular == pytest.approx(np.full(len(regular), expected), abs=1.0)


@pytest.mark.parametrize("time_ms", [0.0, 130.0, 240.0])
def test_newest_sample_of_a_scrolling_trace_is_at_its_right_end(time_ms):
    """The last R wave lies as far from the right end as it is old."""
    style = replace(STYLE, pen=EcgPen.SCROLLS)
    found = peaks(drawn(style, time_ms), style)

    age_ms = time_ms % stand_in.RR_MS
    assert found[-1] == pytest.approx(style.col1 - 1 - age_ms / 1000 * style.px_per_s, abs=1.5)


def test_wiping_pen_stands_where_the_sweep_has_come_and_leaves_a_gap():
    """The pen began at the left with the first sample; before it a gap is blank."""
    time_ms = 1234.0
    ink = np.asarray((drawn(STYLE, time_ms) > 40).any(axis=0))

    width = STYLE.col1 - STYLE.col0
    pen = STYLE.col0 + (time_ms + 6000) / 1000 * STYLE.px_per_s % width
    gap = np.arange(int(pen) + 3, int(pen) + STYLE.gap_px - 2)
    assert not ink[gap].any()
    assert ink[int(pen) - 20 : int(pen) - 1].all()
    assert ink[int(pen) + STYLE.gap_px + 3 : STYLE.col1 - 2].all()


def test_nothing_is_drawn_that_was_not_yet_recorded():
    """A recording that begins with the clip grows from the left end."""
    short = stand_in.ecg(first_ms=0.0, last_ms=4000.0)
    ink = (drawn(STYLE, 900.0, short) > 40).any(axis=0)

    cols = np.flatnonzero(ink)
    assert cols.min() >= STYLE.col0 - 1
    assert cols.max() == pytest.approx(STYLE.col0 + 90, abs=2)


def test_line_stays_in_its_field_and_is_thin():
    """No ink outside the box, and most columns hold a line of a few pixels only."""
    picture = drawn(STYLE, 500.0) > 40
    outside = picture.copy()
    outside[STYLE.row0 : STYLE.row1, STYLE.col0 : STYLE.col1] = False

    assert not outside.any()
    assert np.median(picture.sum(axis=0)[picture.any(axis=0)]) <= 3


def test_ticks_stand_under_the_r_waves():
    """Each mark at the foot has the column of a peak above it."""
    style = replace(STYLE, pen=EcgPen.SCROLLS, marks_r_waves=True)
    picture = drawn(style, 100.0)

    marks = np.flatnonzero(picture[style.row1 - 2] > 40)
    above = peaks(picture, style)
    assert len(marks) >= 7
    assert all(np.abs(above - mark).min() <= 1.5 for mark in marks)


def test_recording_without_samples_is_refused():
    """The message says what is needed and what came."""
    with pytest.raises(ValueError, match=r"at least two samples in a row .* got shape \(1,\) and 4"):
        EcgStrip(mv=np.zeros(1, np.float32), first_ms=0.0, step_ms=4.0)
