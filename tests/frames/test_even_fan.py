"""A fan whose one side lies in the dark is found whole; a fan that is narrower on one side is left so."""

import cv2
import numpy as np
import pytest

from fanlight.frames.find_picture import find_picture
from fanlight.study import Box, Region, Sector
from tests.frames.screens import beam_frames, curved, paint, phased

ROWS, COLS = 480, 640
# A quarter of the depth at the far corner is 4 degrees here; the seen side must be exact, the dark one follows it.
APEX_PX, ANGLE_DEG, RADIUS_PX = 3.0, 1.0, 4.0
FACE = 0.08  # of the depth: skin and first reverberations, painted under the whole probe
DARK = 1 / 3  # of the width


def _beams(rng, n_frames=8):
    """Speckled tissue without grain: what is dark is black."""
    return beam_frames(rng, n_frames, noise=0.0) + 8.0


def _darkened(beams, *, right=False, face=FACE):
    """One third of the beams black from below the face on, as behind lung; all of them where face is 0."""
    out = beams[:, :, ::-1].copy() if right else beams.copy()
    depths, width = out.shape[1:]
    out[:, round(face * depths) :, : round(DARK * width)] = 0.0
    return out[:, :, ::-1] if right else out


def _region(picture):
    """The region of the file that holds the fan exactly."""
    corners = [picture.point(depth, beam) for depth in (0.0, 1.0) for beam in (0.0, 0.5, 1.0)]
    rows, cols = zip(*corners, strict=True)
    box = Box(
        row0=max(round(min(rows)), 0), col0=round(min(cols)), row1=round(max(rows)) + 1, col1=round(max(cols)) + 1
    )
    return Region(spatial_format=1, data_type=1, box=box, unit_x=3, unit_y=3, delta_x=0.03, delta_y=0.03)


def _assert_whole(found, truth):
    assert isinstance(found, Sector)
    apart = np.hypot(found.apex_row_px - truth.apex_row_px, found.apex_col_px - truth.apex_col_px)
    assert apart <= APEX_PX
    assert found.left_deg == pytest.approx(truth.left_deg, abs=ANGLE_DEG)
    assert found.right_deg == pytest.approx(truth.right_deg, abs=ANGLE_DEG)
    assert found.far_px == pytest.approx(truth.far_px, abs=RADIUS_PX)


@pytest.mark.parametrize("right", [False, True], ids=["left", "right"])
@pytest.mark.parametrize("shape", [phased, curved])
@pytest.mark.parametrize("n_frames", [1, 8], ids=["still", "clip"])
def test_third_in_the_dark_below_the_face_is_part_of_the_fan(shape, right, n_frames):
    """The bright face shows how wide the probe looks, and the arcs where its axis is."""
    truth = shape(ROWS, COLS)
    beams = _darkened(_beams(np.random.default_rng(41), n_frames), right=right)

    picture, confidence, reason = find_picture(paint(beams, truth, ROWS, COLS))

    _assert_whole(picture, truth)
    assert confidence > 0.5
    assert f"the {'right' if right else 'left'} side is dark" in reason


@pytest.mark.parametrize("shape", [phased, curved])
def test_third_wholly_in_the_dark_is_part_of_the_fan_where_the_region_bounds_it(shape):
    """Nothing is painted there; the region of the file says how far the picture reaches."""
    truth = shape(ROWS, COLS)
    grey = paint(_darkened(_beams(np.random.default_rng(42)), face=0.0), truth, ROWS, COLS)

    picture, _, reason = find_picture(grey, (_region(truth),))

    _assert_whole(picture, truth)
    assert "left side is dark" in reason


@pytest.mark.parametrize("background", [9, 18])
def test_black_side_on_a_grey_screen_is_part_of_the_fan(background):
    """What is darker than the empty screen was painted."""
    truth = phased(ROWS, COLS)
    inside = paint(_beams(np.random.default_rng(43)) + 255, truth, ROWS, COLS) > 0
    grey = paint(_darkened(_beams(np.random.default_rng(43)), face=0.0), truth, ROWS, COLS)

    picture, _, _ = find_picture(np.where(inside, grey, background).astype(np.uint8))

    _assert_whole(picture, truth)


@pytest.mark.parametrize("with_region", [False, True], ids=["no region", "region"])
@pytest.mark.parametrize("n_frames", [1, 8], ids=["still", "clip"])
def test_fan_that_is_narrower_on_one_side_is_left_so(n_frames, with_region):
    """A steered fan with two sharp edges, words and a bar beside it: nothing is painted beyond, it is no dark side."""
    truth = Sector(apex_row_px=34.0, apex_col_px=320.0, left_deg=-14.0, right_deg=40.0, near_px=6.0, far_px=400.0)
    grey = paint(_beams(np.random.default_rng(44), n_frames), truth, ROWS, COLS)
    for frame in grey:
        for row in range(60, 300, 24):
            cv2.putText(frame, "F 31Hz 12 cm", (70, row), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 230, 1, cv2.LINE_AA)

    picture, _, reason = find_picture(grey, (_region(truth),) if with_region else ())

    _assert_whole(picture, truth)
    assert "dark" not in reason


def test_one_of_two_pictures_side_by_side_is_not_widened_over_the_other():
    """Two narrow fans close together, one in part dark: the fan that is found is one of them, alone."""
    left = Sector(apex_row_px=40.0, apex_col_px=160.0, left_deg=-24.0, right_deg=24.0, near_px=6.0, far_px=340.0)
    right = Sector(apex_row_px=40.0, apex_col_px=480.0, left_deg=-24.0, right_deg=24.0, near_px=6.0, far_px=340.0)
    beams = _beams(np.random.default_rng(45))
    grey = np.maximum(paint(beams, left, ROWS, COLS), paint(_darkened(beams), right, ROWS, COLS))

    picture, _, _ = find_picture(grey)

    assert isinstance(picture, Sector)
    truth = left if picture.apex_col_px < 320 else right
    _assert_whole(picture, truth)
