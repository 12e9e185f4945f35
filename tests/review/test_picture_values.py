"""Marks on 2-D clips reach the review as quantities with intervals; the network's landmarks stand apart from them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.load import load_house
from fanlight.report.measurements import measurement_blocks, symbols_of
from fanlight.review.conclude import conclude
from fanlight.study import (
    ENGINE,
    ClipReading,
    DrawnMark,
    FileMarks,
    Finding,
    FoundLandmark,
    FoundLine,
    Kept,
    MarkKind,
    Measurement,
    Mode,
    PictureReading,
    Side,
    StudyReview,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.report.sample import finding, sample_review

HOUSE = load_house()
CHORDAE, OUTFLOW = "right_parasternal_short_axis_chordae", "right_parasternal_long_axis_outflow"
LINE = DrawnMark(kind=MarkKind.LINE, frame=0, points=((200.0, 250.0), (200.0, 350.0)), label="LVIDd")
HINGES = tuple(
    FoundLandmark(landmark=name, frame=0, point=(200.0, col), spread_px=2.0, probability=share)
    for name, col, share in (("AORTIC_SEPTAL_HINGE", 250.0, 0.9), ("AORTIC_MITRAL_HINGE", 310.0, 0.9))
)


def _reading(view: str, findings: tuple[Finding, ...] = (), picture: PictureReading | None = None) -> ClipReading:
    first = sample_review().readings[0]
    return replace(
        first, findings=findings, picture=picture, mode=replace(first.mode, mode=Mode.TWO_D),
        view=ViewReading(view=view, source=ViewSource.MENTOR), time=replace(
            first.time, end_diastole_frames=(), end_systole_frames=(),
        ),
    )  # fmt: skip


def _concluded(reading: ClipReading, *drawn: DrawnMark) -> StudyReview:
    marks = {reading.clip.key: FileMarks(name=reading.clip.name, drawn=drawn)}
    return conclude(sample_review().study, (reading,), (), HOUSE, marks=marks)


def _named(review: StudyReview, name: str, given_by: str) -> list[Measurement]:
    return [item for item in review.measurements if item.name == name and item.given_by == given_by]


def test_a_line_that_is_named_stands_in_the_summary_with_its_interval_and_what_it_stands_on() -> None:
    review = _concluded(_reading(CHORDAE), LINE)
    (found,) = _named(review, "lvidd", GIVEN_BY)

    assert found.value is not None
    assert found.clip == review.readings[0].clip.name
    assert not found.sheet_only  # the table bears it out
    assert found.readings
    paper = repr(measurement_blocks(review, {}, symbols_of(HOUSE)))
    assert "28 ± 0.67 mm" in paper
    assert found.validity.startswith("note: ")
    assert f"What LVIDd stands on: {found.validity.removeprefix('note: ')}." in paper
    assert "LVIDd: length" not in paper  # the same line with the smaller error of a bare length
    assert "LVIDd: length" in repr(measurement_blocks(review, {}, symbols_of(HOUSE), whole=True))
    assert "a hasty hand errs by more" in paper
    assert "never judged: whether the points lie on the border" in found.validity
    # the line itself stays what it was: a length without an interval
    assert [item.label for item in review.measurements if item.label.startswith("LVIDd: ")] == ["LVIDd: length"]


def test_found_landmarks_measure_under_the_engines_name() -> None:
    picture = PictureReading(landmarks=HINGES)
    review = _concluded(_reading(OUTFLOW, picture=picture), replace(LINE, label="aortic annulus"))

    (by_network,) = _named(review, "aortic_annulus", ENGINE)
    (by_hand,) = _named(review, "aortic_annulus", GIVEN_BY)
    assert by_network.value is not None
    assert by_hand.value is not None
    assert by_hand.value / by_network.value == 100 / 60  # each from its own points


def test_landmarks_below_the_house_limit_measure_nothing() -> None:
    vague = PictureReading(landmarks=tuple(replace(item, probability=0.4) for item in HINGES))
    assert not _named(_concluded(_reading(OUTFLOW, picture=vague)), "aortic_annulus", ENGINE)


def test_calipers_on_the_masks_measure_under_the_engines_name_in_views_that_carry_them() -> None:
    line = FoundLine(what="lvidd", frame=0, ends=((200.0, 250.0), (200.0, 350.0)), spread_px=1.0)
    picture = PictureReading(lines=(line, replace(line, what="lvids", ends=((200.0, 250.0), (200.0, 320.0)))))
    review = _concluded(_reading(CHORDAE, picture=picture), LINE)

    (by_network,) = _named(review, "lvidd", ENGINE)
    (by_hand,) = _named(review, "lvidd", GIVEN_BY)
    assert by_network.value == by_hand.value
    assert "found by the network" in by_network.method
    (shortening,) = _named(review, "fractional_shortening", ENGINE)
    assert shortening.value == pytest.approx(30.0)
    base = "right_parasternal_short_axis_aorta"
    assert not _named(_concluded(_reading(base, picture=picture)), "fractional_shortening", ENGINE)


def test_a_swept_clip_refuses_and_too_few_frames_make_a_bound() -> None:
    swept = finding("plane_held", 1, Verdict.MISSED, 0.8, side=Side.LOW, confidence=0.9)
    (refused,) = _named(_concluded(_reading(CHORDAE, (swept,)), LINE), "lvidd", GIVEN_BY)
    assert refused.value is None
    assert refused.validity.startswith("refused: the picture turns into another one")

    few = finding("frames_per_beat", 1, Verdict.MISSED, 7.0, side=Side.LOW, confidence=0.9)
    (bound,) = _named(_concluded(_reading(CHORDAE, (few,)), LINE), "lvidd", GIVEN_BY)
    assert bound.validity.startswith("at least: ")
    assert bound.readings == ()


def test_marks_on_a_strip_are_no_picture() -> None:
    strip = _reading(CHORDAE)
    strip = replace(strip, mode=replace(strip.mode, mode=Mode.M_MODE))
    assert not _named(_concluded(strip, LINE), "lvidd", GIVEN_BY)


def test_the_sheet_says_how_a_number_was_taken() -> None:
    review = _concluded(_reading(CHORDAE), LINE)
    text = repr(measurement_blocks(review, {}, {}, whole=True))
    assert "How it was taken: 2-D picture/1; marked by hand" in text


def test_what_was_kept_as_proposed_is_as_sure_as_the_proposal_and_says_so() -> None:
    """A spread of 3 px on both ends weighs three times a hand's pixel, and nothing where a hand is wider."""
    kept, wide = (replace(LINE, proposed_spread_px=spread) for spread in (0.5, 3.0))
    by_hand, narrow, found = (
        _named(_concluded(_reading(CHORDAE), mark), "lvidd", GIVEN_BY)[0] for mark in (LINE, kept, wide)
    )

    assert (by_hand.kept, narrow.kept, found.kept) == (Kept.NO, Kept.WHOLLY, Kept.WHOLLY)
    assert by_hand.uncertainty == narrow.uncertainty
    assert by_hand.uncertainty is not None
    assert found.uncertainty is not None
    # JCGM 100:2008, 5.1.2 equation 10: of two ends along the line u² = 2 (s² + 1/12); of 100 px and the beats' 1 %
    # besides, which both have, the scale's share is the same: the difference is 2 (3² - 1²) pixels.
    (length,) = (item for item in _concluded(_reading(CHORDAE), LINE).measurements if item.label == "LVIDd: length")
    assert length.value is not None
    mm_per_px = length.value / 100
    assert found.uncertainty**2 - by_hand.uncertainty**2 == pytest.approx(16 * mm_per_px**2, rel=1e-3)


def test_a_ratio_of_a_kept_and_a_moved_line_is_kept_in_part() -> None:
    other = replace(LINE, points=((200.0, 250.0), (200.0, 320.0)), label="LVIDs")
    review = _concluded(_reading(CHORDAE), replace(LINE, proposed_spread_px=2.0), other)

    told = {item.name: item.kept for item in review.measurements if item.given_by == GIVEN_BY and item.name}
    assert told == {"lvidd": Kept.WHOLLY, "lvids": Kept.NO, "fractional_shortening": Kept.IN_PART}
    sheet = repr(measurement_blocks(review, {}, {}, whole=True))
    assert "marked by hand, kept as proposed," in sheet
    assert "marked by hand, kept as proposed in part," in sheet
