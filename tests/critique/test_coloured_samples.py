"""Which samples along the beams carry colour: those whose nearest pixel does, wherever the picture lies."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from fanlight.critique.beam_moments import COLOUR_SPREAD_LEVELS, coloured_samples
from fanlight.frames.polar import DEFAULT_BEAMS, DEFAULT_DEPTHS, polar_maps
from fanlight.study import Box, Picture, Sector, Strip

ROWS, COLS = 300, 400
FAN = Sector(apex_row_px=10.0, apex_col_px=200.0, left_deg=-40.0, right_deg=40.0, near_px=8.0, far_px=270.0)
CUT = Sector(  # beyond the left, right and lower rim of the screen
    apex_row_px=-20.0, apex_col_px=150.0, left_deg=-45.0, right_deg=50.0, near_px=30.0, far_px=420.0, col_stretch=0.8
)  # fmt: skip
STRIP = Strip(box=Box(row0=40, col0=30, row1=260, col1=390))


def screen(rng: np.random.Generator) -> np.ndarray:
    """Return grey speckle with a patch of colours in it."""
    frame = np.repeat(rng.integers(0, 200, (ROWS, COLS, 1)), 3, axis=2).astype(np.uint8)
    frame[90:200, 120:260] = rng.integers(0, 256, (110, 140, 3))
    return frame


@pytest.mark.parametrize("picture", [FAN, CUT, STRIP], ids=["fan", "cut off", "strip"])
def test_a_sample_is_coloured_where_its_nearest_pixel_is(picture: Picture) -> None:
    frame = screen(np.random.default_rng(4))
    nearest = cv2.remap(frame, *polar_maps(picture, DEFAULT_DEPTHS, DEFAULT_BEAMS), cv2.INTER_NEAREST).astype(int)
    expected = nearest.max(axis=2) - nearest.min(axis=2) > COLOUR_SPREAD_LEVELS
    assert 0.01 < expected.mean() < 0.6
    assert np.array_equal(coloured_samples(frame, picture), expected)


def test_off_the_screen_nothing_is_coloured() -> None:
    """A picture that was marked beside the screen holds none of its pixels."""
    beside = Strip(box=Box(row0=40, col0=COLS + 50, row1=260, col1=COLS + 300))
    assert not coloured_samples(screen(np.random.default_rng(4)), beside).any()


def test_a_tint_over_the_whole_picture_is_no_colour() -> None:
    frame = screen(np.random.default_rng(5))
    frame[..., 2] //= 3
    assert not coloured_samples(frame, FAN).any()
