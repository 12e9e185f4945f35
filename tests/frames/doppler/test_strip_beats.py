"""R waves under a strip that stands still, against where they were drawn."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.study import Box

STRIP = Box(row0=80, col0=50, row1=300, col1=650)


def _screen(every_px: float, col0: int = STRIP.col0, col1: int = STRIP.col1, seed: int = 0) -> NDArray[np.uint8]:
    """A noisy strip, and a trace under it with an R wave every so many columns."""
    rng = np.random.default_rng(seed)
    out = np.zeros((400, 700, 3), np.uint8)
    out[STRIP.row0 : STRIP.row1, STRIP.col0 : STRIP.col1] = rng.integers(0, 120, (220, 600, 1))
    t = (np.arange(col1 - col0) - 30) % every_px
    t = np.where(t > every_px / 2, t - every_px, t)
    high = 34 * np.exp(-((t / 2.2) ** 2)) + 6 * np.exp(-(((t - 0.35 * every_px) / 12.0) ** 2))
    points = np.stack([np.arange(col1 - col0) + col0, 360 - high], axis=1).round().astype(np.int32)
    cv2.polylines(out, [points], isClosed=False, color=(90, 220, 230), thickness=1)
    return out


@pytest.mark.parametrize("every_px", [75.0, 118.0, 190.0])
def test_r_waves_stand_where_they_were_drawn(every_px: float) -> None:
    found = strip_r_columns(_screen(every_px), STRIP)

    assert not isinstance(found, str)
    drawn = np.arange(30, STRIP.width_px, every_px) + STRIP.col0
    # one more may stand half over the right end
    assert found[: len(drawn)] == pytest.approx(drawn, abs=2.5)
    assert len(found) <= len(drawn) + 1


def test_a_strip_alone_has_no_ecg() -> None:
    screen = _screen(118.0)
    screen[310:] = 0
    assert strip_r_columns(screen, STRIP) == "no ECG was found on the screen"


def test_one_r_wave_is_too_few() -> None:
    found = strip_r_columns(_screen(118.0, 50, 180), STRIP)
    assert isinstance(found, str)
    assert found in ("no R waves stand out in the ECG", "the ECG does not run in step with the strip")
