"""The calipers that need one drawing each: atrium, root, trunk, areas, flattening, leaflet, muscles, centring."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.calipers import (
    Caliper,
    measure_aortic_ring,
    measure_aortic_root_long_axis,
    measure_areas_mm2,
    measure_centring,
    measure_eccentricity,
    measure_epss,
    measure_epss_short_axis,
    measure_fractional_shortening,
    measure_la_long_axis,
    measure_lv_roundness,
    measure_lv_short_axis,
    measure_pa_ao,
    measure_papillary_symmetry,
    measure_root_roundness,
    measure_rv_lv_area,
    ratio,
)
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark
from tests.heart.calipers.drawn import (
    Grid,
    Shape,
    base_layers,
    both,
    box,
    draw,
    ellipse,
    long_axis_layers,
    pixels,
    short_axis_layers,
)

ONE_PIXEL_MM = 0.25


# --- left atrium, long axis


@pytest.mark.parametrize("turn_deg", [0.0, -25.0])
def test_atrium_from_the_side_is_measured_half_way_to_its_roof(turn_deg: float) -> None:
    """The drawn atrium's chord at half its depth, by the equation of its ellipse."""
    at = np.radians(turn_deg)
    drawn = draw(long_axis_layers(), turn_deg=turn_deg, shift_mm=(11 * np.cos(at), 11 * np.sin(at)))
    half = 14 / np.sqrt(1 - (10 / 13) ** 2)
    roof = 14 + half
    expected_mm = 2 * 13 * np.sqrt(1 - ((roof / 2 - 14) / half) ** 2)

    assert measure_la_long_axis(drawn).value == pytest.approx(expected_mm, abs=2 * ONE_PIXEL_MM)


def test_vein_in_the_roof_does_not_deepen_the_atrium() -> None:
    plain = long_axis_layers()
    vein = (box((30, 44), (-3, 3)), Tissue.PULMONARY_VEIN)
    values = [measure_la_long_axis(draw(layers)).value for layers in (plain, [vein, *plain])]

    assert values[0] == pytest.approx(values[1], abs=ONE_PIXEL_MM)


def test_atrium_cut_by_the_sector_is_told() -> None:
    drawn = draw(long_axis_layers(), shift_mm=(11, 0))
    shown = np.ones(drawn.tissue.shape, dtype=bool)
    shown[:, round((55 + 11 + 24) / 0.25) :] = False

    assert measure_la_long_axis(replace(drawn, inside=shown)).reason == "it is cut by the edge of the picture"


# --- aortic root


def outflow(ring: float = 16.0, root: float = 20.0) -> list[tuple[Shape, Tissue]]:
    """Return a ventricle at the left, its aortic ring at `along` = 0 and a root that bulges to `root` beyond it."""
    return [
        (box((-40, 0), (-20, 20)), Tissue.LV_FREE_WALL),
        (box((-35, 0), (-ring / 2, ring / 2)), Tissue.LV_CAVITY),
        (box((0, 40), (-root / 2 - 2, root / 2 + 2)), Tissue.AORTIC_WALL),
        (box((0, 40), (-ring / 2, ring / 2)), Tissue.AORTA),
        (both(ellipse(9, 0, 9, root / 2), box((0, 40), (-99, 99))), Tissue.AORTA),
    ]


@pytest.mark.parametrize("turn_deg", [0.0, 35.0])
@pytest.mark.parametrize("shut", [True, False])
def test_ring_and_root_are_those_drawn(turn_deg: float, shut: bool) -> None:
    layers = outflow()
    if shut:
        layers.append((box((0, 1), (-8, 8)), Tissue.AORTIC_CUSP))
    drawn = draw(layers, turn_deg=turn_deg)

    assert measure_aortic_ring(drawn).value == pytest.approx(16.0, abs=2 * ONE_PIXEL_MM)
    assert measure_aortic_root_long_axis(drawn).value == pytest.approx(20.0, abs=ONE_PIXEL_MM)


