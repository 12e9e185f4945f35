"""Landmarks that were kept where the engine proposed them: they tell what the network tells, and no letter a movement.

That a movement is advised from a hand's marks alone is the project's own safety rule: docs/pose-fit.md gives what each
was measured to be right.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from fanlight.coach.retake_movements import with_retakes_of_movements
from fanlight.coach.retakes import list_retakes
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.movements import Movement
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.stands import stand_lines
from fanlight.review.conclude import conclude
from fanlight.review.opening import OpenStudy, ReviewOptions, open_study
from fanlight.review.worker import Worker
from fanlight.study import (
    Breathing,
    ClipReading,
    FileMarks,
    Landmark,
    LandmarksBy,
    Mode,
    StudyReview,
    Verdict,
)
from tests.heart.fit.cases import FOUR_CHAMBER, clip_of
from tests.intake.dicom_files import native, speckle
from tests.plane.clips import FOUR, HOUSE, STANDARD_DEG, clip, marked, picture, point, sloped
from tests.plane.pose_marks import as_network, pose_marks
from tests.report.sample import InventedFrames, sample_review

TILTED = {Movement.TILT: 12.0}
TILT_BACK = "tilt_plus"
AT = datetime(2026, 11, 27)


def tilted() -> ClipSeen:
    return clip_of(302, FOUR_CHAMBER, TILTED, noise_fraction=0.01)


def unmoved(marks: FileMarks, n: int | None = None) -> FileMarks:
    """Return marks of which the landmarks, the first `n` of them, lie where they were proposed."""
    names = list(dict.fromkeys(mark.landmark for mark in marks.drawn))[:n]
    drawn = (replace(mark, proposed_spread_px=6.0) if mark.landmark in names else mark for mark in marks.drawn)
    return replace(marks, drawn=tuple(drawn))


def concluded(reading: ClipReading, marks: FileMarks | None) -> StudyReview:
    study = sample_review().study
    study = replace(study, request=replace(study.request, breathing=Breathing.NORMAL))
    return conclude(study, (reading,), (), HOUSE, marks={} if marks is None else {"k1": marks})


def moves(review: StudyReview) -> list[str]:
    return [item.cause for item in review.corrections]


def letter(review: StudyReview) -> str:
    return render_html(build_letter(review, InventedFrames(), AT))


def retaken(review: StudyReview) -> list[str]:
    """Return the movements that `fanlight check` asks for."""
    limits, tables = read_letter_limits(HOUSE), read_movements(HOUSE)
    found = list_retakes(review, read_criteria(HOUSE), limits.retakes_max, limits.sure_from)
    found = with_retakes_of_movements(found, review, tables, limits.retakes_max)
    return [item.change.cause for item in found.retakes if item.change is not None]


def lines(review: StudyReview) -> str:
    return " ".join(said for _, said in stand_lines(review, read_movements(load_house())))


def test_marks_of_a_hand_name_the_movement_in_letter_and_check() -> None:
    """What the other tests hold the kept ones against."""
    review = concluded(clip(FOUR_CHAMBER), pose_marks(tilted()))

    assert moves(review) == [TILT_BACK]
    assert retaken(review) == [TILT_BACK]
    assert "tilt the cable end" in letter(review)


def test_landmarks_kept_unmoved_name_no_movement_in_letter_or_check() -> None:
    """As many, at the same places, with the network's own beside them: a pose on the study sheet, and no advice."""
    reading = clip(FOUR_CHAMBER, as_network(tilted()))
    review, networks = concluded(reading, unmoved(pose_marks(tilted()))), concluded(reading, None)

    assert moves(review) == []
    assert retaken(review) == []
    assert "tilt the cable end" not in letter(review)
    assert [stand.clips[0].given_by for stand in review.stands] == [LandmarksBy.NETWORK]
    assert review.stands == networks.stands
    assert review.readings == networks.readings


