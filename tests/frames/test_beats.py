"""Beats from motion, from tags and from the ECG; what is not known stays empty."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from fanlight.frames.beats import place_beats, rr_variation_ratio
from fanlight.frames.clip_time import ClipTimer
from fanlight.frames.layout_of import FirstSeen, see_first
from fanlight.frames.motion import Motion, MotionReading, find_period
from fanlight.study import BeatSource, Clip, ClipTime, FrameTimes, PictureChunk, TimeSource
from tests.critique.pulsing_phantom import Pulsing, pulsing

SMALL: dict[str, Any] = {"rows": 240, "cols": 320, "ecg_cols": (15, 305), "ecg_height_px": 24}
ONE_FRAME = 1.0


@lru_cache(maxsize=4)
def _drawn(seed: int, items: tuple[tuple[str, Any], ...]) -> Pulsing:
    return pulsing(np.random.default_rng(seed), **{**SMALL, **dict(items)})


def drawn(seed: int = 2, **options: Any) -> Pulsing:
    return _drawn(seed, tuple(sorted(options.items())))


def motion_of(phantom: Pulsing) -> MotionReading:
    motion = Motion()
    for chunk in phantom.chunks():
        motion.add(chunk)
    return motion.finish()


def timed(phantom: Pulsing, clip: Clip | None = None, seen: FirstSeen | None = None) -> ClipTime:
    timer = ClipTimer(clip or phantom.clip, phantom.layout, seen)
    for chunk in phantom.chunks():
        timer.add(chunk)
    return timer.finish()


def test_what_was_seen_before_is_not_looked_for_and_gives_the_same() -> None:
    """Unless another picture was found then: the line of the ECG depends on it."""
    phantom = drawn(n_frames=90, ecg="sweep")
    first = next(iter(phantom.chunks())).pixels
    elsewhere = replace(see_first(phantom.clip, first, (None, 0.0, "")), line=None)

    assert timed(phantom).beat_source is BeatSource.ECG_TRACE
    assert timed(phantom, seen=see_first(phantom.clip, first, (phantom.layout.picture, 1.0, ""))) == timed(phantom)
    assert timed(phantom, seen=replace(elsewhere, found=(phantom.layout.picture, 1.0, ""))) != timed(phantom)
    assert timed(phantom, seen=elsewhere) == timed(phantom)


@pytest.mark.parametrize(
    "options",
    [
        pytest.param({}, id="plain"),
        pytest.param({"rr_frames": (9.7,)}, id="fast: ten frames a beat"),
        pytest.param({"rr_frames": (33.3,)}, id="slow"),
        pytest.param({"noise": 40.0}, id="noisy"),
        pytest.param({"gain": 0.3}, id="dark"),
        pytest.param({"grey_screen": True}, id="grey screen"),
        pytest.param({"static_clutter": True}, id="haze that stands still"),
        pytest.param({"drift_fraction": 0.3}, id="drifting"),
        pytest.param({"breathing_fraction": 0.05}, id="breathing"),
        pytest.param({"flow_colour": True}, id="colour flow"),
        pytest.param({"repeat_every": 5}, id="every fifth frame repeated"),
    ],
)
@pytest.mark.parametrize("seed", [2, 7])
def test_the_beat_is_read_from_the_motion_alone(seed: int, options: dict[str, Any]) -> None:
    """Within two per cent, whatever else happens in the picture."""
    phantom = drawn(seed, n_frames=90, **options)
    reading = motion_of(phantom)

    assert reading.period_frames == pytest.approx(phantom.period_frames, rel=0.02)
    assert reading.confidence >= 0.6


@pytest.mark.parametrize(
    "options",
    [
        pytest.param({"beating": False}, id="nothing beats"),
        pytest.param({"beating": False, "drift_fraction": 0.3}, id="only the probe moves"),
        pytest.param({"beating": False, "breathing_fraction": 0.05}, id="only breathing"),
        pytest.param({"beating": False, "sweep_to_other_plane": 1.0}, id="a sweep"),
        pytest.param({"rr_frames": (60.0,), "first_r_frame": 20.0}, id="less than one and a third beats"),
    ],
)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_beat_is_claimed_where_none_repeats(seed: int, options: dict[str, Any]) -> None:
    """A refusal, with a reason."""
    reading = motion_of(drawn(seed, n_frames=70, **options))

    assert reading.period_frames is None
    assert reading.confidence == 0
    assert reading.reason


def test_noise_alone_never_repeats() -> None:
    """White noise: no period in 60 trials of each length."""
    rng = np.random.default_rng(11)
    found = [
        find_period(rng.normal(scale=5.0, size=(n, 1024)).astype(np.float32))[0] for n in (30, 60) for _ in range(60)
    ]

    assert found == [None] * 120


def test_more_beats_make_it_surer() -> None:
    """One and a half beats leave a doubt, four do not."""
    confidences = [motion_of(drawn(n_frames=n)).confidence for n in (36, 43, 96)]

    assert confidences == sorted(confidences)
    assert confidences[0] < 0.5 < confidences[-1]


def test_repeated_frames_are_named() -> None:
    """Exactly the frames that repeat the one before, counted from 0."""
    reading = motion_of(drawn(n_frames=30, repeat_every=5))

    assert reading.frozen_frames == (4, 9, 14, 19, 24, 29)


def test_no_frame_of_a_live_picture_is_called_repeated() -> None:
    """Also in the quiet part of the beat."""
    assert motion_of(drawn(n_frames=60, noise=2.0)).frozen_frames == ()


@pytest.mark.parametrize("value", [0, 255])
def test_a_black_or_white_clip_has_no_beat(value: int) -> None:
    """Limits: nothing moves, all frames repeat, and it says so."""
    motion = Motion()
    grey = np.full((20, 64, 64), value, np.uint8)
    motion.add(PictureChunk(first=0, pixels=grey, grey=grey, beams=None))
    reading = motion.finish()

    assert reading.period_frames is None
    assert reading.reason == "the picture does not move"
    assert len(reading.frozen_frames) == 19


@pytest.mark.parametrize("seed", [2, 7])
@pytest.mark.parametrize("options", [{}, {"rr_frames": (34.0,)}, {"rr_frames": (22.0, 27.0)}, {"gain": 0.4}])
def test_end_diastole_and_end_systole_lie_in_their_frames(seed: int, options: dict[str, Any]) -> None:
    """End-diastole at the R wave, end-systole at the smallest heart, one of each a whole beat."""
    phantom = drawn(seed, n_frames=100, **options)
    motion = Motion()
    for chunk in phantom.chunks():
        motion.add(chunk)
    placed = place_beats(phantom.r_frames, motion.signatures())
    beats = len(phantom.r_frames) - 1

    assert placed.end_diastole_frames == pytest.approx(phantom.r_frames[:beats], abs=0.5 + 1e-9)
    truth = [e for e in phantom.end_systole_frames if phantom.r_frames[0] < e < phantom.r_frames[-1]]
    assert placed.end_systole_frames == pytest.approx(truth, abs=2 * ONE_FRAME)


def test_without_motion_there_is_no_end_systole() -> None:
    """R waves over a picture that does not beat give end-diastole only, and the reason."""
    phantom = drawn(n_frames=60, beating=False, noise=0.0)
    motion = Motion()
    for chunk in phantom.chunks():
        motion.add(chunk)
    placed = place_beats((5.0, 29.0, 53.0), motion.signatures())

    assert placed.end_diastole_frames == (5, 29)
    assert placed.end_systole_frames == ()
    assert "no clear turn" in placed.reason


def test_motion_alone_gives_no_phases() -> None:
    """Which extreme is end-diastole cannot be known without an ECG."""
    time = timed(drawn(n_frames=90))

    assert time.beat_source is BeatSource.MOTION
    assert time.end_diastole_frames == time.end_systole_frames == ()
    assert "without R waves end-diastole and end-systole cannot be told apart" in time.reasons


KNOWN_VARIATION = [
    pytest.param((20.0, 20.0, 20.0), 0.0, id="identity: even beats"),
    pytest.param((10.0, 20.0), 0.4714, id="by hand: SD 7.071 over mean 15"),
    pytest.param((8.0, 10.0, 12.0), 0.2, id="by hand: SD 2 over mean 10"),
]


@pytest.mark.parametrize(("rr", "expected"), KNOWN_VARIATION)
def test_variation_of_the_intervals_matches_known_values(rr: tuple[float, ...], expected: float) -> None:
    """Standard deviation of the sample over the mean."""
    assert rr_variation_ratio(rr) == pytest.approx(expected, abs=5e-5)


def test_one_interval_has_no_variation() -> None:
    """None, not zero."""
    assert rr_variation_ratio((20.0,)) is None


def test_ecg_and_motion_together_give_the_whole_reading() -> None:
    """Beats, heart rate, phases and their source; 24 frames at 40 Hz are 600 ms and 100 bpm."""
    phantom = drawn(n_frames=90, ecg="sweep")
    time = timed(phantom)

    assert time.beat_source is BeatSource.ECG_TRACE
    assert time.has_ecg is True
    assert time.r_frames == pytest.approx(phantom.r_frames, abs=ONE_FRAME)
    assert time.beat_period_ms == pytest.approx(600.0, rel=0.02)
    assert time.heart_rate_bpm == pytest.approx(100.0, rel=0.02)
    assert time.complete_beats == 3
    assert len(time.end_systole_frames) == 3
    assert time.confidence >= 0.9


def test_r_wave_times_of_the_file_come_first() -> None:
    """R Wave Time Vector (0018,6060), PS3.3 C.8.5.6: milliseconds from the first frame."""
    phantom = drawn(n_frames=90, ecg="sweep")
    clip = replace(phantom.clip, tags=replace(phantom.clip.tags, r_wave_times_ms=(125.0, 725.0, 1325.0, 1925.0)))
    time = timed(phantom, clip)

    assert time.beat_source is BeatSource.R_WAVE_TAG
    assert time.r_frames == pytest.approx((5.0, 29.0, 53.0, 77.0))
    assert time.rr_ms == pytest.approx((600.0, 600.0, 600.0))


def test_r_wave_times_without_frame_times_are_not_placed() -> None:
    """They say when, not in which frame."""
    phantom = drawn(n_frames=90)
    clip = replace(phantom.clip, tags=replace(phantom.clip.tags, r_wave_times_ms=(125.0, 725.0)), times=FrameTimes())
    time = timed(phantom, clip)

    assert time.beat_source is BeatSource.MOTION
    assert "R-wave times are in the file, but no frame times to place them" in time.reasons


def test_doubted_times_give_the_beat_in_frames_only() -> None:
    """No milliseconds and no heart rate from times that may be wrong."""
    time = timed(drawn(n_frames=90, ecg="sweep", doubts=("delays of a GIF",)))

    assert time.beat_period_frames == pytest.approx(24.0, rel=0.02)
    assert time.beat_period_ms is None
    assert time.heart_rate_bpm is None
    assert time.rr_ms == ()


@pytest.mark.parametrize(("bpm", "is_confirmed"), [(100.0, True), (93.0, True), (70.0, False), (200.0, False)])
def test_a_written_heart_rate_bears_doubted_times_out_only_when_it_agrees(bpm: float, is_confirmed: bool) -> None:
    """Within ten per cent it is a second witness."""
    time = timed(drawn(n_frames=90, doubts=("delays of a GIF",), bpm_text=bpm))

    assert (time.heart_rate_bpm is not None) is is_confirmed


def test_a_written_heart_rate_that_disagrees_is_named() -> None:
    """Trusted times stand, but the reader is told."""
    time = timed(drawn(n_frames=90, bpm_text=60.0))

    assert time.heart_rate_bpm == pytest.approx(100.0, rel=0.02)
    assert "the frame times give 100 bpm, but 60 bpm is written: one of them is wrong" in time.reasons


def test_gif_delays_are_doubted() -> None:
    """Even when intake did not say so."""
    phantom = drawn(n_frames=90)
    clip = replace(phantom.clip, times=replace(phantom.clip.times, source=TimeSource.GIF_DELAY))

    assert timed(phantom, clip).heart_rate_bpm is None


def test_times_that_do_not_rise_are_doubted() -> None:
    """A frame cannot be taken before the one ahead of it."""
    phantom = drawn(n_frames=90)
    stuck = (0.0, 0.0, *phantom.clip.times.times_ms[2:])
    time = timed(phantom, replace(phantom.clip, times=FrameTimes(times_ms=stuck, source=TimeSource.FRAME_TIME_VECTOR)))

    assert "frame times that do not rise" in time.times.doubts
    assert time.heart_rate_bpm is None


def test_a_slow_repeat_is_not_taken_for_a_heart() -> None:
    """24 frames at 8 frames a second would be 20 beats a minute: breathing, not a heart."""
    time = timed(drawn(n_frames=90, rate_hz=8.0))

    assert time.beat_source is BeatSource.NONE
    assert "the picture repeats 20 times a minute: not taken for heart beats" in time.reasons


def test_a_still_has_no_beats_and_no_miss() -> None:
    """One frame: empty, with the reason."""
    phantom = drawn(n_frames=1)
    time = timed(phantom)

    assert time.beat_source is BeatSource.NONE
    assert time.reasons == ("a still has no beats",)


def test_a_damaged_clip_is_timed_as_far_as_it_was_shown() -> None:
    """Fewer frames than stated: times end where the frames end."""
    phantom = drawn(n_frames=90)
    timer = ClipTimer(phantom.clip, phantom.layout)
    chunks = list(phantom.chunks(20))
    for chunk in chunks[:3]:
        timer.add(chunk)
    time = timer.finish()

    assert len(time.times.times_ms) == 60
    assert time.beat_period_frames == pytest.approx(24.0, rel=0.02)
