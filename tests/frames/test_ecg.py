"""The ECG on the screen: found where it is, not found where it is not, R waves in the right frames."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.ecg import EcgReading, EcgTrace
from fanlight.frames.ecg_line import find_line
from fanlight.frames.r_waves import find_r_waves
from fanlight.study import Sector
from tests.critique.pulsing_phantom import STYLES, Pulsing, ecg_millivolt, pulsing

SMALL: dict[str, Any] = {"rows": 320, "cols": 420, "ecg_cols": (20, 400), "ecg_height_px": 22, "noise": 6.0}
# An R wave is placed by the frame in which the pen passes it: one frame each way, and the width of a marker.
R_FRAME_TOLERANCE = 1.3


@lru_cache(maxsize=4)
def _drawn(seed: int, items: tuple[tuple[str, Any], ...]) -> Pulsing:
    return pulsing(np.random.default_rng(seed), **{**SMALL, **dict(items)})


def drawn(seed: int = 3, **options: Any) -> Pulsing:
    return _drawn(seed, tuple(sorted(options.items())))


def read(phantom: Pulsing, size: int = 32) -> EcgReading:
    trace = EcgTrace()
    chunks = list(phantom.chunks(size))
    trace.start(chunks[0].pixels, phantom.sector)
    for chunk in chunks:
        trace.add(chunk)
    return trace.finish(phantom.clip.times)


def assert_r_waves(reading: EcgReading, phantom: Pulsing, tolerance: float = R_FRAME_TOLERANCE) -> None:
    assert len(reading.r_frames) == len(phantom.r_frames)
    assert reading.r_frames == pytest.approx(phantom.r_frames, abs=tolerance)


@pytest.mark.parametrize("style", [style for style in STYLES if style != "still"])
@pytest.mark.parametrize(
    "options",
    [
        pytest.param({}, id="green"),
        pytest.param({"ecg_colour": (235, 235, 235), "ecg_inverted": True}, id="white, upside down"),
        pytest.param({"ecg_colour": (240, 220, 40), "rr_frames": (20.0, 29.0, 24.0)}, id="yellow, uneven"),
        pytest.param({"grey_screen": True, "rr_frames": (17.0,)}, id="grey screen, fast"),
    ],
)
def test_r_waves_are_placed_in_their_frames_however_the_trace_is_drawn(style: str, options: dict[str, Any]) -> None:
    """Sweeping, scrolling, growing and still traces with a marker give the frames in which R waves were drawn."""
    phantom = drawn(n_frames=90, ecg=style, **options)
    reading = read(phantom)

    assert_r_waves(reading, phantom)
    assert reading.confidence > 0.35


def test_a_tall_t_wave_is_not_taken_for_r() -> None:
    """In dogs T may be as tall as R: what counts is steepness."""
    phantom = drawn(n_frames=90, ecg="sweep", ecg_t_height=0.95)

    assert_r_waves(read(phantom), phantom)


@pytest.mark.parametrize("size", [7, 32, 90])
def test_the_size_of_the_chunks_does_not_matter(size: int) -> None:
    """The same R waves, however the frames are handed over."""
    phantom = drawn(n_frames=90, ecg="sweep")

    assert_r_waves(read(phantom, size), phantom)


@pytest.mark.parametrize("corner", [(0, 0), (-14, 9), (11, -17)])
def test_the_place_on_the_screen_does_not_matter(corner: tuple[int, int]) -> None:
    """Picture and trace moved together give the same reading and a box that moves along."""
    phantom = drawn(n_frames=60, ecg="scroll", corner=corner)
    reading = read(phantom)

    assert_r_waves(reading, phantom)
    assert reading.box is not None
    assert reading.box.col0 == pytest.approx(20 + corner[1], abs=2)
    assert phantom.ecg_rows is not None
    assert phantom.ecg_rows[0] - 1 <= reading.box.row0 < reading.box.row1 <= phantom.ecg_rows[1] + 1


def test_a_coloured_trace_over_the_moving_picture_is_read() -> None:
    """Colour Doppler and speckle behind a green trace do not disturb it."""
    phantom = drawn(n_frames=90, ecg="sweep", ecg_over_picture=True, flow_colour=True)

    assert_r_waves(read(phantom), phantom)


def test_a_trace_without_a_marker_is_found_but_gives_no_frames() -> None:
    """R waves that cannot be tied to frames are reported as such, never guessed."""
    reading = read(drawn(n_frames=60, ecg="still"))

    assert reading.box is not None
    assert reading.r_frames == ()
    assert "nothing marks the frame" in reading.reason


@pytest.mark.parametrize("colour", [(60, 230, 70), (230, 230, 230), (60, 200, 230)])
def test_dimmer_ink_and_other_colours_give_the_same_waves(colour: tuple[int, int, int]) -> None:
    """Brightness of the trace does not matter down to two thirds."""
    for share in (1.0, 0.66):
        red, green, blue = (int(c * share) for c in colour)
        phantom = drawn(n_frames=60, ecg="sweep", ecg_colour=(red, green, blue))

        assert_r_waves(read(phantom), phantom)


def test_intervals_before_the_clip_are_used_for_the_beat_only() -> None:
    """A sweep still shows older beats: their intervals count, their R waves lie outside the clip."""
    phantom = drawn(n_frames=40, rr_frames=(26.0,), ecg="sweep")
    reading = read(phantom)

    assert len(reading.rr_frames) > len(reading.r_frames) - 1
    assert np.median(reading.rr_frames) == pytest.approx(26.0, abs=0.7)
    assert all(0 <= frame <= 39 for frame in reading.r_frames)


def _screen() -> NDArray[np.uint8]:
    return np.zeros((4, 320, 420, 3), np.uint8)


def _with_words(screen: NDArray[np.uint8]) -> None:
    for frame in screen:
        cv2.putText(frame, "HR 112 bpm  GAIN 54  DR 60 dB", (20, 300), cv2.FONT_HERSHEY_SIMPLEX, 0.6, (60, 230, 70), 1)


def _with_straight_line(screen: NDArray[np.uint8]) -> None:
    for frame in screen:
        cv2.line(frame, (20, 300), (400, 300), (60, 230, 70), 1)


def _with_ruler(screen: NDArray[np.uint8]) -> None:
    for frame in screen:
        cv2.line(frame, (20, 300), (400, 300), (200, 200, 200), 1)
        for col in range(20, 400, 30):
            cv2.line(frame, (col, 295), (col, 305), (200, 200, 200), 1)


def _with_breathing_curve(screen: NDArray[np.uint8]) -> None:
    cols = np.arange(20, 400)
    points = np.stack([cols, 290 + 18 * np.sin(cols / 25.0)], axis=1).round().astype(np.int32)
    for frame in screen:
        cv2.polylines(frame, [points], False, (60, 230, 70), 1, cv2.LINE_AA)


def _with_panel(screen: NDArray[np.uint8]) -> None:
    screen[:, 260:310, 20:400] = (60, 230, 70)


@pytest.mark.parametrize(
    "draw",
    [_with_words, _with_straight_line, _with_ruler, _with_breathing_curve, _with_panel],
    ids=lambda f: f.__name__,
)
def test_other_things_on_the_screen_are_no_ecg(draw: Any) -> None:
    """Words, rules, rulers, breathing curves and panels are not taken for a trace."""
    screen = _screen()
    draw(screen)

    assert find_line(screen, None) is None


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("grey", [True, False])
def test_a_picture_without_a_trace_has_none(seed: int, grey: bool) -> None:
    """Speckle, a beating wall and colour flow are not taken for a trace, with and without a known picture."""
    phantom = drawn(seed, n_frames=12, grey_screen=grey, flow_colour=not grey, noise=15.0)

    assert find_line(phantom.pixels, phantom.sector) is None
    assert find_line(phantom.pixels, None) is None


@pytest.mark.parametrize("value", [0, 128, 255])
def test_a_uniform_screen_has_no_ecg(value: int) -> None:
    """Limits: black, grey and white screens, one frame or several."""
    for n in (1, 4):
        assert find_line(np.full((n, 100, 120, 3), value, np.uint8), None) is None
        assert find_line(np.full((n, 100, 120), value, np.uint8), None) is None


def test_a_trace_that_was_not_found_says_so() -> None:
    """The reason is given in words."""
    phantom = drawn(n_frames=12)

    assert read(phantom).reason == "no thin line with sharp regular deflections was found on the screen"


def test_r_waves_of_a_drawn_curve_lie_where_it_was_drawn() -> None:
    """The detector alone: R waves of a curve at known places, in pixels."""
    cols = np.arange(0, 400, 0.25)
    fine = 60 - 40 * ecg_millivolt(cols / 80.0 + 0.5)
    rows = fine.reshape(400, 4)
    waves = find_r_waves(rows.min(axis=1), rows.max(axis=1))

    assert waves.at_px == pytest.approx([40, 120, 200, 280, 360], abs=1.0)
    assert waves.contrast_ratio > 3


def test_a_curve_without_steep_deflections_has_no_r_waves() -> None:
    """A breathing curve gives none."""
    rows = 60 + 20 * np.sin(np.arange(400) / 30.0)

    assert find_r_waves(rows, rows + 1).at_px == ()


def test_an_unusable_sector_does_not_stop_the_search() -> None:
    """A picture that covers the whole screen hides a grey trace, not a coloured one."""
    phantom = drawn(n_frames=60, ecg="sweep")
    everything = Sector(
        apex_row_px=-400.0, apex_col_px=210.0, left_deg=-60.0, right_deg=60.0, near_px=0.0, far_px=2000.0
    )

    assert find_line(phantom.pixels, everything) is not None
