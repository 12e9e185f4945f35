"""Marks of a person on a strip as quantities: worked by hand from the formulas that the numbers are named after."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.marked import GIVEN_BY
from fanlight.measure.strip_lines import marks_taken, numbers_of_marks
from fanlight.reference.load import load_house
from fanlight.study import (
    ENGINE,
    Box,
    ClipReading,
    DrawnMark,
    FileMarks,
    MarkKind,
    Measurement,
    Mode,
    PhysicalUnit,
    Point,
    Region,
    RegionReading,
    SpatialFormat,
    Valve,
    ViewReading,
    ViewSource,
)
from tests.measure import test_from_strip as spectra
from tests.report.sample import sample_review

HOUSE = load_house()
MM, MS = 0.2, 4.0  # of a pixel of the M-mode
M_MODE = Region(
    spatial_format=SpatialFormat.M_MODE, data_type=1, unit_x=PhysicalUnit.SECONDS, unit_y=PhysicalUnit.CM,
    box=Box(row0=10, col0=10, row1=400, col1=600), delta_x=MS / 1000, delta_y=MM / 10,
)  # fmt: skip
AXES = spectra.AXES


def strip(mode: Mode, valve: Valve | None = None) -> ClipReading:
    """A clip of one strip, as it was read."""
    reading = sample_review().readings[0]
    layout = spectra._layout()
    if mode is Mode.M_MODE:
        layout = replace(layout, rows=420, cols=620, regions=(RegionReading(region=M_MODE, trusted=True, reason=""),))
    return replace(
        reading, layout=layout, findings=(), mode=replace(reading.mode, mode=mode), measured=(),
        clip=replace(reading.clip, rows=layout.rows, cols=layout.cols),
        view=ViewReading(view="", source=ViewSource.MENTOR, valve=valve),
    )  # fmt: skip


def mark(kind: str, label: str, points: list[Point], frame: int = 0) -> DrawnMark:
    return DrawnMark(kind=MarkKind(kind), frame=frame, points=tuple(points), landmark="", label=label)


def numbers(reading: ClipReading, *marks: DrawnMark, read: tuple[Measurement, ...] = ()) -> dict[str, Measurement]:
    taken = marks_taken(FileMarks(name=reading.clip.name, drawn=marks), reading, HOUSE)
    return {item.name: item for item in numbers_of_marks(taken, reading, read, HOUSE)}


def at(ms: float, cm_s: float) -> Point:
    """The pixel of a moment and a velocity towards the probe."""
    return (AXES.baseline_row_px - cm_s / AXES.cm_s_per_px, AXES.box.col0 + ms / AXES.ms_per_px)


def test_diameters_of_an_m_mode_and_their_shortening() -> None:
    """175 and 100 rows of 0.2 mm: 35 and 20 mm, which shorten by 15/35 (formula of fractional shortening)."""
    found = numbers(
        strip(Mode.M_MODE), mark("line", "LVIDd", [(100, 50), (275, 50)]),
        mark("line", "LVIDs, beat 2", [(120, 150), (220, 150)]),
    )  # fmt: skip

    assert found["lvidd"].value == pytest.approx(35.0)
    assert found["lvids"].value == pytest.approx(20.0)
    assert found["fractional_shortening"].value == pytest.approx(100 * 15 / 35)
    assert {item.given_by for item in found.values()} == {GIVEN_BY}
    assert not any(item.sheet_only for item in found.values())


def test_beats_are_averaged_and_their_scatter_is_told() -> None:
    """34, 35 and 36 mm: 35, and at least 1/√3 mm of the beats (JCGM 100:2008, 4.2.3)."""
    rows = [170, 175, 180]
    marks = [mark("line", "LVIDd", [(100, 50 + 90 * k), (100 + row, 50 + 90 * k)]) for k, row in enumerate(rows)]
    found = numbers(strip(Mode.M_MODE), *marks)["lvidd"]
    one = numbers(strip(Mode.M_MODE), marks[1])["lvidd"]

    assert found.value == pytest.approx(35.0)
    assert "mean of 3 marks" in found.method
    assert found.uncertainty == pytest.approx(np.hypot(one.uncertainty or 0, 1 / np.sqrt(3)), rel=1e-3)


def test_the_other_part_of_a_ratio_is_the_engines_and_stays_on_the_sheet() -> None:
    engine = Measurement(name="lvids", label="LVIDs", value=21.0, unit="mm", uncertainty=0.4, given_by=ENGINE)
    found = numbers(strip(Mode.M_MODE), mark("line", "LVIDd", [(100, 50), (275, 50)]), read=(engine,))

    shortening = found["fractional_shortening"]
    assert shortening.value == pytest.approx(100 * 14 / 35)
    assert "LVIDd marked by hand, LVIDs read by the engine" in shortening.method
    assert shortening.sheet_only
    assert not found["lvidd"].sheet_only


def test_a_cavity_that_grows_in_systole_has_no_shortening() -> None:
    marks = mark("line", "LVIDd", [(100, 50), (200, 50)]), mark("line", "LVIDs", [(100, 90), (220, 90)])
    found = numbers(strip(Mode.M_MODE), *marks)["fractional_shortening"]

    assert found.value is None
    assert "larger in end-systole" in found.reason


def test_an_outline_gives_integral_and_mean_gradient() -> None:
    """A triangle of 1 m/s over 200 ms: 10 cm; the mean of 4·v² along straight flanks is 4/3 mmHg (calculus)."""
    drawn = mark("trace", "aortic VTI", [at(100, 0), at(200, -100), at(300, 0)])
    found = numbers(strip(Mode.PULSED_WAVE, Valve.AORTIC), drawn)

    assert found["aortic_vti"].value == pytest.approx(10.0, rel=1e-6)
    assert (found["aortic_vti"].unit, found["aortic_mean_gradient"].unit) == ("cm", "mmHg")
    assert found["aortic_mean_gradient"].value == pytest.approx(4 / 3, rel=1e-6)


def test_of_a_jet_the_highest_mark_counts_and_gives_the_gradient() -> None:
    """0.96 m/s: 4 · 0.96² = 3.69 mmHg (simplified Bernoulli, QUINONES2002); a mean would be 0.88 m/s."""
    reading = strip(Mode.CONTINUOUS_WAVE, Valve.TRICUSPID)
    marks = [mark("point", "TR Vmax", [at(ms, speed)]) for ms, speed in ((100.0, -80.0), (400.0, -96.0))]
    found = numbers(reading, *marks)

    assert found["tr_vmax"].value == pytest.approx(0.96, rel=1e-6)
    assert "highest of 2" in found["tr_vmax"].method
    assert found["tr_peak_gradient"].value == pytest.approx(3.6864, rel=1e-6)


def test_times_and_the_ratio_of_filling() -> None:
    """IVRT of 60 ms; E of 0.9 over A of 0.6 m/s is 1.5."""
    reading = strip(Mode.PULSED_WAVE, Valve.MITRAL)
    found = numbers(
        reading, mark("line", "IVRT", [at(100, 0), at(160, 0)]), mark("point", "E", [at(200, 90)]),
        mark("point", "A", [at(300, 60)]), mark("line", "A duration", [at(280, 0), at(360, 0)]),
    )  # fmt: skip

    assert found["ivrt"].value == pytest.approx(60.0)
    assert found["mitral_a_duration"].value == pytest.approx(80.0)
    assert found["mitral_e_a"].value == pytest.approx(1.5)


def test_a_mark_of_the_other_side_gives_no_number() -> None:
    """A clip that was placed anew keeps its marks; their name tells of another flow."""
    found = numbers(strip(Mode.PULSED_WAVE, Valve.PULMONIC), mark("point", "aortic Vmax", [at(100, -90)]))

    assert found["aortic_vmax"].value is None
    assert "placed at the pulmonic valve; give the mark another name" in found["aortic_vmax"].reason
    assert "aortic_peak_gradient" not in found


@pytest.mark.parametrize(
    ("mode", "drawn"),
    [
        (Mode.M_MODE, mark("point", "LVIDd", [(100, 50)])),
        (Mode.M_MODE, mark("line", "something", [(100, 50), (200, 50)])),
        (Mode.M_MODE, mark("line", "aortic annulus", [(100, 50), (200, 50)])),
        (Mode.PULSED_WAVE, mark("line", "aortic Vmax", [(100, 50), (200, 50)])),
        (Mode.PULSED_WAVE, mark("line", "LVIDd", [(100, 50), (200, 50)])),
    ],
    ids=["a point", "no quantity", "no M-mode's", "a line for a speed", "a depth on a spectrum"],
)
def test_what_is_no_quantity_of_its_strip_stays_a_named_mark(mode: Mode, drawn: DrawnMark) -> None:
    reading = strip(mode)

    assert marks_taken(FileMarks(name="a", drawn=(drawn,)), reading, HOUSE) == ()


def test_a_line_without_extent_says_so() -> None:
    found = numbers(strip(Mode.M_MODE), mark("line", "LVIDd", [(100, 50), (100, 90)]))["lvidd"]

    assert found.value is None
    assert "no extent" in found.reason


def test_a_mark_beyond_the_clip_says_so() -> None:
    found = numbers(strip(Mode.M_MODE), mark("line", "LVIDd", [(100, 50), (200, 50)], frame=9999))["lvidd"]

    assert found.value is None
    assert "the clip has" in found.reason
