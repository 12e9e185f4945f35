"""A simulated M-mode beside its guide: the cursor is held against lines on the guide, and its numbers follow."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from fanlight.measure.from_strip import StripCase, measure_strip
from fanlight.measure.guide_cursor import CURSOR_FOUND, judge_cursor
from fanlight.measure.strip_part import StripPart
from fanlight.measure.wall_peaks import WALL_PEAKS
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.simulate.screen.screen import paint_m_mode, strip_box
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.study import (
    ClipReading,
    DrawnMark,
    FileMarks,
    Layout,
    MarkKind,
    Measurement,
    Mode,
    Point,
    RegionReading,
    SpatialFormat,
    ViewReading,
    ViewSource,
)
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, ROWS, Ventricle, borders_mm, draw, times_ms
from tests.report.sample import sample_review
from tests.simulate.screen_stand_ins import ecg, facts, placed_on, speckle

HOUSE = load_house()
SHORT_AXIS = "right_parasternal_short_axis_chordae"
DEPTH_MM, STRIP_MS = ROWS * MM_PER_ROW, 1600.0
HEART = Ventricle(beat_ms=500.0, starts_ms=(100.0, 600.0, 1100.0, 1600.0))  # R waves of the stand-in's ECG
CURSOR_DEG = -6.0


def screen_of(slant_deg: float) -> Screen:
    """The screen of a heart of plane walls that the beam crosses aslant: all depths are 1/cos as long."""
    layout, rng = LAYOUTS["foot_rows"], np.random.default_rng(3)
    placed, box = placed_on(layout, depth_mm=DEPTH_MM, guide=True), strip_box(layout)
    borders = borders_mm(HEART, times_ms())
    strip = cv2.resize(draw(borders / math.cos(math.radians(slant_deg))), (box.width_px, box.height_px))
    return paint_m_mode(
        layout, speckle(rng, 1, placed.box.height_px, placed.box.width_px), placed, strip[None],
        facts(sweep_mm_s=50.0, depth_mm=DEPTH_MM, focus_mm=40.0), cursor_deg=CURSOR_DEG,
        ms_per_px=STRIP_MS / box.width_px, times_ms=(0.0,), ecg=ecg(),
    )  # fmt: skip


@pytest.fixture(scope="module")
def square() -> Screen:
    return screen_of(0.0)


def layout_of(screen: Screen, *, states_cursor: bool = True) -> Layout:
    regions = screen.regions if states_cursor else tuple(replace(item, m_line_px=None) for item in screen.regions)
    rows, cols = screen.frames.shape[1:3]
    return Layout(
        rows=rows, cols=cols, picture=screen.placed.sector, picture_confidence=1.0, picture_reason="", scale=None,
        scale_reason="", regions=tuple(RegionReading(region=item, trusted=True, reason="") for item in regions),
    )  # fmt: skip


def line(label: str, screen: Screen, from_cursor_deg: float) -> DrawnMark:
    """A line of 120 px through the middle of the guide, so far turned from the cursor."""
    sector = screen.placed.sector
    row, col = sector.point(0.5, (CURSOR_DEG - sector.left_deg) / sector.width_deg)
    turn = math.radians(CURSOR_DEG + from_cursor_deg)
    down, across = 60 * math.cos(turn), 60 * math.sin(turn)
    points = ((row - down, col - across), (row + down, col + across))
    return DrawnMark(kind=MarkKind.LINE, frame=0, points=points, landmark="", label=label)


def point(landmark: str, at: Point) -> DrawnMark:
    return DrawnMark(kind=MarkKind.POINT, frame=0, points=(at,), landmark=landmark, label="")


def numbers(
    screen: Screen, *marks: DrawnMark, states_cursor: bool = True, view: str = SHORT_AXIS
) -> dict[str, Measurement]:
    """All numbers of the strip as a review gives them, by name or label."""
    reading = sample_review().readings[0]
    layout, seen = layout_of(screen, states_cursor=states_cursor), ViewReading(view=view, source=ViewSource.MENTOR)
    case = StripCase(pixels=screen.frames[-1], frame=0, layout=layout, mode=Mode.M_MODE, view=seen)
    read: ClipReading = replace(
        reading, layout=layout, findings=(), mode=replace(reading.mode, mode=Mode.M_MODE), view=seen,
        measured=measure_strip(case, HOUSE), measured_as=(view, None),
        clip=replace(reading.clip, rows=layout.rows, cols=layout.cols),
    )  # fmt: skip
    drawn = {read.clip.key: FileMarks(name=read.clip.name, drawn=marks)}
    review = conclude(sample_review().study, (read,), (), HOUSE, marks=drawn)
    return {item.name or item.label: item for item in review.measurements if item.given_by == "engine"}


def test_without_a_line_on_the_guide_nothing_is_claimed(square: Screen) -> None:
    found = numbers(square)
    assert found["lvidd"].validity.startswith(
        "note: not judged: ECG on the recordings; never judged: where the cursor cuts the ventricle"
    )
    assert WALL_PEAKS not in found


def test_a_cursor_square_to_the_septum_leaves_the_numbers(square: Screen) -> None:
    found = numbers(square, line("septum line", square, 88.0))
    assert "the cursor lies 2° ± 1° from square to the septum" in found["lvidd"].validity
    assert found["lvidd"].validity.startswith("note: ")
    assert "hold it against the picture" not in found["lvidd"].validity
    assert found[WALL_PEAKS].value == pytest.approx(0.0, abs=3.0)  # both walls of the drawn heart move together
    assert "not surely out of step" in found[WALL_PEAKS].validity


def test_an_oblique_cursor_makes_diameters_an_upper_bound() -> None:
    """1/cos 28° = 1.133 (plane geometry): the drawn strip reads so much too large, and the words say so."""
    aslant = screen_of(28.0)
    found = numbers(aslant, line("septum line", aslant, 62.0))
    value = found["lvidd"].value
    assert value is not None
    assert value / HEART.cavity == pytest.approx(1.133, rel=0.03)
    for name in ("lvidd", "lvids", "ivsd", "lvwd"):
        assert found[name].validity.startswith("at most: on the guide the cursor lies 28°"), name
        assert "13 % too large" in found[name].validity
    # a ratio of two lengths keeps its value
    assert found["fractional_shortening"].value == pytest.approx(100 * HEART.shortening, abs=2.5)
    assert not found["fractional_shortening"].validity.startswith("at ")
    assert found[WALL_PEAKS].value is None
    assert "aslant puts the peaks" in found[WALL_PEAKS].reason


def test_near_the_limit_it_is_only_noted(square: Screen) -> None:
    """16 ± 0.7° against a limit of 15°: not sure."""
    validity = numbers(square, line("septum line", square, 74.0))["lvidd"].validity
    assert validity.startswith("note: ")
    assert "perhaps aslant" in validity


def test_a_cursor_drawn_in_the_pixels_serves_where_the_file_is_silent(square: Screen) -> None:
    found = numbers(square, line("septum line", square, 60.0), states_cursor=False)
    assert found[CURSOR_FOUND].value == pytest.approx(CURSOR_DEG, abs=1.5)
    assert found["lvidd"].validity.startswith("at most: ")


def test_a_line_by_hand_goes_before_the_file(square: Screen) -> None:
    marks = line("septum line", square, 60.0), line("Cursor line", square, -29.0)
    assert "lies 1° ± 1° from square" in numbers(square, *marks)["lvidd"].validity


def test_a_line_on_the_strip_is_no_line_of_the_guide(square: Screen) -> None:
    box = next(item.box for item in square.regions if item.spatial_format == SpatialFormat.M_MODE)
    at = (float(box.row0 + 20), float(box.col0 + 40))
    mark = DrawnMark(kind=MarkKind.LINE, frame=0, points=(at, (at[0] + 60.0, at[1])), landmark="", label="septum line")
    assert numbers(square, mark)["lvidd"].validity == numbers(square)["lvidd"].validity


def test_beside_the_middle_diameters_are_a_lower_bound(square: Screen) -> None:
    """8 mm beside it, a chord of 24 mm is that of a circle of √(24² + 16²) = 28.8 mm: 17 % too small (Pythagoras)."""
    sector, mm = square.placed.sector, square.placed.mm_per_px
    row, col = sector.point(0.5, (CURSOR_DEG - sector.left_deg) / sector.width_deg)
    turn = math.radians(CURSOR_DEG)
    centre = point("LV_CENTRE", (row - 8.0 / mm * math.sin(turn), col + 8.0 / mm * math.cos(turn)))
    septum = line("septum line", square, 90.0)
    found = numbers(square, septum, centre)
    assert found["lvidd"].validity.startswith("at least: on the guide the cursor runs 8.0 mm beside")
    chord = found["lvidd"].value
    assert chord is not None
    assert f"{100 * (1 - chord / math.hypot(chord, 16)):.0f} % shorter" in found["lvidd"].validity
    assert not found["ivsd"].validity.startswith("at ")
    both = numbers(square, line("septum line", square, 60.0), centre)["lvidd"]
    assert both.value is None
    assert "too large and too small" in both.reason


@pytest.mark.parametrize("turn_deg", [0.0, 12.0, -31.0])
def test_the_way_of_the_ring_is_held_against_the_cursor(square: Screen, turn_deg: float) -> None:
    """A line turned so far from the cursor that the file states lies as far aslant; a septum line is none of a ring."""
    layout = layout_of(square)
    ring = (line("ring line", square, turn_deg),)
    seen = judge_cursor(StripPart.TRICUSPID_RING, "", layout, (), ring)
    assert seen is not None
    assert seen.aslant_deg == pytest.approx(abs(turn_deg), abs=0.5)  # the file's ends are whole pixels
    assert seen.beside_mm is None
    septum = (line("septum line", square, turn_deg),)
    assert judge_cursor(StripPart.TRICUSPID_RING, "", layout, (), septum) is None
