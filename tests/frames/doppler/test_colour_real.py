"""A real colour clip (ring D): its bar, where velocities wrap and where they only turn round.

Source of every expected value: tests/real/expected.toml, read by eye off a clip that deid-data ships before this code
existed. Nothing here was tuned on it.
"""

from __future__ import annotations

from importlib import resources

import cv2
import numpy as np
import pydicom
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.colour_bar import find_colour_bar
from fanlight.frames.doppler.colour_velocity import colour_tables, velocity_shares, wrapped_borders
from tests.frames.doppler.real_colour import EXPECTED, NAME, PICTURE, clip

WRAPPED_PX = 300  # "more than a few pixels" of a border, each counted within two pixels: 30 px of length and more


def shares() -> NDArray[np.float32]:
    bar = find_colour_bar(clip()[0], PICTURE)
    assert bar is not None
    return velocity_shares(clip(), colour_tables(bar)[0])


def in_box() -> NDArray[np.bool_]:
    corners = np.asarray(EXPECTED[NAME]["colour_box_corners_rc_px"])[:, ::-1]
    mask = np.zeros(clip().shape[1:3], np.uint8)
    cv2.fillPoly(mask, [corners.astype(np.int32)], 1)
    return mask > 0


def test_the_bar_stands_where_an_eye_saw_it() -> None:
    bar = find_colour_bar(clip()[0], PICTURE)
    assert bar is not None
    found = [bar.box.row0, bar.box.col0, bar.box.row1 - 1, bar.box.col1 - 1]
    assert found == pytest.approx(EXPECTED[NAME]["colour_bar_px"], abs=3)
    low, high = EXPECTED[NAME]["colour_bar_zero_row_range"]
    assert low <= bar.zero_row_px <= high


def test_a_bar_with_one_colour_in_each_row_tells_nothing_of_turbulence() -> None:
    bar = find_colour_bar(clip()[0], PICTURE)
    assert bar is not None
    assert (bar.scatter is not None) is EXPECTED[NAME]["colour_bar_varies_across"]


def test_wraps_are_told_from_reversals() -> None:
    row, inside, found = EXPECTED[NAME]["colour_doppler"], in_box(), shares()
    borders = [int((wrapped_borders(frame) & inside).sum()) for frame in found]
    assert all(borders[frame] >= WRAPPED_PX for frame in row["wrap_frames"])
    assert all(borders[frame] == 0 for frame in {*row["no_wrap_frames"], *row["reversal_frames"]})


def test_reversals_show_both_signs() -> None:
    inside, found = in_box(), shares()
    for frame in EXPECTED[NAME]["colour_doppler"]["reversal_frames"]:
        values = found[frame][inside]
        assert (values > 0).mean() > 0.05
        assert (values < 0).mean() > 0.05


def test_share_of_the_box_that_is_coloured() -> None:
    inside, found = in_box(), shares()
    for name, (low, high) in EXPECTED[NAME]["colour_doppler"]["coloured_share_of_box_range"].items():
        assert low <= np.isfinite(found[int(name.removeprefix("frame_"))][inside]).mean() <= high


def test_the_scale_follows_from_pulse_rate_and_frequency() -> None:
    # v = c · PRF / (4 · f), the Nyquist formula, with the three numbers that the screen itself shows
    row = EXPECTED[NAME]["colour_doppler"]
    scale = 100.0 * 1540.0 * row["prf_hz"] / (4.0 * row["doppler_mhz"] * 1e6)
    assert scale == pytest.approx(EXPECTED[NAME]["velocity_scale_cm_s"][0], abs=0.05)


@pytest.mark.parametrize("name", ["examples_rgb_color.dcm", "examples_jpeg2k.dcm"])
def test_a_bar_of_power_is_no_velocity_bar(name: str) -> None:
    row = EXPECTED[name]
    dataset = pydicom.dcmread(str(resources.files(row["package"]) / row["path"]))
    pixels = np.asarray(dataset.pixel_array, np.uint8)
    assert find_colour_bar(pixels, None) is None


@pytest.mark.parametrize("name", ["RGB_IMAGE.dcm", "examples_ybr_color.dcm"])
def test_a_grey_picture_has_no_bar(name: str) -> None:
    row = EXPECTED[name]
    pixels = np.asarray(pydicom.dcmread(str(resources.files(row["package"]) / row["path"])).pixel_array, np.uint8)
    assert find_colour_bar(pixels if pixels.ndim == 3 else pixels[0], None) is None
