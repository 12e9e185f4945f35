"""What named marks measure, and how sure a hand is."""

from __future__ import annotations

import math
import re

import pytest

from fanlight.measure.marked import measure_marks
from fanlight.study import Clip, DrawnMark, FileMarks, Layout, MarkedAxis, MarkKind, Scale, ScaleSource, StripAxis

MM = 0.2
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
    assert values["outflow: velocity"].value == pytest.approx(100)
    assert values["outflow: velocity"].uncertainty == pytest.approx(2)  # one pixel of 2 cm/s at the peak
    assert values["outflow: velocity-time integral"].value == pytest.approx(20)
    assert not any("rate" in label for label in values)
