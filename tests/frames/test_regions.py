"""A region of the file is believed only when the frame and the picture found in it bear it out."""

import pytest

from fanlight.frames.regions import check_regions
from fanlight.study import Box, PhysicalUnit, Region, Sector, SpatialFormat

CM = PhysicalUnit.CM
FAN = Sector(apex_row_px=30.0, apex_col_px=320.0, left_deg=-40.0, right_deg=40.0, near_px=6.0, far_px=400.0)
HALF = Sector(apex_row_px=15.0, apex_col_px=160.0, left_deg=-40.0, right_deg=40.0, near_px=3.0, far_px=200.0)


def _region(row0, col0, row1, col1, **other):
    values = {
        "spatial_format": SpatialFormat.TWO_D, "data_type": 1, "unit_x": CM, "unit_y": CM, "delta_x": 0.03,
        "delta_y": 0.03,
    }  # fmt: skip
    return Region(box=Box(row0=row0, col0=col0, row1=row1, col1=col1), **{**values, **other})


def _one(region, rows, cols, picture, confidence=0.95):
    (check,) = check_regions((region,), rows, cols, picture, confidence)
    return check


def test_region_that_lies_on_the_frame_round_the_picture_is_believed():
    """A display window that is larger than the fan is usual."""
    check = _one(_region(20, 30, 470, 620), 480, 640, FAN)

    assert check.reading.trusted
    assert check.mm_per_row_px == pytest.approx(0.3)
    assert "holds the picture" in check.reading.reason


@pytest.mark.parametrize("overhang", [0, 1, 2])
def test_last_pixel_counted_inside_or_outside_makes_no_difference(overhang):
    """Files write the last column both ways (PS3.3 C.8.5.5.1.3 says inside)."""
    assert _one(_region(20, 30, 480 + overhang, 640 + overhang), 480, 640, FAN).reading.trusted


def test_halved_frame_is_refused_with_factor_and_remedy():
    """The region divided by two lies round the picture; nothing else fits."""
    check = _one(_region(20, 55, 435, 585), 240, 320, HALF)

    assert not check.reading.trusted
    assert check.factor == 2.0
    assert check.mm_per_row_px == pytest.approx(0.6)
    assert "Divided by 2" in check.reading.reason
    assert "reduced to 1/2" in check.reading.reason
    assert "original export" in check.reading.reason


@pytest.mark.parametrize("factor", [1.5, 2.0, 3.0, 0.5])
def test_every_simple_factor_is_named(factor):
    """Enlarged and reduced frames alike."""
    rows, cols = round(480 / factor), round(640 / factor)
    picture = Sector(
        apex_row_px=30 / factor, apex_col_px=320 / factor, left_deg=-40.0, right_deg=40.0, near_px=6 / factor,
        far_px=400 / factor,
    )  # fmt: skip

    assert _one(_region(30, 60, 434, 580), rows, cols, picture).factor == pytest.approx(factor)


def test_cropped_frame_is_told_from_a_reduced_one():
    """Columns fit, rows run off: cut, not scaled; no factor is made up."""
    cut = Sector(apex_row_px=30.0, apex_col_px=320.0, left_deg=-40.0, right_deg=40.0, near_px=6.0, far_px=340.0)
    check = _one(_region(20, 30, 470, 640), 300, 640, cut)

    assert not check.reading.trusted
    assert check.factor is None
    assert "by 170 rows" in check.reading.reason
    assert "probably cut" in check.reading.reason


def test_region_beside_the_picture_is_refused():
    """On the frame, but round other pixels."""
    check = _one(_region(10, 10, 200, 200), 480, 640, FAN)

    assert not check.reading.trusted
    assert "describes other pixels" in check.reading.reason


def test_picture_found_with_little_confidence_contradicts_nothing():
    """The same region stands when the fan is a guess."""
    assert _one(_region(10, 10, 200, 200), 480, 640, FAN, confidence=0.3).reading.trusted


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param({"unit_y": PhysicalUnit.SECONDS}, "not centimetres", id="units"),
        pytest.param({"delta_y": None}, "no size of a pixel", id="no delta"),
        pytest.param({"delta_y": 3.0, "delta_x": 3.0}, "30 mm a pixel", id="delta in millimetres or wild"),
        pytest.param({"spatial_format": SpatialFormat.M_MODE}, "not seconds across", id="M-mode in cm, cm"),
        pytest.param({"spatial_format": SpatialFormat.SPECTRAL}, "not seconds across", id="spectrum in cm, cm"),
    ],
)
def test_faulty_units_are_refused_in_plain_words(change, words):
    """PS3.3 C.8.5.5.1.15 lists the units."""
    check = _one(_region(20, 30, 470, 620, **change), 480, 640, FAN)

    assert not check.reading.trusted
    assert words in check.reading.reason


def test_no_region_no_reading():
    """Limit: nothing in, nothing out."""
    assert check_regions((), 480, 640, FAN, 1.0) == ()


def test_the_colour_box_need_not_hold_the_picture_that_it_lies_in():
    """Colour flow is a region of its own inside that of the tissue (PS3.3 C.8.5.5: regions may overlap)."""
    tissue, colour = _region(20, 30, 470, 620), _region(150, 250, 300, 400, data_type=2)
    alone = _one(colour, 480, 640, FAN)
    checks = check_regions((tissue, colour), 480, 640, FAN, 0.95)

    assert [check.reading.trusted for check in checks] == [True, True]
    assert not alone.reading.trusted
