"""What named marks measure, and how sure a hand is."""

from __future__ import annotations

import math
import re

import pytest

from fanlight.measure.marked import measure_marks
from fanlight.study import (
    Clip,
    DrawnMark,
    FileMarks,
    Layout,
    MarkedAxis,
    MarkedDistance,
    MarkKind,
    Mode,
    Scale,
    ScaleSource,
    StripAxis,
)

MM = 0.2
ROOT = math.sqrt(2)
SCALE = Scale(mm_per_row_px=MM, mm_per_col_px=MM, source=ScaleSource.REGION, uncertainty_fraction=0.005, witnesses=())
CLIP = Clip(key="k", number=1, name="IM1", container="DICOM", rows=400, cols=500, n_frames=10, is_colour=False)


def layout(scale: Scale | None = SCALE) -> Layout:
    return Layout(
        rows=400, cols=500, picture=None, picture_confidence=0.0, picture_reason="", scale=scale, scale_reason=""
    )


def line(**more: object) -> DrawnMark:
    fields = {"kind": MarkKind.LINE, "frame": 3, "points": ((100.0, 50.0), (220.0, 210.0)), "label": "ventricle"}
    return DrawnMark(**{**fields, **more})  # type: ignore[arg-type]


def test_a_length_has_the_error_of_two_points_and_of_the_scale() -> None:
    """A line's length errs by √2 pixels where each end errs by one along it (propagation of errors)."""
    (found,) = measure_marks(FileMarks(name="IM1", drawn=(line(),)), layout(), CLIP)

    assert (found.label, found.unit, found.frames, found.clip) == ("ventricle: length", "mm", (3,), "IM1")
    assert found.value == pytest.approx(200 * MM)
    assert found.uncertainty == pytest.approx(math.hypot(math.sqrt(2) * MM, 0.005 * 200 * MM), rel=1e-3)


def test_a_landmark_names_a_mark_and_a_nameless_mark_measures_nothing() -> None:
    named = line(label="", landmark="LV_APEX")
    found = measure_marks(FileMarks(name="IM1", drawn=(line(label=""), named)), layout(), CLIP)

    assert [item.label for item in found] == ["left ventricular apex, inner border: length"]


def test_where_nothing_is_calibrated_there_is_no_value() -> None:
    (found,) = measure_marks(FileMarks(name="IM1", drawn=(line(),)), layout(None), CLIP)

    assert (found.value, found.uncertainty) == (None, None)
    assert "mark two points of the scale" in found.reason


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"frame": 10}, "frame 11, and the clip has 10"),
        ({"points": ((1.0, 2.0), (400.0, 2.0))}, r"point \(400, 2\) lies outside the picture of 400 rows"),
    ],
)
def test_a_mark_that_does_not_fit_its_clip_loses_no_other(wrong: dict[str, object], words: str) -> None:
    bad, good = measure_marks(FileMarks(name="IM1", drawn=(line(**wrong), line())), layout(), CLIP)

    assert bad.value is None
    assert re.search(words, bad.reason)
    assert good.value is not None


def test_a_trace_on_a_strip_scaled_by_hand_gives_velocities_and_no_rate() -> None:
    axes = (
        MarkedAxis(axis=StripAxis.VELOCITY, start=(0.0, 0.0), end=(100.0, 0.0), amount=200.0),
        MarkedAxis(axis=StripAxis.TIME, start=(0.0, 0.0), end=(0.0, 100.0), amount=400.0),
        MarkedAxis(axis=StripAxis.BASELINE, start=(300.0, 0.0), end=(300.0, 0.0), amount=0.0),
    )
    points = ((300.0, 100.0), (250.0, 150.0), (300.0, 200.0))
    trace = line(kind=MarkKind.TRACE, points=points, label="outflow")
    found = measure_marks(FileMarks(name="IM1", axes=axes, drawn=(trace, line())), layout(None), CLIP)

    values = {item.label: item for item in found}
    peak = values["outflow: peak velocity"]
    assert peak.value == pytest.approx(100)
    # By hand: one row of the peak and one of the baseline, 2 cm/s each, and √2 of the 100 rows of the scale.
    assert peak.uncertainty == pytest.approx(math.sqrt(2**2 + 2**2 + (100 * ROOT / 100) ** 2))
    # 4 v² errs by 8 v in m/s: 8 mmHg for 1 m/s.
    assert values["outflow: peak gradient"].uncertainty == pytest.approx(8 * math.sqrt(10) / 100, rel=1e-3)
    # Both ends one column of 4 ms, and √2 of the 100 columns of the scale, which are 400 ms.
    assert values["outflow: time"].uncertainty == pytest.approx(math.hypot(ROOT * 4, 400 * ROOT / 100), rel=1e-6)
    assert values["outflow: velocity-time integral"].value == pytest.approx(20)
    assert not any("rate" in label for label in values)
    # Whoever reads the number reads what it rests on.
    assert "a lower bound, since no angle is corrected" in peak.reason
    assert "simplified Bernoulli, QUINONES2002" in values["outflow: mean gradient"].reason
    assert "lower bound" not in values["outflow: time"].reason