def test_moved_ones_beside_kept_ones_count_by_themselves() -> None:
    """Four that a hand set are too few, however many were kept; five are enough."""
    reading, marks = clip(FOUR_CHAMBER, as_network(tilted())), pose_marks(tilted())
    n = len({mark.landmark for mark in marks.drawn})
    four, five = concluded(reading, unmoved(marks, n - 4)), concluded(reading, unmoved(marks, n - 5))

    assert moves(four) == []
    assert four.stands[0].clips[0].given_by is LandmarksBy.NETWORK
    (stand,) = five.stands[0].clips
    assert (stand.given_by, stand.n_landmarks) == (LandmarksBy.PERSON, 5)


def test_where_the_network_tells_nothing_the_kept_ones_say_why_they_do_not_either() -> None:
    marks = pose_marks(tilted(), 8)

    alone, mixed = (concluded(clip(FOUR_CHAMBER), unmoved(marks, n)) for n in (8, 5))
    assert "8 of its landmarks lie where the engine proposed them" in lines(alone)
    assert "set at least 5 by hand" in lines(alone)
    assert "3 different landmarks at the ends of the beat, at least 5 are needed: mark more; 5 more lie where" in lines(
        mixed
    )
    assert (moves(alone), moves(mixed)) == ([], [])
    strip = concluded(clip(FOUR_CHAMBER, mode=Mode.PULSED_WAVE), unmoved(marks))
    assert strip.stands == (), "nobody asks for the pose of a strip"


@pytest.mark.parametrize(
    ("spread", "verdict"),
    [pytest.param(None, Verdict.MET, id="set by hand"), pytest.param(6.0, Verdict.MISSED, id="kept unmoved")],
)
def test_of_a_plane_a_kept_landmark_counts_as_the_networks(spread: float | None, verdict: Verdict) -> None:
    """A hand sets apex and annulus as in the standard plane over a network that saw them askew."""
    reading = clip(FOUR, picture(*sloped(STANDARD_DEG + 35)))
    at = {each.landmark: each.point for each in sloped(STANDARD_DEG)}
    marks = marked(*(replace(point(Landmark[name], place), proposed_spread_px=spread) for name, place in at.items()))

    (slope,) = (item for item in concluded(reading, marks).readings[0].findings if item.criterion == "septum_slope")
    assert slope.verdict is verdict


SHEET = """
[[mark]]
file = "a.dcm"
kind = "point"
points = [{row = 20, col = 30}]
landmark = "LV_APEX"

[[mark]]
file = "a.dcm"
kind = "point"
points = [{row = 40, col = 50}]
landmark = "MITRAL_CENTRE"

[[kept]]
file = "a.dcm"
points = [{row = 20, col = 30}]
spread_px = 2.5
"""


def test_a_studys_own_marks_file_says_what_was_kept(tmp_path: Path) -> None:
    """As with --marks; no note says that the table is not known."""
    native(tmp_path / "a.dcm", speckle(np.random.default_rng(4), 3, 90, 120), FrameTime="40")
    (tmp_path / "marks.toml").write_text(SHEET, encoding="utf-8")

    with OpenStudy() as opened, Worker() as worker:
        *_, last = open_study(tmp_path, opened, ReviewOptions(), worker)
        ((_, marks),) = opened.marks.items()

    assert [mark.proposed_spread_px for mark in marks.drawn] == [2.5, None]
    assert not any("kept" in note for note in last.study.notes)
    assert last.study.refused == ()


def test_a_kept_row_of_a_study_that_fits_no_mark_is_refused_alone(tmp_path: Path) -> None:
    native(tmp_path / "a.dcm", speckle(np.random.default_rng(4), 3, 90, 120), FrameTime="40")
    (tmp_path / "marks.toml").write_text(SHEET.replace("row = 20, col = 30}]\nspread", "row = 21, col = 30}]\nspread"))

    with OpenStudy() as opened, Worker() as worker:
        *_, last = open_study(tmp_path, opened, ReviewOptions(), worker)
        ((_, marks),) = opened.marks.items()

    assert [mark.proposed_spread_px for mark in marks.drawn] == [None, None]
    assert [(item.name, item.place) for item in last.study.refused] == [("marks.toml", "kept 1")]
