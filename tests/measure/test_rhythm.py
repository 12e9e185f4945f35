"""Which beats of a strip count by their rhythm: common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.measure.doppler.beats import beats_from_r
from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.m_mode.beats import Beats, find_beats
from fanlight.measure.rhythm import AFTER_ECTOPIC, CUT_SHORT, ECTOPIC, IRREGULAR, judge_rhythm

PAUSED = (500.0, 500.0, 300.0, 700.0, 500.0, 500.0)
BETWEEN = (500.0, 500.0, 240.0, 260.0, 500.0, 500.0)
BREATH = (440.0, 480.0, 530.0, 560.0, 500.0, 430.0, 400.0, 440.0)
# Short and long in turn, as a dog's breath does at rest.
MARKED_BREATH = (900.0, 560.0, 550.0, 950.0, 900.0, 560.0, 570.0, 930.0)


@pytest.mark.parametrize("intervals", [PAUSED, BETWEEN], ids=["with a pause", "between two beats"])
def test_an_ectopic_beat_spoils_three(intervals: tuple[float, ...]) -> None:
    """The one it cuts short, itself, and the one after it."""
    found = judge_rhythm(intervals)

    assert found.left_out == ("", "", CUT_SHORT, ECTOPIC, AFTER_ECTOPIC, "")
    assert found.note == ""


@pytest.mark.parametrize("intervals", [(500.0,) * 6, BREATH, (500.0, 300.0), ()], ids=["even", "breath", "two", "none"])
def test_an_even_or_a_breathing_rhythm_keeps_all(intervals: tuple[float, ...]) -> None:
    """Nothing is left out and nothing said; of two intervals neither is the usual one."""
    found = judge_rhythm(intervals)

    assert found.left_out == ("",) * len(intervals)
    assert found.note == ""


def test_an_early_beat_without_a_pause_counts() -> None:
    """As where the breath quickens the heart."""
    assert not any(judge_rhythm((500.0, 500.0, 380.0, 420.0, 480.0, 500.0)).left_out)


@pytest.mark.parametrize("seed", range(5))
def test_a_rhythm_without_a_usual_interval_asks_for_many_beats(seed: int) -> None:
    """Intervals drawn without memory, from 250 to 900 ms: no beat is called ectopic, the note says what is needed."""
    found = judge_rhythm(tuple(np.random.default_rng(seed).uniform(250, 900, 12)))

    assert not any(found.left_out)
    assert found.note == IRREGULAR


@pytest.mark.parametrize(
    "intervals", [MARKED_BREATH, (300.0, 600.0) * 3], ids=["marked sinus arrhythmia", "every second beat early"]
)
def test_short_and_long_in_turn_is_not_taken_for_a_rhythm_with_ectopic_beats(intervals: tuple[float, ...]) -> None:
    """Which of them is the usual one, nobody can say from the intervals alone."""
    found = judge_rhythm(intervals)

    assert not any(found.left_out)
    assert found.note == IRREGULAR


def test_m_mode_and_spectrum_leave_out_the_same_beats() -> None:
    """The same R waves beside either strip."""
    times = tuple(float(t) for t in np.cumsum((20.0, *PAUSED)))
    course = 20 - 5 * np.sin(np.arange(800) / 10)
    strip = MModeStrip(levels=np.zeros((100, 800), np.uint8), mm_per_row=0.2, ms_per_col=4.0, r_times_ms=times)
    m_mode = find_beats(strip, course, 2 * course)
    spectrum = beats_from_r(times, 3200.0)

    assert isinstance(m_mode, Beats)
    kept = [times[beat.number - 1] for beat in m_mode.beats if not beat.is_ectopic]
    assert kept == [beat.start_ms for beat in spectrum.beats]
    assert spectrum.n_left_out == 3
