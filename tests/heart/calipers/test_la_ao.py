"""Left atrium to aorta, by each of its two conventions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.calipers import measure_la_ao_by_commissure, measure_la_ao_by_line
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark
from tests.heart.calipers.drawn import base_layers, box, commissures, draw, ellipse

ONE_PIXEL_MM = 0.25
BOTH = [measure_la_ao_by_commissure, measure_la_ao_by_line]


@pytest.mark.parametrize("turn_deg", [0.0, 23.0, -70.0])
def test_each_convention_takes_its_own_line(turn_deg: float) -> None:
    """Round root of 18 mm, atrium 24 mm deep straight below, aortic wall 1 mm, atrial wall 1 mm.

    Along the commissure the atrium is measured between its own borders: 24 mm. On the single line it begins at the
    outer side of the aortic wall, 1 mm before: 25 mm.
    """
    drawn = draw(base_layers(), turn_deg=turn_deg, places=commissures())
    aorta, atrium, ratio = measure_la_ao_by_commissure(drawn)
    line_aorta, line_atrium, line_ratio = measure_la_ao_by_line(drawn)

    assert aorta.value == pytest.approx(18.0, abs=ONE_PIXEL_MM)
    assert line_aorta.value == pytest.approx(18.0, abs=ONE_PIXEL_MM)
    assert atrium.value == pytest.approx(24.0, abs=ONE_PIXEL_MM)
    assert line_atrium.value == pytest.approx(25.0, abs=ONE_PIXEL_MM)
    assert ratio.value == pytest.approx(24 / 18, abs=0.03)
    assert line_ratio.value == pytest.approx(25 / 18, abs=0.03)
    assert (ratio.convention, line_ratio.convention) == ("commissure-parallel", "single line")


def test_an_oval_root_is_measured_along_its_commissures() -> None:
    """Root 20 wide, 16 deep: the commissure of right and non-coronary cusp lies 30° off the wide axis.

    A line through the centre of an ellipse at angle t has the length 2 / sqrt((cos t / a)² + (sin t / b)²).
    """
    layers = [
        (ellipse(0, 22, 12, 12), Tissue.LA_CAVITY),
        (ellipse(0, 0, 11, 9), Tissue.AORTIC_WALL),
        (ellipse(0, 0, 10, 8), Tissue.AORTA),
    ]
    drawn = draw(layers, places=commissures())
    expected_mm = 2 / np.hypot(np.cos(np.radians(30)) / 10, np.sin(np.radians(30)) / 8)

    assert measure_la_ao_by_commissure(drawn)[0].value == pytest.approx(expected_mm, abs=ONE_PIXEL_MM)
    assert measure_la_ao_by_line(drawn)[0].value == pytest.approx(16.0, abs=ONE_PIXEL_MM)


def test_line_follows_the_commissure() -> None:
    """Commissures turned by 20°: the chord of the atrium on that ray, by the equation of its ellipse."""
    drawn = draw(base_layers(), places=commissures(turn_deg=20.0))
    way = np.array([np.cos(np.radians(110)), np.sin(np.radians(110))])  # (along, deep)
    shape = np.array([1 / 11**2, 1 / 12**2])
    middle = np.array([0.0, 23.0])
    a, b, c = shape @ way**2, -2 * shape @ (way * middle), shape @ middle**2 - 1
    expected_mm = np.sqrt(b * b - 4 * a * c) / a

    assert measure_la_ao_by_commissure(drawn)[1].value == pytest.approx(expected_mm, abs=2 * ONE_PIXEL_MM)


@pytest.mark.parametrize("mm_per_px", [0.15, 0.3, 0.5])
@pytest.mark.parametrize("measure", BOTH)
def test_size_of_a_pixel_does_not_matter(measure, mm_per_px: float) -> None:
    drawn = draw(base_layers(), turn_deg=9, places=commissures(), mm_per_px=mm_per_px)
    fine = draw(base_layers(), turn_deg=9, places=commissures(), mm_per_px=0.1)

    for coarse_caliper, fine_caliper in zip(measure(drawn), measure(fine), strict=True):
        tolerance = mm_per_px if fine_caliper.unit == "mm" else 0.05
        assert coarse_caliper.value == pytest.approx(fine_caliper.value, abs=tolerance)


@pytest.mark.parametrize("measure", BOTH)
def test_vein_is_not_atrium(measure) -> None:
    """A line that runs into a vein stops where the wall would be, and says so."""
    wall, *others = base_layers()
    layers = [wall, (box((-4, 4), (30, 44)), Tissue.PULMONARY_VEIN), *others]
    with_vein = measure(draw(layers, places=commissures()))[1]
    without = measure(draw(base_layers(), places=commissures()))[1]

    assert with_vein.value == pytest.approx(without.value, abs=ONE_PIXEL_MM)
    assert with_vein.remark == "the far end lies across the mouth of a pulmonary vein"
    assert not without.remark


@pytest.mark.parametrize("measure", BOTH)
def test_cusps_belong_to_the_root(measure) -> None:
    """Shut cusps in the lumen do not end the line."""
    layers = [*base_layers(), (box((-0.4, 0.4), (0, 9)), Tissue.AORTIC_CUSP)]

    assert measure(draw(layers, places=commissures()))[0].value == pytest.approx(18.0, abs=ONE_PIXEL_MM)


@pytest.mark.parametrize("measure", BOTH)
def test_what_is_missing_is_told(measure) -> None:
    no_aorta = measure(draw([], places=commissures()))
    no_atrium = measure(draw(base_layers()[2:], places=commissures()))
    no_places = measure(draw(base_layers()))

    assert {c.reason for c in no_aorta} == {"the aorta is not in the picture"}
    assert no_atrium[0].value == pytest.approx(18.0, abs=ONE_PIXEL_MM)
    assert {c.reason for c in no_atrium[1:]} == {"the left atrium is not in the picture"}
    assert "the place of the aortic commissure" in no_places[2].reason


@pytest.mark.parametrize("measure", BOTH)
def test_atrium_off_the_line_is_told(measure) -> None:
    drawn = draw(base_layers(), places=commissures(turn_deg=180.0))

    assert measure(drawn)[1].reason == "the line does not meet the left atrium"


@pytest.mark.parametrize("measure", BOTH)
def test_atrium_cut_by_the_sector_is_told(measure) -> None:
    drawn = draw(base_layers(), places=commissures())
    shown = np.ones(drawn.tissue.shape, dtype=bool)
    shown[round((45 + 25) / 0.25) :] = False

    assert measure(replace(drawn, inside=shown))[1].reason == "it is cut by the edge of the picture"


@pytest.mark.parametrize("measure", BOTH)
def test_root_cut_along_itself_is_told(measure) -> None:
    """A commissure that falls on the root's centre gives no direction."""
    places = commissures() | {Landmark.COMMISSURE_LEFT_NONCORONARY: (0.0, 0.0)}

    assert "the root is not cut across" in measure(draw(base_layers(), places=places))[2].reason
