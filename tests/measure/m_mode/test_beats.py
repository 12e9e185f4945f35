"""End-diastole and end-systole on a cavity whose course is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.m_mode import Border, MModeStrip
from fanlight.measure.m_mode.beats import Beats, find_beats
from fanlight.measure.rhythm import AFTER_ECTOPIC, CUT_SHORT, ECTOPIC, IRREGULAR
from tests.measure.m_mode.drawn_strip import MS_PER_COL, Ventricle, borders_mm, times_ms

ONE_COLUMN = 1
FEW_COLUMNS = 4  # 16 ms


def _strip(r_times_ms: tuple[float, ...] = ()) -> MModeStrip:
    return MModeStrip(
        levels=np.zeros((100, len(times_ms())), np.uint8), mm_per_row=0.2, ms_per_col=MS_PER_COL, r_times_ms=r_times_ms
    )


def _cavity_mm(heart: Ventricle) -> np.ndarray:
    drawn = borders_mm(heart, times_ms())
    return np.asarray(drawn[Border.ENDOCARDIUM] - drawn[Border.SEPTUM_END])


def _wall_mm(heart: Ventricle) -> np.ndarray:
    return np.asarray(borders_mm(heart, times_ms())[Border.ENDOCARDIUM])


def test_beats_by_the_ecg() -> None:
    """End-diastole at each R wave, end-systole where the cavity is smallest; the beat cut by the end does not count."""
    heart = Ventricle()
    found = find_beats(_strip(heart.starts_ms), _cavity_mm(heart), _wall_mm(heart))

    assert isinstance(found, Beats)
    assert [beat.diastole_col for beat in found.measured] == [round(s / MS_PER_COL) for s in heart.starts_ms[:-1]]
    for beat, start in zip(found.measured, heart.starts_ms, strict=False):
        assert beat.systole_col == pytest.approx((start + 0.4 * heart.beat_ms) / MS_PER_COL, abs=ONE_COLUMN)
        assert beat.length_ms == pytest.approx(heart.beat_ms)
    assert found.timed_by == "R waves"


def test_beats_by_the_free_wall_alone() -> None:
    """Without an ECG the same systoles are found, and the length of the beat to a column."""
    heart = Ventricle()
    found = find_beats(_strip(), _cavity_mm(heart), _wall_mm(heart))

    assert isinstance(found, Beats)
    assert found.timed_by == "the free wall's own motion"
    systoles = [(start + 0.4 * heart.beat_ms) / MS_PER_COL for start in heart.starts_ms]
    assert len(found.measured) == len(heart.starts_ms) - 1
    for beat in found.measured:
        assert min(abs(beat.systole_col - place) for place in systoles) <= FEW_COLUMNS
        assert beat.length_ms == pytest.approx(heart.beat_ms, abs=MS_PER_COL)


@pytest.mark.parametrize("seed", range(3))
def test_noise_and_breath_do_not_mislead_the_length_of_a_beat(seed: int) -> None:
    """Diameters that are flat and noisy at both ends, and drift with the breath: the inward motion stands out."""
    rng = np.random.default_rng(seed)
    heart = Ventricle()
    breath = 1.5 * np.sin(2 * np.pi * times_ms() / 1900)
    noise = np.convolve(rng.normal(0, 1.0, len(times_ms())), np.ones(6) / 6, "same")
    found = find_beats(_strip(), _cavity_mm(heart) + noise, _wall_mm(heart) + breath + noise)

    assert isinstance(found, Beats)
    lengths = [beat.length_ms for beat in found.beats]
    assert len(lengths) in (2, 3)  # the first diastole lies at the strip's end
    assert lengths == pytest.approx([heart.beat_ms] * len(lengths), abs=3 * found.length_timing_ms)
    assert found.diastole_timing_ms > 3 * found.length_timing_ms


def test_an_early_beat_and_those_beside_it_are_left_out() -> None:
    """300 ms instead of 440, then a pause: three are named, the others are measured."""
    starts = (20.0, 460.0, 760.0, 1300.0)  # 440, 300, 540 ms; 1300 begins the next
    long = Ventricle(starts_ms=starts)
    course = np.concatenate([_cavity_mm(long), _cavity_mm(replace(long, starts_ms=(140.0,)))])
    strip = MModeStrip(
        levels=np.zeros((100, len(course)), np.uint8),
        mm_per_row=0.2,
        ms_per_col=MS_PER_COL,
        r_times_ms=(*starts, 1740.0, 2180.0, 2620.0),
    )
    found = find_beats(strip, course, course)

    assert isinstance(found, Beats)
    why = {beat.number: beat.left_out for beat in found.beats if beat.is_ectopic}
    assert why == {2: CUT_SHORT, 3: ECTOPIC, 4: AFTER_ECTOPIC}


def test_a_sinus_arrhythmia_is_not_ectopic() -> None:
    """Intervals that lengthen and shorten in turn, by a quarter: every beat keeps its place."""
    lengths = np.array([440.0, 480.0, 530.0, 560.0, 500.0, 430.0, 400.0, 440.0])
    starts = tuple(float(s) for s in 20 + np.concatenate([[0], np.cumsum(lengths)]))
    course = np.full(int(starts[-1] / MS_PER_COL) + 10, 20.0)
    strip = MModeStrip(
        levels=np.zeros((100, len(course)), np.uint8), mm_per_row=0.2, ms_per_col=MS_PER_COL, r_times_ms=starts
    )
    found = find_beats(strip, course, course)

    assert isinstance(found, Beats)
    assert len(found.beats) == len(lengths)
    assert not any(beat.is_ectopic for beat in found.beats)


@pytest.mark.parametrize(
    ("course", "r_times", "reason"),
    [
        (np.full(400, 20.0), (), "there is no ECG, and the free wall does not move"),
        (np.linspace(10.0, 20.0, 400), (), "there is no ECG, and the free wall's motion does not repeat itself"),
        (np.full(400, 20.0), (100.0,), "no whole beat lies on the strip"),
    ],
)
def test_no_beat_is_told(course: np.ndarray, r_times: tuple[float, ...], reason: str) -> None:
    """A wall that does not move, or a single R wave, gives none."""
    assert find_beats(_strip(r_times), course, course) == reason


def test_a_cavity_that_does_not_shrink_is_not_measured() -> None:
    """R waves alone do not make a beat."""
    rng = np.random.default_rng(0)
    course = 20 + 0.01 * rng.normal(size=400)
    found = find_beats(_strip((100.0, 500.0, 900.0)), course, course)

    assert isinstance(found, Beats)
    assert found.measured == ()


def test_an_irregular_rhythm_asks_for_many_beats() -> None:
    """R waves without a usual interval: all beats count, and what their mean needs is said with it."""
    starts = (20.0, 360.0, 900.0, 1180.0, 1800.0, 2210.0, 2480.0)
    at = np.arange(650)
    course = 20 - 4 * np.sin(np.pi * np.interp(at * MS_PER_COL, starts, np.arange(len(starts))) % np.pi)
    strip = MModeStrip(
        levels=np.zeros((100, len(course)), np.uint8), mm_per_row=0.2, ms_per_col=MS_PER_COL, r_times_ms=starts
    )
    found = find_beats(strip, course, course)

    assert isinstance(found, Beats)
    assert not any(beat.is_ectopic for beat in found.beats)
    assert found.rhythm_note == IRREGULAR
