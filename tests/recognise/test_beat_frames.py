"""Which frames the network is shown: one beat in even steps, whatever the clip's length, rate and chunks are."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.recognise import beat_frames
from fanlight.recognise.beat_frames import MOST_KEPT, N_FRAMES, WHOLE_PX, BeatFrames, beat_places
from fanlight.recognise.picture_square import to_square
from fanlight.study import BeatSource, ClipTime, FrameTimes, PictureChunk, Sector, TimeSource

SECTOR = Sector(apex_row_px=0.0, apex_col_px=40.0, left_deg=-30.0, right_deg=30.0, near_px=0.0, far_px=60.0)


def time_of(*, diastole: tuple[int, ...] = (), period: float | None = None, rate_hz: float | None = None) -> ClipTime:
    times = FrameTimes()
    if rate_hz is not None:
        times = FrameTimes(times_ms=(0.0, 1000.0 / rate_hz), source=TimeSource.FRAME_TIME)
    return ClipTime(times=times, beat_source=BeatSource.MOTION, beat_period_frames=period, end_diastole_frames=diastole)


def shown(n: int, chunk: int) -> tuple[BeatFrames, np.ndarray]:
    grey = np.random.default_rng(5).integers(0, 255, (n, 64, 80), dtype=np.uint8)
    frames = BeatFrames(SECTOR)
    for first in range(0, n, chunk):
        part = grey[first : first + chunk]
        frames.add(PictureChunk(first=first, pixels=part, grey=part, beams=None))
    return frames, grey


def test_one_beat_from_its_end_of_diastole() -> None:
    assert beat_places(time_of(diastole=(7, 31), period=24.0), 60) == [7.0, 11.0, 15.0, 19.0, 23.0, 27.0]


def test_a_beat_that_the_clip_cuts_short_is_passed_over_or_shifted_into_it() -> None:
    """The second beat runs past the end: the first is taken; of a clip with no whole beat the last such stretch."""
    assert beat_places(time_of(diastole=(2, 26), period=24.0), 40)[0] == 2.0
    places = beat_places(time_of(diastole=(30,), period=24.0), 40)
    assert places == pytest.approx([19.0, 23.0, 27.0, 31.0, 35.0, 39.0])


@pytest.mark.parametrize(("rate_hz", "span"), [(50.0, 25.0), (10.0, 5.0), (None, 25.0)])
def test_without_beats_about_half_a_second_is_shown(rate_hz: float | None, span: float) -> None:
    places = beat_places(time_of(rate_hz=rate_hz), 200)
    assert len(places) == N_FRAMES
    assert places[-1] - places[0] == pytest.approx(span * (N_FRAMES - 1) / N_FRAMES)


def test_a_still_is_shown_once() -> None:
    frames, grey = shown(1, 1)
    indices, squares = frames.chosen(time_of())
    assert indices == (0,)
    assert np.array_equal(squares, to_square(grey, SECTOR))


def large(rows: int, n: int) -> tuple[Sector, np.ndarray]:
    sector = Sector(apex_row_px=0, apex_col_px=rows / 2, left_deg=-30, right_deg=30, near_px=0, far_px=rows - 1)
    return sector, np.random.default_rng(6).integers(0, 255, (n, rows, rows), dtype=np.uint8)


@pytest.mark.parametrize(("rows", "is_whole"), [(400, True), (1000, False)])
def test_frames_whose_memory_is_used_again_are_copied_whole_or_small(rows: int, is_whole: bool) -> None:
    """A chunk that is grey by itself is the decoder's own buffer: what it held is overwritten by the next frames."""
    sector, grey = large(rows, 3)
    frames, buffer = BeatFrames(sector), grey.copy()
    frames.add(PictureChunk(first=0, pixels=buffer, grey=buffer, beams=None))
    buffer[:] = 0
    _, squares = frames.chosen(time_of(period=3.0))

    assert np.array_equal(squares, to_square(grey, sector))
    size = frames._room[0].size
    assert WHOLE_PX / 10 < size <= WHOLE_PX if is_whole else size < WHOLE_PX / 5


@pytest.mark.parametrize("held_bytes", [0, 500_000, 1_000_000, 10**9])
def test_frames_held_where_they_came_and_copied_ones_give_the_same_squares(
    held_bytes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only memory and time tell the ways apart: copied from the first, held until it is too much, held throughout."""
    monkeypatch.setattr(beat_frames, "HELD_BYTES", held_bytes)
    sector, grey = large(100, 230)
    frames = BeatFrames(sector)
    for first in range(0, 230, 32):
        part = grey[first : first + 32].copy()
        frames.add(PictureChunk(first=first, pixels=np.stack([part] * 3, axis=-1), grey=part, beams=None))
    indices, squares = frames.chosen(time_of(diastole=(8,), period=90.0))

    assert np.array_equal(squares, to_square(grey[list(indices)], sector))
    assert len(frames._indices()) <= MOST_KEPT
    assert (frames._held is None) is (held_bytes < grey.nbytes)


@pytest.mark.parametrize("rows", [64, 400, 1000])
def test_colour_lies_in_the_square_where_it_lies_on_the_screen(rows: int) -> None:
    """Against the grey square of the same patch: what is red there is all that is bright."""
    sector = Sector(apex_row_px=0, apex_col_px=rows / 2, left_deg=-30, right_deg=30, near_px=0, far_px=rows - 1)
    pixels = np.zeros((4, rows, rows, 3), np.uint8)
    pixels[1, rows // 2 : 3 * rows // 4, 2 * rows // 5 : 3 * rows // 5] = (200, 0, 0)
    grey = np.asarray(pixels[..., 0])
    frames = BeatFrames(sector, with_colour=True)
    frames.add(PictureChunk(first=0, pixels=pixels, grey=grey, beams=None))
    painted = frames.coloured((0, 1))
    assert painted is not None

    meant = to_square(grey[1:2], sector)[0] > 100
    assert not painted.frames[0].any()
    assert ((painted.frames[1] > 127) ^ meant).sum() <= 0.08 * meant.sum()
    assert np.array_equal(painted.ever, painted.frames[1])


def test_without_colour_nothing_is_kept_of_it() -> None:
    grey = np.full((2, 64, 80), 90, np.uint8)
    for with_colour, pixels in ((False, np.stack([grey] * 3, axis=-1)), (True, grey)):
        frames = BeatFrames(SECTOR, with_colour=with_colour)
        frames.add(PictureChunk(first=0, pixels=pixels, grey=grey, beams=None))
        assert frames.coloured((0, 1)) is None


@pytest.mark.parametrize("chunk", [1, 32, 500])
def test_a_long_clip_keeps_few_squares_and_the_right_ones(chunk: int) -> None:
    """Each chosen square is the frame's own, and lies no further from its place than the step that was kept."""
    frames, grey = shown(500, chunk)
    assert len(frames._indices()) <= MOST_KEPT
    time = time_of(diastole=(100,), period=90.0)
    indices, squares = frames.chosen(time)
    for index, square in zip(indices, squares, strict=True):
        assert np.array_equal(square, to_square(grey[index : index + 1], SECTOR)[0])
    assert max(abs(index - place) for index, place in zip(indices, beat_places(time, 500), strict=True)) <= 4