def test_where_muscle_moves_no_gradient_is_read() -> None:
    axes = (
        MarkedAxis(axis=StripAxis.VELOCITY, start=(0.0, 0.0), end=(100.0, 0.0), amount=20.0),
        MarkedAxis(axis=StripAxis.BASELINE, start=(300.0, 0.0), end=(300.0, 0.0), amount=0.0),
    )
    point = line(kind=MarkKind.POINT, points=((250.0, 150.0),), label="annulus")
    marks = FileMarks(name="IM1", axes=axes, drawn=(point,))

    flow = {item.label for item in measure_marks(marks, layout(None), CLIP, Mode.PULSED_WAVE)}
    tissue = {item.label: item.value for item in measure_marks(marks, layout(None), CLIP, Mode.TISSUE_DOPPLER)}

    assert flow == {"annulus: velocity", "annulus: gradient"}
    assert tissue == {"annulus: velocity": pytest.approx(10)}


def test_a_scale_marked_by_hand_errs_as_a_hand_does() -> None:
    """20 mm over 100 px err by √2/100 of themselves: a length of 40 mm by 0.57 mm, its ends by √2 · 0.2 mm."""
    scale = MarkedDistance(start=(0.0, 0.0), end=(60.0, 80.0), distance_mm=20.0)
    (found,) = measure_marks(FileMarks(name="IM1", scale=scale, drawn=(line(),)), layout(None), CLIP)

    assert found.value == pytest.approx(200 * MM)
    assert found.uncertainty == pytest.approx(math.hypot(ROOT * MM, 40 * ROOT / 100), rel=1e-6)


def test_an_area_errs_twice_as_much_as_its_scale() -> None:
    """A square of 100 px on a scale of 100 px: 2 · √2/100 of 400 mm², and what its corners add.

    A corner moves the area by half the diagonal between its neighbours, in each direction by 50 px² for a pixel.
    """
    scale = MarkedDistance(start=(0.0, 0.0), end=(100.0, 0.0), distance_mm=20.0)
    square = line(kind=MarkKind.TRACE, points=((100.0, 100.0), (100.0, 200.0), (200.0, 200.0), (200.0, 100.0)))
    found = measure_marks(FileMarks(name="IM1", scale=scale, drawn=(square,)), layout(None), CLIP)

    (area,) = [item for item in found if item.unit == "mm²"]
    corners = math.sqrt(4 * 2 * 50**2) * MM**2
    assert area.value == pytest.approx(400)
    assert area.uncertainty == pytest.approx(math.hypot(corners, 400 * 2 * ROOT / 100), rel=1e-5)


def test_depth_and_slope_on_a_strip_have_the_error_of_both_marked_scales() -> None:
    """By hand from slope = k · rows / (columns · m): the four relative errors add in squares (GUM 5.1.6)."""
    depth = MarkedDistance(start=(20.0, 5.0), end=(120.0, 5.0), distance_mm=60.0)
    time = MarkedAxis(axis=StripAxis.TIME, start=(0.0, 0.0), end=(0.0, 200.0), amount=1000.0)
    drawn = line(points=((100.0, 50.0), (150.0, 90.0)), label="wall")
    found = measure_marks(FileMarks(name="IM1", scale=depth, axes=(time,), drawn=(drawn,)), layout(None), CLIP)

    values = {item.label: item for item in found}
    assert values["wall: depth"].value == pytest.approx(30)
    assert values["wall: depth"].uncertainty == pytest.approx(math.hypot(ROOT * 0.6, 30 * ROOT / 100), rel=1e-6)
    assert values["wall: slope"].value == pytest.approx(-150)
    shares = ROOT * math.hypot(1 / 50, 1 / 100, 1 / 40, 1 / 200)
    assert values["wall: slope"].uncertainty == pytest.approx(150 * shares, rel=1e-3)


def test_a_mark_brings_its_error_in_place_of_the_read_scale() -> None:
    """The read scale errs by its own 0.5 %, two points over 100 px by √2 %; never both."""
    drawn = line()
    (found,) = measure_marks(FileMarks(name="IM1", scale=None, drawn=(drawn,)), layout(), CLIP)
    marked = MarkedDistance(start=(0.0, 0.0), end=(100.0, 0.0), distance_mm=20.0)
    (by_hand,) = measure_marks(FileMarks(name="IM1", scale=marked, drawn=(drawn,)), layout(), CLIP)

    assert found.uncertainty == pytest.approx(math.hypot(ROOT * MM, 0.005 * 40), rel=1e-6)
    assert by_hand.uncertainty == pytest.approx(math.hypot(ROOT * MM, 40 * ROOT / 100), rel=1e-6)