def test_missing_ring_and_missing_aorta_are_told_apart() -> None:
    assert measure_aortic_ring(draw([])).reason == "the aorta is not in the picture"
    assert "ventricle and aorta do not meet" in measure_aortic_ring(draw(base_layers())).reason
    assert measure_aortic_root_long_axis(draw([])).reason == "the aorta is not in the picture"
    assert measure_root_roundness(draw([])).reason == "the aorta is not in the picture"


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
@pytest.mark.parametrize("smaller", [9.0, 8.0, 6.0])
def test_roundness_is_smaller_over_larger_axis(smaller: float, turn_deg: float) -> None:
    root = [(ellipse(0, 0, 9, smaller), Tissue.AORTA)]

    assert measure_root_roundness(draw(root, turn_deg=turn_deg)).value == pytest.approx(smaller / 9, abs=0.01)


# --- pulmonary trunk


@pytest.mark.parametrize("turn_deg", [0.0, 40.0])
def test_trunk_is_measured_across_half_way_to_its_division(turn_deg: float) -> None:
    """A trunk of 12 mm beside an aorta of 16 mm that is cut obliquely: 12 / 16."""
    layers = [(box((-6, 6), (-20, 20)), Tissue.PULMONARY_TRUNK), (ellipse(-22, 0, 8, 11), Tissue.AORTA)]
    places = {Landmark.PULMONIC_CENTRE: (0.0, -14.0), Landmark.PULMONARY_BIFURCATION: (0.0, 16.0)}
    trunk, aorta, over = measure_pa_ao(draw(layers, turn_deg=turn_deg, places=places))

    assert trunk.value == pytest.approx(12.0, abs=ONE_PIXEL_MM)
    assert aorta.value == pytest.approx(16.0, abs=ONE_PIXEL_MM)
    assert over.value == pytest.approx(0.75, abs=0.02)


def test_trunk_that_the_plane_leaves_is_told() -> None:
    places = {Landmark.PULMONIC_CENTRE: (0.0, -14.0), Landmark.PULMONARY_BIFURCATION: (0.0, 16.0)}
    short = [(box((-6, 6), (-20, -5)), Tissue.PULMONARY_TRUNK)]

    assert "the plane leaves the trunk" in measure_pa_ao(draw(short, places=places))[0].reason
    assert measure_pa_ao(draw([], places=places))[0].reason == "the pulmonary trunk is not in the picture"
    assert "are not known" in measure_pa_ao(draw(short))[0].reason


# --- areas


def test_areas_are_those_drawn() -> None:
    drawn = draw([(ellipse(0, 0, 10, 6), Tissue.LA_CAVITY), (box((20, 30), (0, 4)), Tissue.RA_CAVITY)])
    areas = measure_areas_mm2(drawn)

    assert areas[Tissue.LA_CAVITY] == pytest.approx(60 * np.pi, rel=0.01)
    assert areas[Tissue.RA_CAVITY] == pytest.approx(40.0, rel=0.05)
    assert set(areas) == {Tissue.LA_CAVITY, Tissue.RA_CAVITY, Tissue.LUNG}


def test_right_ventricle_is_compared_by_area() -> None:
    layers = [
        (box((-20, 20), (-20, -10)), Tissue.RV_CAVITY),
        (box((-3, 3), (-18, -14)), Tissue.RV_PAPILLARY),
        (box((-20, 20), (0, 30)), Tissue.LV_CAVITY),
        (box((-3, 3), (10, 20)), Tissue.PAPILLARY_CAUDAL),
    ]

    assert measure_rv_lv_area(draw(layers)).value == pytest.approx(1 / 3, abs=0.01)
    assert measure_rv_lv_area(draw(layers[2:])).reason == "the right ventricle is not in the picture"
    assert measure_rv_lv_area(draw(layers[:2])).reason == "the left ventricle is not in the picture"


# --- flattening


@pytest.mark.parametrize("turn_deg", [0.0, 27.0])
@pytest.mark.parametrize(("half_across", "half_along"), [(15.0, 15.0), (12.0, 15.0), (15.0, 12.0)])
def test_eccentricity_is_parallel_over_across(half_across: float, half_along: float, turn_deg: float) -> None:
    drawn = draw(short_axis_layers(half_across=half_across, half_along=half_along, papillary=3), turn_deg=turn_deg)

    assert measure_eccentricity(drawn).value == pytest.approx(half_along / half_across, abs=0.02)


