"""The ventricle from the side: length, ring, diameter, walls, volume, foreshortening."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.calipers import (
    find_long_axis,
    measure_ejection_fraction,
    measure_lv_length,
    measure_lv_long_axis,
    measure_lv_volume,
    measure_mitral_ring,
    measure_shortening,
    measure_sphericity,
)
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue
from tests.heart.calipers.drawn import both, box, draw, ellipse, long_axis_layers

ONE_PIXEL_MM = 0.25


def side_view(turn_deg: float = 0.0, mm_per_px: float = 0.25, **sizes: float | None) -> LabelMap:
    at = np.radians(turn_deg)
    return draw(
        long_axis_layers(**sizes),  # type: ignore[arg-type]
        turn_deg=turn_deg,
        shift_mm=(12 * float(np.cos(at)), 12 * float(np.sin(at))),
        mm_per_px=mm_per_px,
    )


@pytest.mark.parametrize("turn_deg", [0.0, 14.0, -33.0, 95.0])
@pytest.mark.parametrize("open_mm", [None, 12.0])
def test_sizes_are_those_drawn(turn_deg: float, open_mm: float | None) -> None:
    """Length to the apex, ring, diameter and walls agree within two pixels, with the valve shut and open."""
    drawn = side_view(turn_deg, length=48.0, open_mm=open_mm)
    diameter, septum, wall = measure_lv_long_axis(drawn)

    assert measure_lv_length(drawn).value == pytest.approx(48.0, abs=ONE_PIXEL_MM)
    assert measure_mitral_ring(drawn).value == pytest.approx(20.0, abs=2 * ONE_PIXEL_MM)
    assert diameter.value == pytest.approx(30.0, abs=ONE_PIXEL_MM)
    assert septum.value == pytest.approx(7.0, abs=ONE_PIXEL_MM)
    assert wall.value == pytest.approx(8.0, abs=ONE_PIXEL_MM)


@pytest.mark.parametrize("mm_per_px", [0.2, 0.35, 0.5])
def test_size_of_a_pixel_does_not_matter(mm_per_px: float) -> None:
    drawn = side_view(-9.0, mm_per_px)

    assert measure_lv_length(drawn).value == pytest.approx(55.0, abs=mm_per_px)
    assert measure_lv_long_axis(drawn)[0].value == pytest.approx(30.0, abs=mm_per_px)
    assert measure_lv_volume(drawn).value == pytest.approx(28.4, rel=0.01)


def test_outflow_tract_does_not_widen_the_diameter() -> None:
    """A tract that opens beside the ring lies outside the middle half of the length."""
    layers = [*long_axis_layers(), (box((-9, 2), (-20, 0)), Tissue.LV_CAVITY)]
    layers.append((box((-1, 0), (-10, 10)), Tissue.MITRAL_SEPTAL_LEAFLET))

    assert measure_lv_long_axis(draw(layers, shift_mm=(12, 0)))[0].value == pytest.approx(30.0, abs=2 * ONE_PIXEL_MM)


def test_volume_of_half_an_ellipsoid() -> None:
    """Length 52 mm, diameter 30 mm: 24.504 mL exactly, 24.512 by 20 discs (solid geometry)."""
    exact_ml = 2 / 3 * np.pi * 15**2 * 52 / 1000
    layers = [
        (both(ellipse(0, 0, 60, 23), box((-99, 2), (-99, 99))), Tissue.LV_FREE_WALL),
        (both(ellipse(0, 0, 52, 15), box((-99, 0), (-99, 99))), Tissue.LV_CAVITY),
        (both(ellipse(0, 0, 20, 15), box((0, 99), (-99, 99))), Tissue.LA_CAVITY),
    ]
    volume = measure_lv_volume(draw(layers, turn_deg=7, shift_mm=(20, 0), mm_per_px=0.2))

    assert exact_ml == pytest.approx(24.504, abs=0.001)
    assert volume.value == pytest.approx(24.512, rel=0.01)
    assert volume.unit == "mL"
    assert len(volume.lines) == 21  # the axis and its discs


def test_papillary_muscle_counts_as_volume() -> None:
    """A muscle in the cavity takes nothing from the volume."""
    layers = [*long_axis_layers(), (ellipse(-25, 11, 9, 3.5), Tissue.PAPILLARY_CAUDAL)]
    muscle, plain = (draw(these, shift_mm=(12, 0)) for these in (layers, long_axis_layers()))

    assert measure_lv_volume(muscle).value == measure_lv_volume(plain).value


def test_ejection_fraction_is_of_volumes() -> None:
    """25 mL to 10 mL is 60 %; a missing phase is named."""
    full = measure_lv_volume(side_view())
    assert full.value is not None
    emptied = replace(full, value=full.value * 0.4)
    none = measure_lv_volume(draw([]))

    assert measure_ejection_fraction(full, emptied).value == pytest.approx(60.0)
    assert measure_ejection_fraction(full, none).reason.startswith("end-systole: the left ventricle")


def test_shortening_and_sphericity_are_ratios() -> None:
    whole, short = (measure_lv_length(side_view(length=length)) for length in (55.0, 44.0))
    diameter = measure_lv_long_axis(side_view())[0]

    assert measure_shortening(short, whole).value == pytest.approx(0.80, abs=0.01)
    assert measure_sphericity(whole, diameter).value == pytest.approx(55 / 30, abs=0.02)
    assert measure_shortening(measure_lv_length(draw([])), whole).reason == "the left ventricle is not in the picture"


def test_apex_beyond_the_picture_is_told() -> None:
    """A ventricle cut at its apex has no length and no volume."""
    drawn = side_view()
    shown = np.ones(drawn.tissue.shape, dtype=bool)
    shown[:, : round((55 + 12 - 30) / 0.25)] = False
    cut = replace(drawn, inside=shown)

    assert measure_lv_length(cut).reason == "the apex is cut by the edge of the picture"
    assert measure_lv_volume(cut).reason == "the apex is cut by the edge of the picture"


def test_ventricle_without_atrium_has_no_ring() -> None:
    layers = [(ellipse(0, 0, 30, 20), Tissue.LV_FREE_WALL), (ellipse(0, 0, 24, 13), Tissue.LV_CAVITY)]
    drawn = draw(layers)

    assert "the mitral ring is not in the picture" in str(find_long_axis(drawn))
    for caliper in (*measure_lv_long_axis(drawn), measure_mitral_ring(drawn)):
        assert "ventricle and atrium do not meet" in caliper.reason


def test_free_wall_missing_on_the_line_is_told() -> None:
    """Both borders of the cavity on septum: there is no free wall to measure."""
    layers = [(shape, Tissue.SEPTUM if t is Tissue.LV_FREE_WALL else t) for shape, t in long_axis_layers()]

    assert "no free wall lies on this line" in measure_lv_long_axis(draw(layers, shift_mm=(12, 0)))[2].reason
