"""Where the ultrasound picture lies: errors on drawn screens, and what must not be taken for one."""

import cv2
import numpy as np
import pytest

from fanlight.frames.find_picture import find_picture
from fanlight.study import Box, Region, Sector, Strip
from tests.frames.screens import curved, linear, phased, screen

# Half a per cent of the depth of a usual picture, 400 px: no measurement turns on it.
APEX_PX, ANGLE_DEG, RADIUS_PX = 2.0, 0.3, 2.0

FANS = [
    pytest.param(lambda rows, cols: phased(rows, cols), id="phased"),
    pytest.param(lambda rows, cols: phased(rows, cols, width_deg=70, tilt_deg=14), id="phased, steered"),
    pytest.param(lambda rows, cols: phased(rows, cols, width_deg=92), id="phased, corners near the rim"),
    pytest.param(curved, id="curved"),
]
SCREENS = [
    pytest.param({}, id="clip"),
    pytest.param({"layout": 1, "n_frames": 1}, id="still, trace and caption close by"),
    pytest.param({"layout": 1, "gain": 0.1}, id="very dark clip"),
    pytest.param({"gain": 0.1, "n_frames": 1}, id="very dark still"),
    pytest.param({"shadow": (0.0, 0.2)}, id="left edge in shadow"),
    pytest.param({"layout": 2, "n_frames": 1, "background": 18}, id="dark grey screen"),
]


def _assert_near(found, truth, *, near_px=RADIUS_PX, factor=1.0):
    assert isinstance(found, Sector)
    apart = np.hypot(found.apex_row_px - truth.apex_row_px, found.apex_col_px - truth.apex_col_px)
    assert apart <= factor * APEX_PX
    assert found.left_deg == pytest.approx(truth.left_deg, abs=factor * ANGLE_DEG)
    assert found.right_deg == pytest.approx(truth.right_deg, abs=factor * ANGLE_DEG)
    assert found.near_px == pytest.approx(truth.near_px, abs=near_px)
    assert found.far_px == pytest.approx(truth.far_px, abs=factor * RADIUS_PX)


@pytest.mark.parametrize("how", SCREENS)
@pytest.mark.parametrize("shape", FANS)
def test_fan_is_found_to_two_pixels_and_a_third_of_a_degree(shape, how):
    """Apex, both edges, face and deepest row, whatever stands beside the picture."""
    truth = shape(480, 640)
    drawn = screen(np.random.default_rng(11), truth, **how)

    picture, confidence, _ = find_picture(drawn.grey)

    _assert_near(picture, truth)
    assert confidence > 0.8


@pytest.mark.parametrize("shape", FANS)
def test_fan_survives_compression(shape):
    """A JPEG of quality 85 at 1024 × 768; the pointed face may move by its own size."""
    truth = shape(768, 1024)
    drawn = screen(np.random.default_rng(12), truth, 768, 1024, layout=2, jpeg_quality=85)

    picture, _, _ = find_picture(drawn.grey)

    _assert_near(picture, truth, near_px=5.0)


@pytest.mark.parametrize("seed", range(4))
def test_strip_of_a_linear_array_is_found_to_two_pixels(seed):
    """All four sides, for a clip and for a dark still."""
    truth = linear(480, 640)
    rng = np.random.default_rng(20 + seed)
    drawn = screen(rng, truth, layout=seed % 3, gain=(1.0, 0.15)[seed % 2], n_frames=(8, 1)[seed % 2])

    picture, confidence, _ = find_picture(drawn.grey)

    assert isinstance(picture, Strip)
    wanted = (truth.box.row0, truth.box.col0, truth.box.row1, truth.box.col1)
    assert (picture.box.row0, picture.box.col0, picture.box.row1, picture.box.col1) == pytest.approx(wanted, abs=2)
    assert confidence > 0.7


