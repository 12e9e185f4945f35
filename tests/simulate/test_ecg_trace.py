"""The simulated ECG keeps its rhythm's intervals, and the project's own reader finds its R waves on a screen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.ecg import EcgReading, EcgTrace
from fanlight.frames.r_waves import find_r_waves
from fanlight.heart.cycle import even_rhythm
from fanlight.heart.rhythm import Arrhythmia, Beat, Rhythm, beats, draw_rhythm
from fanlight.simulate.screen.ecg_trace import EcgNoise, draw_noise, ecg_mv, r_wave_times_ms, record_ecg
from fanlight.simulate.screen.screen_ecg import EcgPainter
from fanlight.simulate.screen.screen_layout import EcgPen, EcgStyle
from fanlight.study import FrameTimes, PictureChunk, Sector, TimeSource

QUIET = EcgNoise(wander_mv=0.0, hz=(), mv=(), phase_rad=())
RATE_HZ = 40.0
ONE_FRAME = 1.0
SECTOR = Sector(apex_row_px=30.0, apex_col_px=320.0, left_deg=-38.0, right_deg=38.0, near_px=8.0, far_px=340.0)


def drawn(seed: int, species: str = "dog", arrhythmia: Arrhythmia = "sinus") -> Rhythm:
    kind = type(even_rhythm().species)(species)
    kg = 4.0 if species == "cat" else 18.0
    return draw_rhythm(species=kind, weight_kg=kg, rng=np.random.default_rng(seed), arrhythmia=arrhythmia)


def where(trace: NDArray[np.float64], times: NDArray[np.float64]) -> tuple[float, float]:
    """First and last time at which a trace leaves zero."""
    away = np.flatnonzero(abs(trace) > 1e-4)
    return float(times[away[0]]), float(times[away[-1]])


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_waves_lie_where_the_intervals_say(species):
    """P to QRS is the PR interval, QRS to the end of T the QT interval, to 2 ms."""
    kind = type(even_rhythm().species)(species)
    rhythm = even_rhythm(species=kind, rate_bpm=100.0 if species == "dog" else 160.0)
    made = beats(rhythm, 3 * rhythm.rr_ms)
    times = np.arange(0.0, rhythm.rr_ms, 0.1)
    onset = made[1].onset_ms
    middle = onset - rhythm.rr_ms / 2 + times
    trace = ecg_mv(rhythm, made, middle)
    before = middle < onset - 1.0
    after_qrs = middle > onset + rhythm.qrs_ms + 1.0

    p_start, p_end = where(np.where(before & (middle > onset - 1.3 * rhythm.pr_ms), trace, 0.0), middle)
    qrs_start, qrs_end = where(np.where(~before & ~after_qrs, trace, 0.0), middle)
    t_start, t_end = where(np.where(after_qrs, trace, 0.0), middle)
    assert onset - p_start == pytest.approx(rhythm.pr_ms, abs=2.0)
    assert p_end - p_start == pytest.approx(rhythm.p_ms, abs=2.0)
    assert qrs_end - qrs_start == pytest.approx(rhythm.qrs_ms, abs=2.0)
    assert qrs_start == pytest.approx(onset, abs=2.0)
    assert qrs_end < t_start < t_end
    assert t_end - onset == pytest.approx(rhythm.qt_ms, abs=2.0)


def test_heights_are_those_of_the_rhythm():
    rhythm = even_rhythm()
    made = beats(rhythm, 2000.0)
    times = np.arange(0.0, 2000.0, 0.25)
    trace = ecg_mv(rhythm, made, times)

    assert trace.max() == pytest.approx(rhythm.r_mv, rel=0.02)
    assert trace.min() == pytest.approx(min(rhythm.s_mv, rhythm.q_mv), rel=0.1)
    assert times[trace[: int(4 * rhythm.rr_ms * 0.8)].argmax()] == pytest.approx(
        r_wave_times_ms(rhythm, made)[0], abs=1.5
    )


def test_a_premature_beat_is_wide_has_no_p_wave_and_an_opposite_t_wave():
    rhythm = replace(drawn(3, arrhythmia="ectopic"), rsa_ratio=1.0, irregularity_fraction=0.0)
    made = beats(rhythm, 8000.0)
    i = next(i for i, b in enumerate(made[:-1]) if b.early)
    times = np.arange(-rhythm.rr_ms / 2, made[i].rr_ms - rhythm.pr_ms - 5.0, 0.1)
    trace = ecg_mv(rhythm, made, made[i].onset_ms + times)
    alone = ecg_mv(rhythm, [replace(b, early=False) for b in made], made[i].onset_ms + times)
    in_p = (times > -rhythm.pr_ms) & (times < rhythm.p_ms - rhythm.pr_ms)
    main = times[abs(trace).argmax()]

    assert abs(alone[in_p] - trace[in_p]).max() == pytest.approx(rhythm.p_mv, rel=0.01)  # what a sinus beat would add
    assert abs(trace).max() == pytest.approx(abs(rhythm.ectopic_mv), rel=0.05)
    assert made[i].onset_ms + main == pytest.approx(r_wave_times_ms(rhythm, made)[i], abs=3.0)
    half = times[abs(trace) > 0.5 * abs(trace).max()]
    assert half.max() - half.min() > 0.3 * rhythm.ectopic_qrs_ms
    late = trace[times > rhythm.ectopic_qrs_ms]
    assert np.sign(late[abs(late).argmax()]) == -np.sign(rhythm.ectopic_mv)


def test_noise_is_the_same_at_the_same_time_and_as_strong_as_asked():
    rhythm = even_rhythm()
    noise = draw_noise(np.random.default_rng(2), mains_mv=0.0, muscle_mv=0.05, wander_mv=0.0)
    times = np.arange(0.0, 20_000.0, 1.0)

    whole = noise.at(rhythm, times)
    assert whole.std() == pytest.approx(0.05, rel=0.1)
    np.testing.assert_allclose(noise.at(rhythm, times[500:900]), whole[500:900], atol=1e-9)
    assert np.abs(QUIET.at(rhythm, times)).max() == 0.0


def test_mains_hum_has_the_frequency_of_the_mains():
    noise = draw_noise(np.random.default_rng(2), mains_mv=0.03, mains_hz=60.0, wander_mv=0.0)
    spectrum = abs(np.fft.rfft(noise.at(even_rhythm(), np.arange(0.0, 1000.0))))

    assert int(spectrum.argmax()) == 60
    assert spectrum.max() / 500.0 == pytest.approx(0.03, rel=0.01)


def test_the_baseline_wanders_with_the_breath():
    rhythm = even_rhythm()
    noise = draw_noise(np.random.default_rng(2), wander_mv=0.2)
    times = np.arange(0.0, rhythm.breath_ms)

    assert np.ptp(noise.at(rhythm, times)) == pytest.approx(0.2 * rhythm.breath_depth_fraction, rel=0.01)


def test_a_recording_needs_beats_that_cover_it():
    rhythm = even_rhythm()
    with pytest.raises(ValueError, match=r"the beats cover 0 to .* from -4000 to 1000 ms; make the beats"):
        record_ecg(rhythm, beats(rhythm, 1000.0), 1000.0, lead_ms=4000.0)


def test_a_recording_names_its_r_waves():
    rhythm = even_rhythm(rate_bpm=100.0)
    made = beats(rhythm, 3000.0, lead_ms=1000.0)

    strip = record_ecg(rhythm, made, 3000.0, lead_ms=1000.0)
    peaks = [t for t in strip.r_times_ms if 10.0 < t < 2990.0]
    assert len(peaks) == 5
    for t in peaks:
        around = np.arange(t - 40.0, t + 40.0)
        assert around[strip.at(around).argmax()] == pytest.approx(t, abs=2.0)


@pytest.mark.parametrize("rate_bpm", [70.0, 110.0, 160.0])
def test_r_waves_are_told_from_p_and_t_in_the_trace_itself(rate_bpm):
    """A clean trace of 120 columns a second, 20 rows a millivolt, without any screen."""
    rhythm = even_rhythm(rate_bpm=rate_bpm)
    made = beats(rhythm, 5000.0)
    fine = ecg_mv(rhythm, made, np.arange(0.0, 5000.0, 1000.0 / 1200.0)).reshape(-1, 10)
    rows = 60.0 - 20.0 * fine

    found = find_r_waves(np.floor(rows.min(axis=1)), np.ceil(rows.max(axis=1)))
    truth = [t * 0.12 for t in r_wave_times_ms(rhythm, made) if t < 5000.0]
    assert found.at_px == pytest.approx(truth, abs=1.5)


def on_screen(rhythm: Rhythm, made: tuple[Beat, ...], noise: EcgNoise | None, pen: EcgPen) -> EcgReading:
    """Draw 120 frames of 640 by 480 with speckle in the sector, and read the ECG as a review would."""
    n, lead_ms = 120, 5000.0
    strip = record_ecg(rhythm, made, n * 1000.0 / RATE_HZ, lead_ms=lead_ms, noise=noise)
    style = EcgStyle(row0=400, row1=460, col0=60, col1=580, ink=(90, 220, 120), pen=pen)
    painter = EcgPainter(style, strip)
    rng = np.random.default_rng(1)
    yy, xx = np.mgrid[0:480, 0:640]
    angle = np.degrees(np.arctan2(xx - SECTOR.apex_col_px, yy - SECTOR.apex_row_px))
    away = np.hypot(yy - SECTOR.apex_row_px, xx - SECTOR.apex_col_px)
    inside = (abs(angle) < 38.0) & (away > SECTOR.near_px) & (away < SECTOR.far_px)
    frames = np.zeros((n, 480, 640, 3), np.uint8)
    for i in range(n):
        frames[i][inside] = rng.integers(0, 120, int(inside.sum()), dtype=np.uint8)[:, None]
        painter.draw(frames[i], i * 1000.0 / RATE_HZ)
    trace = EcgTrace()
    trace.start(frames[:32], SECTOR)
    grey = frames[..., 0]
    trace.add(PictureChunk(first=0, pixels=frames, grey=grey, beams=grey))
    times = FrameTimes(times_ms=tuple(i * 1000.0 / RATE_HZ for i in range(n)), source=TimeSource.FRAME_TIME)
    return trace.finish(times)


@pytest.mark.parametrize("pen", list(EcgPen))
@pytest.mark.parametrize(
    ("species", "arrhythmia", "seed", "noisy"),
    [
        pytest.param("dog", "sinus", 1, False, id="dog, clean"),
        pytest.param("dog", "sinus", 2, True, id="dog, hum and tremor"),
        pytest.param("dog", "sinus_arrhythmia", 3, True, id="dog, sinus arrhythmia"),
        pytest.param("cat", "sinus", 4, False, id="cat, clean"),
    ],
)
def test_the_reader_finds_the_r_waves_within_a_frame(species, arrhythmia, seed, noisy, pen):
    rhythm = drawn(seed, species, arrhythmia)
    noise = draw_noise(np.random.default_rng(seed), mains_mv=0.01, muscle_mv=0.01, wander_mv=0.05) if noisy else None
    made = beats(rhythm, 3000.0, lead_ms=5000.0)

    reading = on_screen(rhythm, made, noise, pen)

    last_ms = 119 * 1000.0 / RATE_HZ
    truth = [t * RATE_HZ / 1000.0 for t in r_wave_times_ms(rhythm, made) if 0.0 <= t <= last_ms]
    rim = 1.5  # frames: a wave at the very rim of the clip may be counted or not
    surely = [f for f in truth if rim < f < 119 - rim]
    assert len(surely) >= 3
    found = [f for f in reading.r_frames if rim < f < 119 - rim]
    assert found == pytest.approx(surely, abs=ONE_FRAME), reading.reason


@pytest.mark.parametrize("species", ["dog", "cat"])
@pytest.mark.parametrize("seed", [100, 101])
def test_the_reader_finds_premature_beats_within_their_own_complex(species, seed):
    """Of an upside-down complex the reader takes another part than the truth does: both lie inside it.

    Seed 100 draws downward premature complexes, 101 upward ones.
    """
    rhythm = drawn(seed, species, "ectopic")
    made = beats(rhythm, 3000.0, lead_ms=5000.0)

    reading = on_screen(rhythm, made, None, EcgPen.WIPES)

    assert rhythm.ectopic_mv < 0 if seed == 100 else rhythm.ectopic_mv > 0
    early = [(b.onset_ms, b.onset_ms + rhythm.ectopic_qrs_ms) for b in made if b.early and 50.0 < b.onset_ms < 2850.0]
    assert early
    for start_ms, end_ms in early:
        found = [f * 1000.0 / RATE_HZ for f in reading.r_frames]
        assert sum(start_ms - 5.0 <= f <= end_ms + 5.0 for f in found) == 1, reading.reason
