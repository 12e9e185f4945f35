"""A scale that a person set holds for planes and for where the probe stood, as it does for calipers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from fanlight.heart.movements import Movement
from fanlight.review.conclude import conclude
from fanlight.review.hand_scale import by_hand_scale
from fanlight.study import (
    Box,
    ClipReading,
    FileMarks,
    Finding,
    Layout,
    MarkedDistance,
    Region,
    RegionReading,
    ScaleSource,
    StudyReview,
)
from tests.heart.fit.cases import FOUR_CHAMBER, clip_of
from tests.plane.clips import APICAL, HOUSE, PX_PER_MM, clip, picture, sloped
from tests.plane.pose_marks import pose_marks
from tests.report.sample import sample_review

LONGER = 1.1  # the person's millimetres to the file's
RULER = MarkedDistance(start=(100.0, 400.0), end=(500.0, 400.0), distance_mm=400.0 / PX_PER_MM)
LONG_RULER = replace(RULER, distance_mm=LONGER * RULER.distance_mm)
CONTRADICTED = "the region of the file and two marked points contradict each other"


def _without_scale(item: ClipReading) -> ClipReading:
    return replace(item, layout=replace(item.layout, scale=None, scale_reason=CONTRADICTED))


def _concluded(readings: tuple[ClipReading, ...], marks: Mapping[str, FileMarks]) -> StudyReview:
    return conclude(sample_review().study, readings, (), HOUSE, marks=marks)


def _length(review: StudyReview) -> Finding:
    return next(each for each in review.readings[0].findings if each.criterion == "ventricle_length")


@pytest.fixture
def two() -> tuple[ClipReading, ...]:
    """Two apical clips with a ventricle of one length."""
    return tuple(clip(APICAL, picture(*sloped(80.0)), number=number) for number in (1, 2))


def test_a_length_is_told_by_the_scale_that_a_person_set(two: tuple[ClipReading, ...]) -> None:
    marks = {"k1": FileMarks(name="k1.dcm", scale=LONG_RULER)}
    before, after = _concluded(two, {}), _concluded(two, marks)

    assert _length(before).value == pytest.approx(1.0)
    assert _length(after).value == pytest.approx(1.0)  # the longest itself
    other = next(each for each in after.readings[1].findings if each.criterion == "ventricle_length")
    assert other.value == pytest.approx(1 / LONGER)


def test_a_clip_of_which_file_and_person_contradict_each_other_keeps_the_person_s(
    two: tuple[ClipReading, ...],
) -> None:
    """It asked to mark two points of the scale, which stood there."""
    left = (_without_scale(two[0]), two[1])
    marks = {"k1": FileMarks(name="k1.dcm", scale=RULER)}

    assert "mark two points of the scale" in _length(_concluded(left, {})).reason
    after = _concluded(left, marks)
    assert _length(after).value == pytest.approx(1.0)
    assert [item.layout for item in after.readings] == [item.layout for item in left], "the reading stays the engine's"


def test_where_the_probe_stood_is_told_by_the_scale_that_a_person_set() -> None:
    reading = clip(FOUR_CHAMBER)
    marks = pose_marks(clip_of(302, FOUR_CHAMBER, {Movement.TILT: 12.0}, noise_fraction=0.01))
    whole = _concluded((reading,), {"k1": marks})
    without = _concluded((_without_scale(reading),), {"k1": marks})
    by_hand = _concluded((_without_scale(reading),), {"k1": replace(marks, scale=RULER)})

    assert [item.reason for stand in without.stands for item in stand.left_out] == [f"it has no scale: {CONTRADICTED}"]
    assert [item.cause for item in by_hand.corrections] == [item.cause for item in whole.corrections] == ["tilt_plus"]


def test_its_error_is_that_of_two_points_by_hand() -> None:
    """A pixel at each end, over 400 (common practice, no source)."""
    (scaled,) = by_hand_scale((clip(APICAL),), {"k1": FileMarks(name="k1.dcm", scale=LONG_RULER)})

    assert scaled.layout.scale is not None
    assert scaled.layout.scale.mm_per_row_px == pytest.approx(LONGER / PX_PER_MM)
    assert scaled.layout.scale.mm_per_col_px == pytest.approx(LONGER / PX_PER_MM)
    assert scaled.layout.scale.source is ScaleSource.MARKED
    assert scaled.layout.scale.uncertainty_fraction == pytest.approx(2**0.5 / 400)


def _with_strip_beside(layout: Layout) -> Layout:
    strip = Region(
        spatial_format=2, data_type=1, box=Box(row0=0, col0=700, row1=620, col1=800), unit_x=4, unit_y=3,
        delta_x=0.004, delta_y=0.025,
    )  # fmt: skip
    return replace(layout, regions=(RegionReading(region=strip, trusted=True, reason="drawn"),))


def test_what_says_nothing_of_the_picture_changes_nothing() -> None:
    """No mark at all, lines without a scale, a clip without picture, a depth that was marked on the strip beside."""
    item, marks = clip(APICAL), {"k1": FileMarks(name="k1.dcm", scale=LONG_RULER)}
    bare = replace(item, layout=replace(item.layout, picture=None))
    beside = replace(item, layout=_with_strip_beside(item.layout))
    on_strip = replace(LONG_RULER, start=(100.0, 750.0), end=(500.0, 750.0))

    for reading, said in (
        (item, {}), (item, {"k1": FileMarks(name="k1.dcm")}), (bare, marks),
        (beside, {"k1": FileMarks(name="k1.dcm", scale=on_strip)}),
    ):  # fmt: skip
        (left,) = by_hand_scale((reading,), said)
        assert left is reading
