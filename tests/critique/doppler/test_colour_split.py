"""How a marked valve parts the colour box: against geometry, and against where the simulator laid the box."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.colour_split import KEY, UNMARKED, share_before, with_split
from fanlight.critique.doppler.valve_plane import ValvePlane, valve_plane
from fanlight.reference.criteria import read_criteria
from fanlight.study import (
    BeatSource,
    Clip,
    ClipReading,
    ClipTime,
    DrawnMark,
    Finding,
    FrameTimes,
    Landmark,
    Layout,
    MarkKind,
    Mode,
    ModeReading,
    Point,
    Polyline,
    TimeSource,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.critique.doppler.colour_clips import HOUSE, PICTURE, Drawn, clip, judge

SQUARE = Polyline(points=((100.0, 100.0), (100.0, 200.0), (400.0, 200.0), (400.0, 100.0)), closed=True)


def point(landmark: Landmark, row: float, col: float) -> DrawnMark:
    return DrawnMark(kind=MarkKind.POINT, frame=0, points=((row, col),), landmark=landmark.name)


def hinges(row: float, col: float = 150.0) -> tuple[DrawnMark, ...]:
    return (
        point(Landmark.MITRAL_SEPTAL_HINGE, row, col - 20),
        point(Landmark.MITRAL_PARIETAL_HINGE, row, col + 20),
    )


def plane_of(marks: tuple[DrawnMark, ...], valve: Valve | None = None) -> ValvePlane:
    found = valve_plane(marks, valve)
    assert isinstance(found, ValvePlane), found
    return found


def test_two_hinges_part_the_box_where_they_lie() -> None:
    # a box from row 100 to 400: a valve at row 200 leaves a third above it
    plane = plane_of(hinges(200.0))
    assert plane.valve is Valve.MITRAL
    share = share_before(SQUARE, plane)
    assert share is not None
    assert min(share, 1 - share) == pytest.approx(1 / 3)
    assert not plane.is_directed


@pytest.mark.parametrize(("landmark", "row"), [(Landmark.LV_APEX, 380.0), (Landmark.LA_CENTRE, 110.0)])
def test_a_chamber_tells_the_sides(landmark: Landmark, row: float) -> None:
    # ventricle below, atrium above: the third above the valve lies before it
    plane = plane_of((*hinges(200.0), point(landmark, row, 150.0)))
    assert plane.is_directed
    assert share_before(SQUARE, plane) == pytest.approx(1 / 3)
    other = plane_of((*hinges(200.0), point(Landmark.LV_APEX, 110.0, 150.0)))
    assert share_before(SQUARE, other) == pytest.approx(2 / 3)


def test_the_middle_of_a_ring_needs_an_axis() -> None:
    middle = point(Landmark.PULMONIC_CENTRE, 250.0, 150.0)
    assert isinstance(valve_plane((middle,), Valve.PULMONIC), str)
    plane = plane_of((middle, point(Landmark.PULMONARY_BIFURCATION, 350.0, 150.0)))
    assert plane.valve is Valve.PULMONIC
    assert share_before(SQUARE, plane) == pytest.approx(0.5)


def test_a_line_across_the_ring_is_as_good_as_two_points() -> None:
    line = DrawnMark(
        kind=MarkKind.LINE, frame=0, points=((200.0, 130.0), (200.0, 170.0)), landmark=Landmark.TRICUSPID_CENTRE.name
    )
    share = share_before(SQUARE, plane_of((line,)))
    assert share is not None
    assert min(share, 1 - share) == pytest.approx(1 / 3)


def test_pixels_that_are_not_square_are_made_so() -> None:
    # columns half as wide as rows: a plane at 45 degrees in the patient runs two columns to a row
    marks = (point(Landmark.MITRAL_SEPTAL_HINGE, 200.0, 130.0), point(Landmark.MITRAL_PARIETAL_HINGE, 220.0, 170.0))
    found = valve_plane(marks, None, col_stretch=0.5)
    assert isinstance(found, ValvePlane)
    assert abs(found.normal[0]) == pytest.approx(abs(found.normal[1]))


@pytest.mark.parametrize(
    ("marks", "valve", "words"),
    [
        (hinges(200.0), Valve.AORTIC, "the place of the aortic valve is not marked"),
        ((), None, "the valve in the box is not known"),
        ((point(Landmark.LV_APEX, 1.0, 1.0),), Valve.MITRAL, "the place of the mitral valve is not marked"),
        (
            (*hinges(200.0), point(Landmark.PULMONIC_CENTRE, 9.0, 9.0), point(Landmark.RV_CENTRE, 90.0, 9.0)),
            None,
            "more than one valve is marked",
        ),
    ],
)
def test_what_is_not_marked_is_not_judged(marks: tuple[DrawnMark, ...], valve: Valve | None, words: str) -> None:
    found = valve_plane(marks, valve)
    assert isinstance(found, str)
    assert words in found


def reading(findings: tuple[Finding, ...], valve: Valve | None = None) -> ClipReading:
    file = Clip(
        key="k", number=1, name="k.dcm", container="DICOM", rows=420, cols=560, n_frames=24, is_colour=True
    )  # fmt: skip
    time = ClipTime(times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.NONE)
    layout = Layout(
        rows=420, cols=560, picture=PICTURE, picture_confidence=1.0, picture_reason="drawn", scale=None,
        scale_reason="drawn",
    )  # fmt: skip
    return ClipReading(
        clip=file, layout=layout, mode=ModeReading(mode=Mode.COLOUR, probability=1.0, reasons=()),
        view=ViewReading(view="", source=ViewSource.MENTOR, valve=valve), time=time, findings=findings, verdicts=(),
        frames_read=24, key_frame=0,
    )  # fmt: skip


def at(depth_px: float) -> Point:
    """A place on the middle beam."""
    return PICTURE.apex_row_px + depth_px, PICTURE.apex_col_px


def on_box(depth_px: float) -> tuple[DrawnMark, ...]:
    row, col = at(depth_px)
    return hinges(row, col)


def test_marks_on_a_clip_judge_its_box_without_reading_it_again() -> None:
    criterion = read_criteria(HOUSE)[KEY]
    found = judge(clip(Drawn(n_frames=8)))[KEY]
    assert (found.verdict, found.reason) == (Verdict.NOT_ASSESSABLE, UNMARKED)
    # the drawn box runs from 120 to 300 px; its near corners, at ±22 degrees, lie at 120·cos 22° = 111 px
    near, far = 111.3, 300.0
    for depth, verdict in ((180.0, Verdict.MET), (135.0, Verdict.BORDERLINE), (124.0, Verdict.MISSED)):
        (told,) = with_split(reading((found,)), on_box(depth), criterion).findings
        assert told.value == pytest.approx((depth - near) / (far - near), abs=0.02)
        assert told.verdict is verdict
    (outside,) = with_split(reading((found,)), on_box(350.0), criterion).findings
    assert (outside.verdict, outside.value) == (Verdict.MISSED, 0.0)
    assert "outside the box" in outside.reason


def test_without_marks_or_against_a_decision_nothing_is_told() -> None:
    criterion = read_criteria(HOUSE)[KEY]
    found = judge(clip(Drawn(n_frames=8)))[KEY]
    assert with_split(reading((found,)), (), criterion).findings == (found,)
    decided = replace(found, reason="I see the valve at the rim", confidence=1.0)
    assert with_split(reading((decided,)), on_box(180.0), criterion).findings == (decided,)
    assert with_split(reading(()), on_box(180.0), criterion).findings == ()