def test_fan_cut_by_the_lower_rim_keeps_apex_and_edges():
    """A screen cropped through the picture: the deepest row is the farthest corner that is left."""
    truth = phased(480, 640)
    grey = screen(np.random.default_rng(31), truth).grey[:, :300]

    picture, _, _ = find_picture(np.ascontiguousarray(grey))

    assert isinstance(picture, Sector)
    assert np.hypot(picture.apex_row_px - truth.apex_row_px, picture.apex_col_px - truth.apex_col_px) <= APEX_PX
    assert picture.left_deg == pytest.approx(truth.left_deg, abs=ANGLE_DEG)
    assert picture.right_deg == pytest.approx(truth.right_deg, abs=ANGLE_DEG)
    corner = (299 - truth.apex_row_px) / np.cos(np.radians(39.0))
    assert picture.far_px == pytest.approx(corner, abs=6)


def test_pixels_that_are_not_square_are_allowed_for():
    """The region's own steps tell the shape of a pixel; the fan is then round in millimetres."""
    truth = Sector(
        apex_row_px=40.0, apex_col_px=230.0, left_deg=-36.0, right_deg=36.0, near_px=8.0, far_px=400.0, col_stretch=1.3
    )
    drawn = screen(np.random.default_rng(32), truth, 480, 460, layout=3)
    region = Region(
        spatial_format=1, data_type=1, box=Box(row0=0, col0=0, row1=480, col1=460), unit_x=3, unit_y=3,
        delta_x=0.039, delta_y=0.03,
    )  # fmt: skip

    picture, _, _ = find_picture(drawn.grey, (region,))

    _assert_near(picture, truth)
    assert picture.col_stretch == pytest.approx(1.3)


@pytest.mark.parametrize("shape", [phased, curved])
@pytest.mark.parametrize("floor", [1, 2])
def test_dark_floor_shows_the_whole_fan_of_a_probe_in_the_air(shape, floor):
    """One grey level above the empty screen is enough where nothing was lost to compression."""
    truth = shape(480, 640)
    drawn = screen(np.random.default_rng(33), truth, n_frames=1, air=True, noise=0.0, floor=floor)

    picture, _, _ = find_picture(drawn.grey)

    _assert_near(picture, truth, near_px=4.0)


@pytest.mark.parametrize("shape", [phased, curved, linear])
def test_bands_alone_do_not_claim_a_depth(shape):
    """Without a floor nothing shows how deep the picture goes: little confidence, and it says so."""
    drawn = screen(np.random.default_rng(34), shape(480, 640), n_frames=1, air=True, noise=0.0)

    _, confidence, reason = find_picture(drawn.grey)

    assert confidence <= 0.45
    assert "how deep the picture goes cannot be seen" in reason


def test_same_picture_gives_the_same_fan_wherever_it_stands():
    """Moved by whole pixels, the fan moves with it."""
    truth = phased(480, 640)
    grey = screen(np.random.default_rng(36), truth, layout=3).grey
    moved = np.roll(grey, (17, -23), axis=(1, 2))

    here, _, _ = find_picture(grey)
    there, _, _ = find_picture(moved)

    assert there.apex_row_px - here.apex_row_px == pytest.approx(17, abs=0.5)
    assert there.apex_col_px - here.apex_col_px == pytest.approx(-23, abs=0.5)
    assert there.far_px == pytest.approx(here.far_px, abs=0.5)


def test_black_uniform_and_tiny_frames_hold_no_picture():
    """Limits: nothing is found and nothing fails."""
    for frame in (np.zeros((1, 480, 640)), np.full((1, 480, 640), 90), np.full((3, 20, 20), 50)):
        picture, confidence, reason = find_picture(frame.astype(np.uint8))
        assert picture is None
        assert confidence < 0.3
        assert reason


def test_page_of_words_is_no_picture():
    """A report on white and on black paper."""
    for paper, ink in ((250, 10), (0, 230)):
        page = np.full((480, 640), paper, np.uint8)
        for row in range(40, 460, 24):
            cv2.putText(page, "left ventricle normal limits", (30, row), cv2.FONT_HERSHEY_SIMPLEX, 0.55, int(ink), 1)
        assert find_picture(page[None])[0] is None


def test_wrong_shape_of_array_is_refused():
    """Colour frames are a caller's mistake."""
    with pytest.raises(ValueError, match=r"expected grey frames \(frame, row, col\)"):
        find_picture(np.zeros((2, 40, 40, 3), np.uint8))
