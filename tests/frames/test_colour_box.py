"""Where coloured Doppler is painted inside the picture."""

import numpy as np
import pytest

from fanlight.frames.colour_box import find_colour_box
from fanlight.study import Box
from tests.frames.screens import phased, screen

FAN = phased(480, 640)


def _grey_screen(seed=50):
    return screen(np.random.default_rng(seed), FAN, n_frames=4, layout=3).pixels


@pytest.mark.parametrize(
    "box", [Box(row0=180, col0=260, row1=260, col1=380), Box(row0=300, col0=330, row1=340, col1=370)]
)
def test_box_of_flow_is_found_to_three_pixels(box):
    """Red and blue halves, in every other frame only: the union over the frames counts."""
    pixels = _grey_screen()
    middle = (box.col0 + box.col1) // 2
    pixels[::2, box.row0 : box.row1, box.col0 : middle] = (200, 40, 20)
    pixels[::2, box.row0 : box.row1, middle : box.col1] = (20, 60, 210)

    found = find_colour_box(pixels, FAN)

    assert (found.row0, found.col0, found.row1, found.col1) == pytest.approx(
        (box.row0, box.col0, box.row1, box.col1), abs=3
    )


def test_colour_beside_the_picture_does_not_count():
    """A colour bar, a menu, an ECG in green."""
    pixels = _grey_screen()
    pixels[:, 60:200, 600:620] = (220, 30, 30)
    pixels[:, 460:470, 40:300] = (40, 230, 60)

    assert find_colour_box(pixels, FAN) is None


def test_thin_marks_inside_do_not_count():
    """A caliper line of one pixel and a few lone pixels."""
    pixels = _grey_screen()
    pixels[:, 240, 260:380] = (250, 220, 30)
    pixels[:, 300:320:5, 330] = (0, 0, 250)

    assert find_colour_box(pixels, FAN) is None


def test_tinted_and_grey_pictures_have_no_colour_box():
    """A brown tint over the whole picture; frames without colour at all."""
    pixels = _grey_screen()
    tinted = (np.clip(pixels * 2.5, 60, 255) * np.array([1.0, 0.7, 0.2])).astype(np.uint8)

    assert find_colour_box(tinted, FAN) is None
    assert find_colour_box(pixels[..., 0], FAN) is None
