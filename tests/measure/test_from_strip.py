"""Strips as a review meets them: measured once view and valve are known, with a reason where they are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.from_strip import StripCase, is_measured, measure_strip
from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.strip_lines.on_picture import read_lines
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.study import (
    ENGINE,
    NOT_KNOWN,
    Box,
    Layout,
    MarkedAxis,
    Measurement,
    Mode,
    PhysicalUnit,
    Region,
    RegionReading,
    Rung,
    SpatialFormat,
    StripAxis,
    Valve,
    ViewReading,
    ViewSource,
)
from tests.measure.drawn_spectra import Drawing, draw, half_sines
from tests.measure.ring_strip.drawn_ring import Ring, ring_strip_of
from tests.measure.root_strip.drawn_root import Root, root_strip_of
from tests.measure.valve_strip.drawn_mitral import COL0, ROW0, screen_of

HOUSE = load_house()
FIVE_CHAMBER = "left_apical_five_chamber"
PEAK_CM_S = -110.0  # outflow runs away from a probe at the apex (common practice, no source)
GREY, AXES = draw(Drawing(waves=[half_sines(PEAK_CM_S, 220.0, [150.0, 750.0, 1350.0])]))


def _view(key: str, valve: Valve | None = None) -> ViewReading:
    return ViewReading(view=key, source=ViewSource.MENTOR, valve=valve)


def _layout(*, has_region: bool = True) -> Layout:
    region = Region(
        spatial_format=SpatialFormat.SPECTRAL, data_type=3, box=AXES.box, unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM_PER_S, delta_x=AXES.ms_per_px / 1000, delta_y=-AXES.cm_s_per_px,
        reference_row_px=AXES.baseline_row_px - AXES.box.row0,
    )  # fmt: skip
    checked = (RegionReading(region=region, trusted=True, reason="it lies on the strip"),) if has_region else ()
    return Layout(
        rows=GREY.shape[0], cols=GREY.shape[1], picture=None, picture_confidence=0.0, picture_reason="", scale=None,
        scale_reason="", regions=checked,
    )  # fmt: skip


def _case(**changes: object) -> StripCase:
    case = StripCase(
        pixels=GREY, frame=0, layout=_layout(), mode=Mode.PULSED_WAVE, view=_view(FIVE_CHAMBER, Valve.AORTIC)
    )
    return replace(case, **changes)  # type: ignore[arg-type]


def _by_name(found: tuple[Measurement, ...]) -> dict[str, Measurement]:
    return {item.name: item for item in found}


def test_a_spectrum_of_a_known_valve_is_measured() -> None:
    """Half sines of 110 cm/s: the peak, and 2/π · peak · length = 15.4 cm (calculus)."""
    found = _by_name(measure_strip(_case(), HOUSE))
    assert found["aortic_vmax"].value == pytest.approx(1.10, rel=0.05)
    assert found["aortic_vti"].value == pytest.approx(110 * 0.220 * 2 / np.pi, rel=0.07)
    assert all(item.given_by == ENGINE for item in found.values())


def test_the_only_valve_of_a_view_is_meant() -> None:
    """By pulsed wave the five-chamber view serves the aortic valve alone (views.toml)."""
    told = _by_name(measure_strip(_case(), HOUSE))
    meant = _by_name(measure_strip(_case(view=_view(FIVE_CHAMBER)), HOUSE))
    assert read_views(HOUSE)[FIVE_CHAMBER].valves_at(Rung.PULSED_WAVE) == (Valve.AORTIC,)
    assert meant["aortic_vmax"].value == told["aortic_vmax"].value


@pytest.mark.parametrize("side", ["row0", "col0", "row1", "col1"])
def test_a_region_that_overhangs_the_frame_by_a_pixel_costs_nothing(side: str) -> None:
    """Regions are believed within two pixels of the frame (`frames.regions`); the strip is what lies on it."""
    box = AXES.box
    at = {"row0": box.row0, "col0": box.col0, "row1": GREY.shape[0] - box.row1, "col1": GREY.shape[1] - box.col1}[side]
    cut = {
        "row0": GREY[at + 1 :], "col0": GREY[:, at + 1 :], "row1": GREY[: box.row1 - 1], "col1": GREY[:, : box.col1 - 1]
    }[side]  # fmt: skip
    shift = (at + 1 if side == "row0" else 0, at + 1 if side == "col0" else 0)
    moved = Box(row0=box.row0 - shift[0], col0=box.col0 - shift[1], row1=box.row1 - shift[0], col1=box.col1 - shift[1])
    layout = _layout()
    region = replace(layout.regions[0].region, box=moved)
    layout = replace(layout, regions=(replace(layout.regions[0], region=region),))
    found = _by_name(measure_strip(_case(pixels=np.ascontiguousarray(cut), layout=layout), HOUSE))
    assert found["aortic_vmax"].value == pytest.approx(1.10, rel=0.05)


def test_a_mark_is_laid_over_the_file() -> None:
    """A time scale marked at half of what the file says halves every time and leaves velocities."""
    span = float(AXES.box.width_px - 1)
    half = MarkedAxis(
        axis=StripAxis.TIME, start=(20.0, 12.0), end=(20.0, 12.0 + span), amount=span * AXES.ms_per_px / 2
    )
    told, marked = _by_name(measure_strip(_case(), HOUSE)), _by_name(measure_strip(_case(marked=(half,)), HOUSE))
    assert marked["aortic_vmax"].value == pytest.approx(told["aortic_vmax"].value, rel=0.05)
    whole = told["aortic_vti"].value
    assert whole is not None
    assert marked["aortic_vti"].value == pytest.approx(whole / 2, rel=0.1)


def test_of_an_unknown_valve_nothing_is_measured() -> None:
    (only,) = measure_strip(_case(view=NOT_KNOWN), HOUSE)
    assert only.value is None
    assert "name the valve" in only.reason


def test_without_axes_nothing_is_measured() -> None:
    (only,) = measure_strip(_case(layout=_layout(has_region=False)), HOUSE)
    assert only.value is None
    assert "does not say where the spectrum lies" in only.reason


def test_a_plain_picture_is_measured_by_marked_axes() -> None:
    """Two points on each scale and one on the baseline, as on a picture cut from a slide."""
    box, zero = AXES.box, AXES.baseline_row_px
    ends = (float(box.row0), float(box.row1 - 1))
    marked = (
        MarkedAxis(
            axis=StripAxis.TIME, start=(zero, float(box.col0)), end=(zero, float(box.col1 - 1)),
            amount=AXES.ms_per_px * (box.width_px - 1),
        ),
        MarkedAxis(
            axis=StripAxis.VELOCITY, start=(ends[0], 5.0), end=(ends[1], 5.0),
            amount=AXES.cm_s_per_px * (ends[1] - ends[0]),
        ),
        MarkedAxis(axis=StripAxis.BASELINE, start=(zero, 5.0), end=(zero, 5.0), amount=0.0),
    )  # fmt: skip
    by_hand = _by_name(measure_strip(_case(layout=_layout(has_region=False), marked=marked), HOUSE))
    by_file = _by_name(measure_strip(_case(), HOUSE))
    assert by_hand["aortic_vmax"].value == pytest.approx(by_file["aortic_vmax"].value, rel=0.02)
    hand, file = by_hand["aortic_vmax"].uncertainty, by_file["aortic_vmax"].uncertainty
    assert hand is not None
    assert file is not None
    assert hand > file  # a hand errs by a pixel, the file's steps count as exact

    (only,) = measure_strip(_case(layout=_layout(has_region=False), marked=marked[:1]), HOUSE)
    assert "must both be marked" in only.reason


def _marks(rows: tuple[float, float], cols: tuple[float, float]) -> tuple[MarkedAxis, ...]:
    """Return marks on the scales of the drawn strip, rows from its baseline and columns from its left end."""
    zero, left = AXES.baseline_row_px, float(AXES.box.col0)
    return (
        MarkedAxis(
            axis=StripAxis.TIME, start=(zero, left + cols[0]), end=(zero, left + cols[1]),
            amount=AXES.ms_per_px * (cols[1] - cols[0]),
        ),
        MarkedAxis(
            axis=StripAxis.VELOCITY, start=(zero + rows[0], 5.0), end=(zero + rows[1], 5.0),
            amount=AXES.cm_s_per_px * (rows[1] - rows[0]),
        ),
        MarkedAxis(axis=StripAxis.BASELINE, start=(zero, 5.0), end=(zero, 5.0), amount=0.0),
    )  # fmt: skip


@pytest.mark.parametrize("rows", [(0.0, 60.0), (0.0, 75.0), (-75.0, 0.0), (-30.0, 30.0)])
def test_marks_scale_a_strip_and_do_not_bound_it(rows: tuple[float, float]) -> None:
    """Flow of 110 cm/s on a scale of 200 both ways, of which 80 or 100 were marked: it ends beyond the marks."""
    layout = _layout(has_region=False)
    found = _by_name(measure_strip(_case(layout=layout, marked=_marks(rows, (100.0, 500.0))), HOUSE))

    assert found["aortic_vmax"].value == pytest.approx(1.10, rel=0.05)
    assert found["aortic_vti"].value == pytest.approx(110 * 0.220 * 2 / np.pi, rel=0.07)
    box = AXES.box
    said = f"rows {box.row0} to {box.row1 - 1}, columns {box.col0} to {box.col1 - 1} of the picture"
    assert said in found["aortic_vmax"].reason


def test_a_picture_that_is_cut_through_the_flow_is_not_called_aliased() -> None:
    """It may be either: what lies beyond was not sent."""
    cut = np.ascontiguousarray(GREY[: round(AXES.baseline_row_px + 70)])
    case = _case(pixels=cut, layout=_layout(has_region=False), marked=_marks((-75.0, 0.0), (100.0, 500.0)))
    peak = _by_name(measure_strip(case, HOUSE))["aortic_vmax"]

    assert peak.value is None
    assert "or the picture was cut off there; send the whole strip" in peak.reason


def test_an_m_mode_of_what_is_not_measured_is_refused() -> None:
    lung_artery = _view("right_parasternal_short_axis_pulmonary_artery")
    region = Region(
        spatial_format=SpatialFormat.M_MODE, data_type=1, box=AXES.box, unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM, delta_x=0.005, delta_y=0.02,
    )  # fmt: skip
    layout = replace(_layout(), regions=(RegionReading(region=region, trusted=True, reason=""),))
    parts = "only the left ventricle, the mitral leaflets, the tricuspid ring and aorta with left atrium are measured"
    for view, said in ((lung_artery, parts), (NOT_KNOWN, "name the view")):
        (only,) = measure_strip(_case(mode=Mode.M_MODE, view=view, layout=layout), HOUSE)
        assert said in only.reason
    (only,) = measure_strip(_case(mode=Mode.M_MODE, view=lung_artery), HOUSE)
    assert "does not say where the M-mode lies" in only.reason


def _on_screen(strip: MModeStrip, starts_ms: tuple[float, ...], view: str) -> StripCase:
    """Return a drawn strip on its screen with an ECG below it, as its file's region tells of it."""
    rows, cols = strip.levels.shape
    region = Region(
        spatial_format=SpatialFormat.M_MODE, data_type=1, unit_x=PhysicalUnit.SECONDS, unit_y=PhysicalUnit.CM,
        box=Box(row0=ROW0, col0=COL0, row1=ROW0 + rows, col1=COL0 + cols), delta_x=strip.ms_per_col / 1000,
        delta_y=strip.mm_per_row / 10,
    )  # fmt: skip
    layout = replace(_layout(), regions=(RegionReading(region=region, trusted=True, reason=""),))
    return _case(pixels=screen_of(strip, starts_ms), layout=layout, mode=Mode.M_MODE, view=_view(view))