def test_eccentricity_tells_what_is_missing() -> None:
    assert measure_eccentricity(draw([])).reason == "the left ventricle is not in the picture"
    alone = [(ellipse(0, 0, 20, 20), Tissue.LV_FREE_WALL), (ellipse(0, 0, 12, 12), Tissue.LV_CAVITY)]
    assert "septum does not border the cavity" in measure_eccentricity(draw(alone)).reason


def test_roundness_of_the_ventricle_bridges_its_muscles() -> None:
    drawn = draw(short_axis_layers(half_across=12, half_along=15, papillary=5), turn_deg=18)

    assert measure_lv_roundness(drawn).value == pytest.approx(0.8, abs=0.01)


# --- leaflet


@pytest.mark.parametrize("turn_deg", [0.0, -18.0])
@pytest.mark.parametrize("open_mm", [12.0, 18.0])
def test_separation_is_from_the_tip_to_the_septum(turn_deg: float, open_mm: float) -> None:
    """A leaflet flat along the septal edge of the ring: its tip lies below an ellipse whose height is known there.

    The cursor stands at right angles to the septum's chord (about 6° off the drawn axis), which moves the answer by
    less than half a millimetre.
    """
    drawn = draw(
        long_axis_layers(open_mm=open_mm),
        turn_deg=turn_deg,
        shift_mm=(12 * np.cos(np.radians(turn_deg)), 12 * np.sin(np.radians(turn_deg))),
    )
    half = 55 / (1 + np.sqrt(1 - (10 / 15) ** 2))
    height = 15 * np.sqrt(1 - ((-open_mm + 55 - half) / half) ** 2)

    assert measure_epss(drawn).value == pytest.approx(height - 10.0, abs=0.5)


def test_separation_without_leaflet_is_told() -> None:
    layers = [layer for layer in long_axis_layers() if layer[1] is not Tissue.MITRAL_SEPTAL_LEAFLET]

    assert measure_epss(draw(layers, shift_mm=(12, 0))).reason == "the septal mitral leaflet is not in the picture"


@pytest.mark.parametrize(("off_mm", "remark"), [(0.0, ""), (6.0, "the tip of the leaflet lies 6 mm off the plane")])
def test_plane_that_misses_the_tip_is_told(off_mm: float, remark: str) -> None:
    drawn = draw(long_axis_layers(open_mm=12.0), shift_mm=(12, 0), places={Landmark.MITRAL_SEPTAL_TIP: (-12.0, -9.5)})
    tip = drawn.landmarks_mm[Landmark.MITRAL_SEPTAL_TIP] + off_mm * drawn.pose.y
    off = replace(drawn, landmarks_mm={Landmark.MITRAL_SEPTAL_TIP: tip})

    assert measure_epss(off).remark == remark


@pytest.mark.parametrize("turn_deg", [0.0, 22.0])
def test_separation_in_a_short_axis_is_to_the_leaflet_on_the_line(turn_deg: float) -> None:
    """A leaflet as a bar across the cavity whose upper side lies 4 mm below the septum."""
    layers = [*short_axis_layers(), (box((-8, 8), (-11, -9.8)), Tissue.MITRAL_SEPTAL_LEAFLET)]

    assert measure_epss_short_axis(draw(layers, turn_deg=turn_deg)).value == pytest.approx(4.0, abs=0.3)
    assert "does not cross the line" in measure_epss_short_axis(draw(short_axis_layers())).reason
    assert measure_epss_short_axis(draw([])).reason == "the left ventricle is not in the picture"


def test_open_leaflets_cut_across_do_not_hollow_the_ventricle() -> None:
    """The atrium's blood within a ring of leaflets lies in the ventricle: outline and separation stay as without it."""
    layers = [
        *short_axis_layers(),
        (ellipse(0, 2, 11, 11), Tissue.MITRAL_SEPTAL_LEAFLET),
        (ellipse(0, 2, 10, 10), Tissue.LA_CAVITY),
    ]
    drawn = draw(layers, turn_deg=-14)

    assert measure_lv_roundness(drawn).value == pytest.approx(1.0, abs=0.01)
    assert measure_epss_short_axis(drawn).value == pytest.approx(15.0 - 9.0, abs=0.3)


# --- papillary muscles


