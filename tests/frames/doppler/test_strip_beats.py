"""R waves under a strip that stands still, against where they were drawn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.study import Box

STRIP = Box(row0=80, col0=50, row1=300, col1=650)


def _screen(
    every_px: float, col0: int = STRIP.col0, col1: int = STRIP.col1, ink: tuple[int, int, int] = (90, 220, 230)
) -> NDArray[np.uint8]:
    """A noisy strip, and a trace under it with an R wave every so many columns."""
    rng = np.random.default_rng(0)
    out = np.zeros((400, 700, 3), np.uint8)
    out[STRIP.row0 : STRIP.row1, STRIP.col0 : STRIP.col1] = rng.integers(0, 120, (220, 600, 1))
    t = (np.arange(col1 - col0) - 30) % every_px
    t = np.where(t > every_px / 2, t - every_px, t)
    high = 34 * np.exp(-((t / 2.2) ** 2)) + 6 * np.exp(-(((t - 0.35 * every_px) / 12.0) ** 2))
    points = np.stack([np.arange(col1 - col0) + col0, 360 - high], axis=1).round().astype(np.int32)
    cv2.polylines(out, [points], isClosed=False, color=ink, thickness=1)
    return out


@pytest.mark.parametrize("every_px", [75.0, 118.0, 190.0])
def test_r_waves_stand_where_they_were_drawn(every_px: float) -> None:
    found = strip_r_columns(_screen(every_px), STRIP)

    assert not isinstance(found, str)
    drawn = np.arange(30, STRIP.width_px, every_px) + STRIP.col0
    # one more may stand half over the right end
    assert found[: len(drawn)] == pytest.approx(drawn, abs=2.5)
    assert len(found) <= len(drawn) + 1


def test_print_below_and_an_apex_above_the_trace_are_no_r_waves() -> None:
    screen = _screen(118.0, ink=(170, 180, 190))  # grey as they are
    drawn = np.arange(30, STRIP.width_px, 118.0) + STRIP.col0
    above = np.concatenate([screen[318:370], np.zeros((40, 700, 3), np.uint8), screen[:310]])
    cv2.putText(screen, "Depth 5.5 cm  Gain -1 dB  83 Hz", (60, 386), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (200, 200, 200), 1)
    cv2.fillPoly(above, [np.array([[400, 52], [360, 98], [440, 98]], np.int32)], (200, 200, 200))

    below = strip_r_columns(screen, STRIP)
    high = strip_r_columns(above, Box(row0=172, col0=STRIP.col0, row1=392, col1=STRIP.col1))

    assert not isinstance(below, str)
    assert len(below) <= len(drawn) + 1  # half over the right end, as above
    assert below[: len(drawn)] == pytest.approx(drawn, abs=2.5)
    assert not isinstance(high, str)
    assert len(high) <= len(drawn) + 1
    assert high[: len(drawn)] == pytest.approx(drawn, abs=2.5)


def test_a_strip_alone_has_no_ecg() -> None:
    screen = _screen(118.0)
    screen[310:] = 0
    assert strip_r_columns(screen, STRIP) == "no ECG was found on the screen"


def test_one_r_wave_is_too_few() -> None:
    found = strip_r_columns(_screen(118.0, 50, 180), STRIP)
    assert isinstance(found, str)
    assert found in ("no R waves stand out in the ECG", "the ECG does not run in step with the strip")
