"""The left ventricle: length, volumes and ejection against worked numbers and solids of known volume."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanlight.measure.picture.placed import moved_out
from fanlight.measure.picture.ventricle import disc_diameters_mm, outline_of
from fanlight.measure.shapes import SQUARE
from fanlight.reference.formulas.ventricle import discs_volume_ml
from fanlight.study import Landmark, Patient
from tests.measure.picture.marked import CHORDAE, ED, ES, FOUR, line, measured, only, point, trace
from tests.reference.outside import authority_rows

DISCS_D = (30, 30, 29, 28, 26, 24, 21, 17, 13, 7)
DISCS_S = (20, 20, 19, 18, 17, 15, 13, 10, 8, 4)


def _half_ellipse(length_mm: float, width_mm: float, n: int = 61) -> list[tuple[float, float]]:
    turns = np.linspace(-math.pi / 2, math.pi / 2, n)
    return [(length_mm * math.cos(t), width_mm / 2 * math.sin(t)) for t in turns]


def _stack(widths_mm: tuple[int, ...], length_mm: float) -> list[tuple[float, float]]:
    """Return a border that is so wide in the middle of each disc."""
    step = length_mm / len(widths_mm)
    levels = [(k + 0.5) * step for k in range(len(widths_mm))]
    left = [(0.0, -widths_mm[0] / 2), *((level, -w / 2) for level, w in zip(levels, widths_mm, strict=True))]
    return [*left, (length_mm, 0.0), *((level, -beside) for level, beside in reversed(left))]


def test_a_half_ellipsoid_has_its_volume_by_both_ways() -> None:
    """2/3·π·(D/2)²·L, the solid for which area-length is exact (row C09 of the worked rows: 24.504 mL)."""
    said = measured(trace("EDV", _half_ellipse(52.0, 30.0)), view=FOUR)
    exact = 2 / 3 * math.pi * 1.5**2 * 5.2

    found = {item.label: item.value for item in said if item.name == "edv"}
    assert exact == pytest.approx(24.504, abs=0.001)
    assert found == {
        "EDV, method of discs": pytest.approx(exact, rel=2e-3), "EDV, area-length": pytest.approx(exact, rel=2e-3),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("widths", "length_mm", "volume_ml"),
    [pytest.param(DISCS_D, 52.0, 22.973, id="C08 diastole"), pytest.param(DISCS_S, 42.0, 7.745, id="C08 systole")],
)
def test_discs_of_a_border_agree_with_the_worked_volume(
    widths: tuple[int, ...], length_mm: float, volume_ml: float
) -> None:
    """Row C08 of tests/reference/authorities/worked_rows.csv, ten discs."""
    assert any(row["id"] == "C08" for row in authority_rows("worked_rows.csv"))
    outline = outline_of(tuple(_stack(widths, length_mm)), SQUARE)
    diameters = disc_diameters_mm(outline, len(widths))

    assert diameters == pytest.approx(widths)
    assert discs_volume_ml([d / 10 for d in diameters], outline.length_mm / 10) == pytest.approx(volume_ml, abs=0.01)


def test_area_and_length_agree_with_the_worked_volumes_and_ejection() -> None:
    """Row C07: 12.0 cm², 5.2 cm: 23.506 mL; 6.5 cm², 4.2 cm: 8.539 mL; EF 63.67 %. A triangle has base·height/2."""
    borders = [
        trace(label, [(0, -base / 2), (length, 0), (0, base / 2)], frame)
        for label, frame, area_mm2, length in (("EDV", ED, 1200, 52.0), ("ESV", ES, 650, 42.0))
        for base in (2 * area_mm2 / length,)
    ]
    found = {item.label: item for item in measured(*borders, view=FOUR)}

    assert found["EDV, area-length"].value == pytest.approx(23.506, abs=0.01)
    assert found["ESV, area-length"].value == pytest.approx(8.539, abs=0.01)
    assert found["EF, area-length"].value == pytest.approx(63.67, abs=0.01)
    assert "EF, method of discs" in found


def test_the_index_is_by_body_surface_of_the_species() -> None:
    """20 kg dog: 0.7442 m² (row C10, k 0.101)."""
    dog = Patient(species="dog", weight_kg=20.0)  # type: ignore[arg-type]
    said = measured(trace("EDV", _half_ellipse(52.0, 30.0)), view=FOUR, patient=dog)
    volume = next(item.value for item in said if item.label == "EDV, method of discs")

    assert volume is not None
    assert only(said, "edv_index").value == pytest.approx(volume / 0.7442, rel=1e-3)
    assert not [m for m in measured(trace("EDV", _half_ellipse(52.0, 30.0)), view=FOUR, patient=Patient())
                if m.name == "edv_index"]  # fmt: skip


def test_a_closed_trace_says_how_it_must_run() -> None:
    closed = [*_half_ellipse(52.0, 30.0), (0.0, -15.0)]
    (found,) = measured(trace("EDV", closed), view=FOUR)
    assert found.value is None
    assert "from one mitral hinge round the apex to the other" in found.reason


def test_a_marked_apex_goes_before_the_farthest_point() -> None:
    """The axis runs to the apex that a person marked: shorter, so the volume by area and length is larger."""
    border = trace("EDV", _half_ellipse(52.0, 30.0))
    with_apex = measured(border, point(Landmark.LV_APEX, 48.0, 0.0), view=FOUR)
    found = {item.label: item.value or 0.0 for item in with_apex}

    plain = {item.label: item.value or 0.0 for item in measured(border, view=FOUR)}
    assert found["EDV, area-length"] == pytest.approx(plain["EDV, area-length"] * 52 / 48, rel=1e-3)


def test_length_runs_from_the_middle_of_the_ring_to_the_apex() -> None:
    marks = [
        point(Landmark.MITRAL_SEPTAL_HINGE, 0.0, -10.0), point(Landmark.MITRAL_PARIETAL_HINGE, 0.0, 10.0),
        point(Landmark.LV_APEX, 40.0, 30.0),
    ]  # fmt: skip
    said = measured(*marks, view=FOUR)

    assert only(said, "lv_length_d").value == pytest.approx(50.0)
    assert only(said, "mitral_annulus").value == pytest.approx(20.0)
    assert only(said, "mitral_annulus").label == "mitral annulus, end-diastole"


def test_a_trace_has_its_length_unless_one_was_marked() -> None:
    border = trace("EDV", _half_ellipse(52.0, 30.0))
    assert only(measured(border, view=FOUR), "lv_length_d").value == pytest.approx(52.0, abs=0.01)

    marked = measured(border, line("LVLd", 50.0), view=FOUR)
    assert only(marked, "lv_length_d").value == pytest.approx(50.0)


def test_an_apex_without_its_ring_names_what_is_missing() -> None:
    apex, hinge = point(Landmark.LV_APEX, 40.0, 0.0), point(Landmark.MITRAL_SEPTAL_HINGE, 0.0, -10.0)
    reasons = {item.label: item.reason for item in measured(apex, hinge, view=FOUR)}

    assert "hinge of the parietal mitral leaflet is not marked" in reasons["mitral annulus"]
    assert "both mitral hinges must be marked on the frame of the apex" in reasons["LV length"]


def test_a_short_axis_has_no_volume() -> None:
    (found,) = measured(trace("EDV", _half_ellipse(52.0, 30.0)), view=CHORDAE)
    assert "not measured in this view" in found.reason


@pytest.mark.parametrize("way", [1, -1])
def test_an_outline_moves_out_by_so_much_all_around(way: int) -> None:
    turns = np.linspace(0, 2 * math.pi, 90, endpoint=False)[::way]
    circle = tuple((100 + 40 * math.sin(t), 100 + 40 * math.cos(t)) for t in turns)
    moved = np.hypot(*(np.array(moved_out(circle, 2.0)) - 100).T)

    assert moved == pytest.approx(np.full(90, 42.0), abs=0.01)
