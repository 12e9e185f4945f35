"""Grey values and beams of frames: told together they are what each is alone."""

from __future__ import annotations

import numpy as np
import pytest

from fanlight.frames.polar import to_beams, to_grey, to_grey_and_beams
from fanlight.study import Box, Picture, Sector, Strip

FAN = Sector(apex_row_px=10.0, apex_col_px=90.0, left_deg=-40.0, right_deg=40.0, near_px=8.0, far_px=120.0)
STRIP = Strip(box=Box(row0=20, col0=15, row1=110, col1=170))


@pytest.mark.parametrize("picture", [FAN, STRIP], ids=["fan", "strip"])
@pytest.mark.parametrize("shape", [(3, 130, 180), (3, 130, 180, 3)], ids=["grey", "RGB"])
def test_together_they_are_what_each_is_alone(picture: Picture, shape: tuple[int, ...]) -> None:
    pixels = np.random.default_rng(6).integers(0, 256, shape).astype(np.uint8)
    grey, beams = to_grey_and_beams(pixels, picture)
    assert np.array_equal(grey, to_grey(pixels))
    assert beams is not None
    assert np.array_equal(beams, to_beams(grey, picture))
    assert beams.any()


def test_without_a_picture_there_are_no_beams() -> None:
    pixels = np.random.default_rng(7).integers(0, 256, (2, 30, 40, 3)).astype(np.uint8)
    grey, beams = to_grey_and_beams(pixels, None)
    assert np.array_equal(grey, to_grey(pixels))
    assert beams is None


def test_grey_frames_are_not_copied() -> None:
    pixels = np.zeros((2, 130, 180), np.uint8)
    assert to_grey_and_beams(pixels, FAN)[0] is pixels
