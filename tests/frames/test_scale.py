"""How large a pixel is: witnesses that agree, witnesses that contradict each other, and none."""

import pytest

from fanlight.frames.regions import RegionCheck
from fanlight.frames.scale import settle_scale, written_depth_mm
from fanlight.study import (
    Box,
    PhysicalUnit,
    Quantity,
    Region,
    RegionReading,
    Ruler,
    ScaleSource,
    ScreenText,
    Sector,
    Strip,
)

FAN = Sector(apex_row_px=30.0, apex_col_px=320.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=400.0)


def _region(mm=0.3, *, trusted=True, factor=None, mm_across=None):
    region = Region(
        spatial_format=1, data_type=1, box=Box(row0=0, col0=0, row1=480, col1=640), unit_x=PhysicalUnit.CM,
        unit_y=PhysicalUnit.CM, delta_x=(mm_across or mm) / 10, delta_y=mm / 10,
    )  # fmt: skip
    reading = RegionReading(region=region, trusted=trusted, reason="region 1 runs off the frame")
    return RegionCheck(reading=reading, factor=factor)


def _ruler(mm_per_mark=50.0, spacing=166.7):
    return Ruler(
        col_px=600.0,
        first_row_px=30.0,
        spacing_px=spacing,
        n_marks=3,
        mm_per_mark=mm_per_mark,
        reason="13 marks; found",
    )


def _text(text, *quantities):
    found = tuple(Quantity(value=value, unit=unit) for value, unit in quantities)
    return ScreenText(text=text, box=Box(row0=0, col0=0, row1=10, col1=60), confidence=0.9, quantities=found)


TWELVE = (_text("12 cm", (12.0, "cm")),)


def test_region_alone_is_enough_when_the_frame_bears_it_out():
    """Its own steps, half a per cent uncertain."""
    scale, reason = settle_scale((_region(),), None, (), FAN, None)

    assert scale.mm_per_row_px == pytest.approx(0.3)
    assert scale.source is ScaleSource.REGION
    assert scale.uncertainty_fraction == pytest.approx(0.005)
    assert "0.3 mm a pixel" in reason


def test_all_witnesses_that_agree_are_named():
    """Region first, then the ruler, then the text."""
    scale, reason = settle_scale((_region(),), _ruler(), TWELVE, FAN, None)

    assert [item.source for item in scale.witnesses] == [ScaleSource.REGION, ScaleSource.RULER, ScaleSource.TEXT]
    assert "agrees with" in reason
    assert "12 cm" in reason


@pytest.mark.parametrize("wrong", [0.15, 0.27, 0.33, 0.6])
def test_region_against_ruler_settles_nothing(wrong):
    """Neither is believed, and both stand in the reason with their numbers."""
    scale, reason = settle_scale((_region(wrong),), _ruler(), (), FAN, None)

    assert scale is None
    assert f"{wrong:.3g} mm" in reason
    assert "0.3 mm" in reason
    assert "depth ruler" in reason


def test_differences_below_three_per_cent_are_no_contradiction():
    """Rounded steps and rows placed to a pixel."""
    assert settle_scale((_region(0.306),), _ruler(), (), FAN, None)[0] is not None


def test_rounded_text_contradicts_less_sharply_than_a_ruler():
    """“12 cm” may be 11.6; “18 cm” may not."""
    assert settle_scale((_region(0.29),), None, TWELVE, FAN, None)[0] is not None
    assert settle_scale((_region(0.3),), None, (_text("18 cm", (18.0, "cm")),), FAN, None)[0] is None


def test_doubted_region_counts_only_with_another_witness():
    """Refused alone; beside a ruler that agrees, the ruler is the source."""
    alone, reason = settle_scale((_region(trusted=False),), None, (), FAN, None)
    helped, words = settle_scale((_region(trusted=False),), _ruler(), (), FAN, None)

    assert alone is None
    assert "runs off the frame" in reason
    assert "original export" in reason
    assert helped.source is ScaleSource.RULER
    assert "agrees with region 1" in words


def test_halved_frame_is_set_right_only_with_the_ruler():
    """0.15 mm in the region, twice that on the frame."""
    halved = (_region(0.15, trusted=False, factor=2.0),)

    assert settle_scale(halved, None, (), FAN, None)[0] is None
    scale, reason = settle_scale(halved, _ruler(), (), FAN, None)
    assert scale.mm_per_row_px == pytest.approx(0.3, rel=0.001)
    assert "multiplied by 2" in reason


def test_doubted_region_that_disagrees_is_named_as_not_believed():
    """The ruler stands; the reason keeps the other number."""
    scale, reason = settle_scale((_region(0.1, trusted=False),), _ruler(), (), FAN, None)

    assert scale.source is ScaleSource.RULER
    assert "not believed: region 1 of the file (0.1 mm)" in reason


