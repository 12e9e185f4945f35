"""Strips as a review meets them: measured once view and valve are known, with a reason where they are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.from_strip import StripCase, is_measured, measure_strip
from fanlight.reference.load import load_house
from fanlight.study import (
    ENGINE,
    NOT_KNOWN,
    Layout,
    MarkedAxis,
    Measurement,
    Mode,
    PhysicalUnit,
    Region,
    RegionReading,
    SpatialFormat,
    StripAxis,
    Valve,
    ViewReading,
    ViewSource,
)
from tests.measure.drawn_spectra import Drawing, draw, half_sines

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
    """The left apical view of the outflow serves the aortic valve alone (views.toml)."""
    view = "left_apical_long_axis"
    told = _by_name(measure_strip(_case(view=_view(view, Valve.AORTIC)), HOUSE))
    meant = _by_name(measure_strip(_case(view=_view(FIVE_CHAMBER)), HOUSE))
    assert meant["aortic_vmax"].value == told["aortic_vmax"].value


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


def test_an_m_mode_off_the_left_ventricle_is_refused() -> None:
    aorta = _view("right_parasternal_short_axis_aorta")
    (only,) = measure_strip(_case(mode=Mode.M_MODE, view=aorta), HOUSE)
    assert "only the left ventricle" in only.reason
    (only,) = measure_strip(_case(mode=Mode.M_MODE, view=NOT_KNOWN), HOUSE)
    assert "name the view" in only.reason


def test_pictures_are_no_strips() -> None:
    assert not is_measured(Mode.TWO_D)
    assert not is_measured(None)
    with pytest.raises(ValueError, match="no strip"):
        measure_strip(_case(mode=Mode.TWO_D), HOUSE)