def test_an_m_mode_of_the_right_heart_from_the_apex_gives_its_excursion_and_lines() -> None:
    """The same number from the screen as was drawn, and a pair a beat; the R waves are read off the drawn ECG."""
    ring = Ring(mm=9.0)
    case = _on_screen(ring_strip_of(ring), ring.starts_ms, "left_apical_four_chamber_right_heart")
    (tapse,) = measure_strip(case, HOUSE)
    assert tapse.name == "tapse"
    assert tapse.value == pytest.approx(ring.mm, abs=1.0)
    lines = read_lines(case, HOUSE)
    assert {place.quantity for place in lines.places} == {"tapse"}
    assert np.mean([place.value or 0.0 for place in lines.places]) == pytest.approx(tapse.value)
    assert {course.name for course in lines.courses} == {"ring"}


def test_an_m_mode_at_the_aorta_gives_both_diameters_and_lines() -> None:
    root = Root()
    case = _on_screen(root_strip_of(root), root.starts_ms, "right_parasternal_short_axis_aorta")
    found = _by_name(measure_strip(case, HOUSE))
    assert found["aortic_root"].value == pytest.approx(root.aorta_mm, abs=0.5)
    assert found["left_atrium"].value == pytest.approx(root.atrium_mm, abs=0.5)
    assert found["la_ao_m_mode"].value == pytest.approx(root.atrium_mm / root.aorta_mm, abs=0.1)
    lines = read_lines(case, HOUSE)
    for name in ("aortic_root", "left_atrium"):
        kept = [place.value for place in lines.places if place.quantity == name and place.value is not None]
        assert np.mean(kept) == pytest.approx(found[name].value)


def test_pictures_are_no_strips() -> None:
    assert not is_measured(Mode.TWO_D)
    assert not is_measured(None)
    with pytest.raises(ValueError, match="no strip"):
        measure_strip(_case(mode=Mode.TWO_D), HOUSE)