def test_text_alone_is_a_witness_with_a_larger_uncertainty():
    """A few per cent: half of the last digit and the face of the picture."""
    scale, _ = settle_scale((), None, TWELVE, FAN, None)

    assert scale.source is ScaleSource.TEXT
    assert scale.mm_per_row_px == pytest.approx(0.3)
    assert 0.02 < scale.uncertainty_fraction < 0.05


def test_dim_tip_of_a_pointed_fan_widens_the_uncertainty():
    """The first echo is seen 45 pixels below the tip: 12 cm may count from either."""
    seen = Sector(apex_row_px=30.0, apex_col_px=320.0, left_deg=-40.0, right_deg=40.0, near_px=45.0, far_px=400.0)

    sharp, _ = settle_scale((), None, TWELVE, FAN, None)
    wide, _ = settle_scale((), None, TWELVE, seen, None)
    both, _ = settle_scale((_region(0.3),), None, TWELVE, seen, None)

    assert wide.uncertainty_fraction > sharp.uncertainty_fraction + 0.005
    assert 120 / 400 < wide.mm_per_row_px < 120 / 355
    assert both.source is ScaleSource.REGION


def test_text_over_a_picture_that_cannot_be_so_deep_is_no_witness():
    """Bands of a probe in the air: 12 cm over 60 pixels would make the face as wide as a horse."""
    bands = Sector(apex_row_px=-80.0, apex_col_px=320.0, left_deg=-35.0, right_deg=35.0, near_px=170.0, far_px=230.0)
    strip = Strip(box=Box(row0=60, col0=100, row1=120, col1=560))

    assert settle_scale((), None, TWELVE, bands, None)[0] is None
    assert settle_scale((), None, TWELVE, strip, None)[0] is None


def test_ruler_without_a_step_is_no_witness_and_says_what_is_missing():
    """Marks are seen, their step is not known."""
    ruler = Ruler(
        col_px=600.0, first_row_px=30.0, spacing_px=33.0, n_marks=13, mm_per_mark=None,
        reason="13 marks; nothing on the screen tells their step",
    )  # fmt: skip
    scale, reason = settle_scale((), ruler, (), FAN, None)

    assert scale is None
    assert "nothing on the screen tells their step" in reason
    assert "Mark two points" in reason


def test_two_marked_points_serve_where_nothing_else_does():
    """A hundred pixels down, thirty millimetres."""
    scale, _ = settle_scale((), None, (), FAN, ((100.0, 50.0), (200.0, 50.0), 30.0))

    assert scale.source is ScaleSource.MARKED
    assert scale.mm_per_row_px == pytest.approx(0.3)
    assert scale.uncertainty_fraction == pytest.approx(0.0141, abs=0.0005)


def test_two_marked_points_decide_between_two_that_contradict_each_other():
    """Region 0.15, ruler 0.3, marks 0.3: the ruler."""
    scale, _ = settle_scale((_region(0.15),), _ruler(), (), FAN, ((100.0, 50.0), (200.0, 50.0), 30.0))

    assert scale is not None
    assert scale.source is ScaleSource.RULER


def test_marked_points_do_not_silently_overrule_the_file():
    """One source and the marks disagree: refused, both named."""
    scale, reason = settle_scale((_region(0.3),), None, (), FAN, ((100.0, 50.0), (200.0, 50.0), 60.0))

    assert scale is None
    assert "two marked points 60 mm apart" in reason


@pytest.mark.parametrize("marks", [((5.0, 5.0), (5.0, 5.0), 10.0), ((5.0, 5.0), (50.0, 5.0), 0.0)])
def test_impossible_marks_are_a_callers_mistake(marks):
    """Same point twice, or no distance."""
    with pytest.raises(ValueError, match="two marked points must differ"):
        settle_scale((), None, (), FAN, marks)


def test_pixels_that_are_not_square_keep_both_sizes():
    """Steps across and down as the region states them."""
    scale, _ = settle_scale((_region(0.3, mm_across=0.36),), None, (), FAN, None)

    assert scale.mm_per_col_px == pytest.approx(0.36)


@pytest.mark.parametrize(
    ("texts", "depth_mm"),
    [
        pytest.param((_text("15cm", (15.0, "cm")),), 150.0, id="alone"),
        pytest.param((_text("Depth 4 cm", (4.0, "cm")), _text("7 cm", (7.0, "cm"))), 40.0, id="a word calls it depth"),
        pytest.param((_text("15cm", (15.0, "cm")), _text("9 cm", (9.0, "cm"))), None, id="two candidates"),
        pytest.param((_text("+ Wall 1.06 cm", (1.06, "cm")),), None, id="a measurement"),
        pytest.param((_text("120 mm", (120.0, "mm")),), 120.0, id="in millimetres"),
        pytest.param((_text("31 Hz", (31.0, "Hz")),), None, id="no length"),
        pytest.param((), None, id="no text"),
    ],
)
def test_written_depth_is_taken_only_where_it_is_certain(texts, depth_mm):
    """A wrong depth would scale every length."""
    assert written_depth_mm(texts)[0] == depth_mm
