"""Diameter and walls in the short axis: the drawn size, however the picture is turned, shifted and sampled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.calipers import measure_lv_short_axis
from fanlight.heart.tissue import Tissue
from tests.heart.calipers.drawn import box, draw, ellipse, short_axis_layers

MM_PER_PX = 0.25
ONE_PIXEL_MM = MM_PER_PX
TURNS = [0.0, 17.0, -33.0, 60.0, 180.0]


@pytest.mark.parametrize("turn_deg", TURNS)
@pytest.mark.parametrize(("half_across", "half_along"), [(15.0, 15.0), (12.0, 16.0), (6.0, 6.5)])
def test_sizes_are_those_drawn(turn_deg: float, half_across: float, half_along: float) -> None:
    """Diameter at right angles to the septum, septum and free wall agree within a pixel."""
    layers = short_axis_layers(half_across=half_across, half_along=half_along, septum=7.0, free_wall=8.0)
    diameter, septum, wall = measure_lv_short_axis(draw(layers, turn_deg=turn_deg, shift_mm=(2.3, -3.1)))

    assert diameter.value == pytest.approx(2 * half_across, abs=ONE_PIXEL_MM)
    assert septum.value == pytest.approx(7.0, abs=ONE_PIXEL_MM)
    assert wall.value == pytest.approx(8.0, abs=ONE_PIXEL_MM)


def test_lines_end_where_the_borders_were_drawn() -> None:
    """Not turned, the line is vertical: right side of the septum, left side, free wall, outer edge, on one column."""
    drawn = draw(short_axis_layers())
    diameter, septum, wall = measure_lv_short_axis(drawn)
    ends = np.array([*septum.lines[0], diameter.lines[0][1], wall.lines[0][1]])
    depth_mm, across_mm = drawn.to_plane_mm(ends).T

    assert depth_mm - 45.0 == pytest.approx([-22.0, -15.0, 15.0, 23.0], abs=ONE_PIXEL_MM)
    assert across_mm == pytest.approx([0.0] * 4, abs=ONE_PIXEL_MM)
    assert diameter.lines[0][0] == septum.lines[0][1]
    assert wall.lines[0][0] == diameter.lines[0][1]


@pytest.mark.parametrize("mm_per_px", [0.12, 0.2, 0.35, 0.5])
def test_size_of_a_pixel_does_not_matter(mm_per_px: float) -> None:
    """The same drawing gives the same millimetres within a pixel."""
    values = [c.value for c in measure_lv_short_axis(draw(short_axis_layers(), turn_deg=11, mm_per_px=mm_per_px))]

    assert values == pytest.approx([30.0, 7.0, 8.0], abs=mm_per_px)


@pytest.mark.parametrize("papillary", [3.0, 5.0, 6.5])
def test_papillary_muscles_are_bridged(papillary: float) -> None:
    """Muscles in the cavity change neither centre nor diameter."""
    diameter, _, wall = measure_lv_short_axis(draw(short_axis_layers(papillary=papillary), turn_deg=-20))

    assert diameter.value == pytest.approx(30.0, abs=ONE_PIXEL_MM)
    assert wall.value == pytest.approx(8.0, abs=ONE_PIXEL_MM)
    assert not diameter.remark


def test_muscle_on_the_line_is_told() -> None:
    """A papillary muscle under the line is bridged, and the value says so."""
    layers = [*short_axis_layers(), (ellipse(0, 13, 4, 2), Tissue.PAPILLARY_CAUDAL)]
    diameter, _, _ = measure_lv_short_axis(draw(layers))

    assert diameter.value == pytest.approx(30.0, abs=ONE_PIXEL_MM)
    assert diameter.remark == "the line crosses a papillary muscle, which is bridged"


def test_band_on_the_right_side_is_not_septum() -> None:
    """A muscle band of the right ventricle along the septum does not thicken it."""
    layers = short_axis_layers()
    at_septum = next(i for i, (_, tissue) in enumerate(layers) if tissue is Tissue.SEPTUM)
    layers.insert(at_septum, (ellipse(0, -24, 8, 3), Tissue.RV_PAPILLARY))
    _, septum, _ = measure_lv_short_axis(draw(layers))

    assert septum.value == pytest.approx(7.0, abs=ONE_PIXEL_MM)


def test_no_ventricle_is_told() -> None:
    """Without a cavity all three say so."""
    for caliper in measure_lv_short_axis(draw([])):
        assert caliper.value is None
        assert caliper.reason == "the left ventricle is not in the picture"


def test_no_septum_is_told() -> None:
    """A cavity within free wall alone has no line."""
    layers = [(ellipse(0, 0, 20, 20), Tissue.LV_FREE_WALL), (ellipse(0, 0, 12, 12), Tissue.LV_CAVITY)]

    assert {c.reason for c in measure_lv_short_axis(draw(layers))} == {
        "the septum does not border the cavity in the picture"
    }


def test_septum_without_right_lumen_has_no_thickness() -> None:
    """Where the right ventricle's lumen is not beside it, the right side of the septum is nowhere."""
    layers = [*short_axis_layers(), (box((-60, 60), (-60, -22)), Tissue.RV_WALL)]
    diameter, septum, wall = measure_lv_short_axis(draw(layers))

    assert septum.value is None
    assert "no lumen of the right ventricle lies next to the septum" in septum.reason
    assert diameter.value is not None
    assert wall.value is not None


def test_wall_cut_by_the_sector_is_told() -> None:
    """A free wall that the sector does not hold has no thickness; the diameter stands."""
    drawn = draw(short_axis_layers())
    shown = np.ones(drawn.tissue.shape, dtype=bool)
    shown[round((45 + 20) / MM_PER_PX) :] = False
    diameter, septum, wall = measure_lv_short_axis(replace(drawn, inside=shown))

    assert wall.reason == "it is cut by the edge of the picture"
    assert diameter.value == pytest.approx(30.0, abs=ONE_PIXEL_MM)
    assert septum.value == pytest.approx(7.0, abs=ONE_PIXEL_MM)


def test_map_is_left_as_it_was() -> None:
    """Measuring changes nothing."""
    drawn = draw(short_axis_layers(papillary=4))
    before = drawn.tissue.copy()
    measure_lv_short_axis(drawn)

    assert (drawn.tissue == before).all()