def test_alike_muscles_are_symmetric_and_unlike_ones_are_not() -> None:
    alike = measure_papillary_symmetry(draw(short_axis_layers(papillary=4), turn_deg=15))
    layers = [*short_axis_layers(papillary=4)[:-1], (ellipse(-4, 11, 2, 4), Tissue.PAPILLARY_CAUDAL)]
    unlike = measure_papillary_symmetry(draw(layers))

    assert alike[0].value == pytest.approx(1.0, abs=0.02)
    assert alike[1].value == pytest.approx(0.0, abs=0.03)
    assert unlike[0].value == pytest.approx(_lens_mm2(4.0) / (8 * np.pi), abs=0.03)
    assert unlike[1].value == pytest.approx((_lens_off_mm(4.0) - 4) / (_lens_off_mm(4.0) + 4), abs=0.05)


def _lens(radius: float) -> Grid:
    """Return the points of a muscle as the drawing has it, on a grid of its own."""
    grid = np.arange(-20, 20, 0.05)
    a, d = np.meshgrid(grid, grid)
    sin, cos = np.sin(np.radians(40)), np.cos(np.radians(40))
    within = (a**2 + d**2 <= 15**2) & ((a - 15 * sin) ** 2 + (d - 15 * cos) ** 2 <= radius**2)
    return np.asarray(a[within])


def _lens_mm2(radius: float) -> float:
    return len(_lens(radius)) * 0.05**2


def _lens_off_mm(radius: float) -> float:
    return float(_lens(radius).mean())


def test_one_muscle_and_no_muscle_are_told() -> None:
    one = measure_papillary_symmetry(draw(short_axis_layers(papillary=4)[:-1]))
    none = measure_papillary_symmetry(draw(short_axis_layers()))

    assert one[0].value == 0.0
    assert one[1].reason == "only one papillary muscle is in the picture"
    assert {c.reason for c in none} == {"no papillary muscle is in the picture"}


# --- centring


@pytest.mark.parametrize(("across_mm", "expected"), [(0.0, 0.0), (22.0, 0.4), (-33.0, -0.6)])
def test_centring_is_a_share_of_the_half_width(across_mm: float, expected: float) -> None:
    drawn = draw([(ellipse(0, 0, 5, 5), Tissue.AORTA)], shift_mm=(across_mm, 0))

    assert measure_centring(drawn, {Tissue.AORTA}).value == pytest.approx(expected, abs=0.01)


def test_centring_uses_the_sector_at_that_depth() -> None:
    """10 mm off the beam at 45 mm depth in a sector of 30° to each side: 10 / (45 tan 30°)."""
    drawn = draw([(ellipse(0, 0, 5, 5), Tissue.AORTA)], shift_mm=(10, 0))
    depth, across = np.moveaxis(drawn.to_plane_mm(pixels(drawn)), -1, 0)
    sector = replace(drawn, inside=np.abs(across) <= depth * np.tan(np.radians(30)))

    assert measure_centring(sector, {Tissue.AORTA}).value == pytest.approx(10 / (45 * np.tan(np.radians(30))), abs=0.01)
    assert measure_centring(sector, {Tissue.LIVER}).reason == "the structure is not in the picture"


# --- shortening and ratios


def test_fractional_shortening_of_published_diameters() -> None:
    """36 and 20 mm give 44.4 % (arithmetic of the definition)."""
    full, small = (replace(measure_lv_short_axis(draw(short_axis_layers()))[0], value=value) for value in (36.0, 20.0))
    none = measure_lv_short_axis(draw([]))[0]

    assert measure_fractional_shortening(full, small).value == pytest.approx(44.4, abs=0.05)
    assert measure_fractional_shortening(none, small).reason == "end-diastole: the left ventricle is not in the picture"


def test_ratio_of_different_units_is_refused() -> None:
    drawn = draw(short_axis_layers())
    with pytest.raises(ValueError, match="cannot divide mm by 1"):
        ratio("odd", measure_lv_short_axis(drawn)[0], measure_eccentricity(drawn))


def test_a_caliper_has_a_value_or_a_reason() -> None:
    with pytest.raises(ValueError, match="either a value or the reason"):
        Caliper(name="x", convention="", value=None, unit="mm")
    with pytest.raises(ValueError, match="either a value or the reason"):
        Caliper(name="x", convention="", value=1.0, unit="mm", reason="why not")
