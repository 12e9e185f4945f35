"""Landmarks of simulated hearts, marked as a mentor marks them, lead to the movement that was made, or to silence."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fanlight.heart.movements import Movement
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.report.causes import correction_words
from fanlight.report.document import Grid
from fanlight.report.json_file import review_as_plain
from fanlight.report.stands import stand_blocks, stand_lines
from fanlight.review.conclude import conclude
from fanlight.study import (
    CauseLevel,
    ClipReading,
    ClipVerdict,
    FileMarks,
    Purpose,
    StudyReview,
    Verdict,
    ViewSource,
)
from tests.heart.fit.cases import APICAL, BASE, FOUR_CHAMBER, MITRAL, clip_of
from tests.plane.clips import HOUSE, clip
from tests.plane.pose_marks import as_network, pose_marks
from tests.report.sample import finding, sample_review

PRECISE = 0.01  # of the depth: a hand that points well
Case = tuple[str, dict[Movement, float]]


def _review(*cases: Case, seed: int = 302, most: int = 40, **changed: object) -> StudyReview:
    """Return the draft of a study of clips whose probe was moved so, all marked by hand."""
    readings, marks = [], {}
    for number, (view, amounts) in enumerate(cases, start=1):
        reading = replace(clip(view, number=number), **changed)  # type: ignore[arg-type]
        readings.append(reading)
        marks[reading.clip.key] = pose_marks(clip_of(seed, view, amounts, noise_fraction=PRECISE), most)
    return _concluded(tuple(readings), marks)


def _concluded(readings: tuple[ClipReading, ...], marks: dict[str, FileMarks]) -> StudyReview:
    return conclude(sample_review().study, readings, (), HOUSE, marks=marks)


@pytest.mark.parametrize(
    ("view", "movement", "amount", "key"),
    [
        pytest.param(FOUR_CHAMBER, Movement.TILT, 12.0, "tilt_plus", id="tilt towards the viewer's side"),
        pytest.param(MITRAL, Movement.TILT, -14.0, "tilt_minus", id="tilt away, in a short axis"),
        pytest.param(BASE, Movement.ROTATE, 25.0, "rotate_plus", id="rotation"),
        pytest.param(FOUR_CHAMBER, Movement.ROCK, -16.0, "rock_minus", id="rock"),
    ],
)
def test_a_clear_movement_is_named_with_its_sense_and_the_way_back(
    view: str, movement: Movement, amount: float, key: str
) -> None:
    """The movement that was made on the animal is the one that is to be undone; its size lies in the range told."""
    review = _review((view, {movement: amount}))

    (found,) = review.corrections
    assert (found.cause, found.level, found.clips) == (key, CauseLevel.HAND, ("k1",))
    ((_, said),) = stand_lines(review, read_movements(load_house()))
    assert said.startswith("very likely")
    (stand,) = review.stands
    one = next(each for each in stand.clips[0].offsets if each.movement == movement.value)
    assert one.low <= amount <= one.high


@pytest.mark.parametrize("seed", [301, 302, 303, 304])
def test_of_a_correct_window_nothing_is_advised(seed: int) -> None:
    """Three right planes of one animal: normal, large atrium, mitral disease and dilated ventricle in turn."""
    review = _review((FOUR_CHAMBER, {}), (MITRAL, {}), (BASE, {}), seed=seed)

    assert review.corrections == ()
    assert all(said.startswith("no movement") for _, said in stand_lines(review, read_movements(load_house())))


def test_a_habit_of_the_hand_is_one_correction_that_says_where_it_shows() -> None:
    rocked = {Movement.ROCK: -16.0}
    review = _review((FOUR_CHAMBER, rocked), (MITRAL, rocked), (BASE, rocked))

    (found,) = review.corrections
    assert (found.cause, found.is_habit, found.clips) == ("rock_minus", True, ("k1", "k2", "k3"))
    words = correction_words(found, review)
    assert "It runs through the study." in words
    assert "When in “Right parasternal long axis, four-chamber” the heart lies to screen right" in words
    assert "aorta and left atrium” what the view is about lies to the marker's side: rock the beam towards" in words
    assert "in steps of 10° at most" in words


def test_a_clip_off_its_plane_is_limited_to_measure_and_one_on_it_is_not() -> None:
    """A tilted long axis shows a shorter, narrower ventricle: its diameters are not those of the view."""
    met = replace(finding("depth_use", 1, Verdict.MET, 0.8), clip="k1")
    off, on = (_review((FOUR_CHAMBER, amounts), findings=(met,)).readings[0] for amounts in ({Movement.TILT: 14.0}, {}))

    assert (off.verdict(Purpose.LOOK), off.verdict(Purpose.MEASURE)) == (ClipVerdict.DIAGNOSTIC, ClipVerdict.LIMITED)
    assert on.verdict(Purpose.MEASURE) is ClipVerdict.DIAGNOSTIC


def test_marks_of_another_window_advise_nothing_and_say_why() -> None:
    """An apical picture that is named a right long axis: no heart looks so."""
    reading = clip(FOUR_CHAMBER)
    review = _concluded((reading,), {"k1": pose_marks(clip_of(303, APICAL, noise_fraction=PRECISE), 8)})

    assert review.corrections == ()
    ((_, said),) = stand_lines(review, read_movements(load_house()))
    assert "nothing is advised" in said
    assert "another view or window" in said
    assert "may be the animal and not the hand" in said


def test_a_mirrored_picture_advises_no_movement() -> None:
    reading = clip(FOUR_CHAMBER)
    seen = clip_of(302, FOUR_CHAMBER, noise_fraction=PRECISE)
    review = _concluded((reading,), {"k1": pose_marks(seen, is_mirrored=True)})

    assert [item for item in review.corrections if item.level is CauseLevel.HAND] == []
    assert "the wrong way round: put that right first" in stand_lines(review, read_movements(load_house()))[0][1]


def test_a_finding_is_counted_to_the_movement_that_explains_it() -> None:
    """A long axis that is rocked lies off the middle: one change, and the finding is counted to it."""
    review = _review((FOUR_CHAMBER, {Movement.ROCK: 16.0}))

    raised = {
        item.criterion for item in review.readings[0].findings if item.verdict in (Verdict.MISSED, Verdict.BORDERLINE)
    }
    (found,) = review.corrections
    assert "target_centred" in raised
    assert found.resolves == len(raised & {"septum_slope", "target_centred"})


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        pytest.param({"n": 4}, "4 different landmarks at the ends of the beat, at least 5 are needed", id="few marks"),
        pytest.param({"source": ViewSource.RECOGNISED}, "only recognised from the picture: name it", id="view"),
        pytest.param({"has_scale": False}, "it has no scale", id="no scale"),
    ],
)
def test_what_cannot_be_fitted_says_why(changed: dict[str, object], why: str) -> None:
    n = changed.pop("n", 8)
    reading = clip(FOUR_CHAMBER, **changed)  # type: ignore[arg-type]
    review = _concluded((reading,), {"k1": pose_marks(clip_of(302, FOUR_CHAMBER, noise_fraction=PRECISE), n)})  # type: ignore[arg-type]

    assert why in stand_lines(review, read_movements(load_house()))[0][1]
    assert review.corrections == ()


def test_marks_between_the_ends_of_the_beat_are_not_taken_for_an_end() -> None:
    reading = clip(FOUR_CHAMBER)
    marks = pose_marks(clip_of(302, FOUR_CHAMBER, noise_fraction=PRECISE))
    between = replace(marks, drawn=tuple(replace(item, frame=3) for item in marks.drawn))
    review = _concluded((reading,), {"k1": between})

    assert "lie on frames that are no end of a beat" in stand_lines(review, read_movements(load_house()))[0][1]


@pytest.mark.parametrize("advises", [True, False])
def test_the_networks_landmarks_tell_a_pose_and_advise_where_the_house_lets_them(tmp_path: Path, advises: bool) -> None:
    """What it does not name counts as looked for in vain, so that a tilt is told that few marks would not tell."""
    own = tmp_path / "house.toml"
    own.write_text(f"[movements.limits]\nnetwork_advises = {str(advises).lower()}\n", encoding="utf-8")
    seen = clip_of(301, FOUR_CHAMBER, {Movement.TILT: 12.0}, noise_fraction=PRECISE)
    review = conclude(sample_review().study, (clip(FOUR_CHAMBER, as_network(seen)),), (), load_house(own))

    assert [item.cause for item in review.corrections] == (["tilt_plus"] if advises else [])
    ((_, said),) = stand_lines(review, read_movements(load_house()))
    assert said.startswith("very likely tilted")
    assert said.endswith("as the network saw it)")


def test_few_marks_of_a_person_stand_before_the_networks_and_silence_nothing() -> None:
    seen = clip_of(302, FOUR_CHAMBER, {Movement.TILT: 12.0}, noise_fraction=PRECISE)
    review = _concluded((clip(FOUR_CHAMBER, as_network(seen)),), {"k1": pose_marks(seen, 2)})

    assert stand_lines(review, read_movements(load_house()))[0][1].startswith("very likely tilted")


def test_what_rests_on_the_same_landmarks_is_not_fitted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The desk concludes after each act of the mentor: a fit takes a tenth of a second."""
    reading = clip(FOUR_CHAMBER)
    marks = {"k1": pose_marks(clip_of(302, FOUR_CHAMBER, noise_fraction=PRECISE))}
    first = _concluded((reading,), marks)
    monkeypatch.setattr("fanlight.plane.pose.stands.fit_pose", None)

    again = conclude(sample_review().study, (reading,), (), HOUSE, marks=marks, stood=first.stands)
    assert again.stands == first.stands


def test_a_clip_that_is_judged_first_is_told_of_by_no_movement() -> None:
    reading = clip(FOUR_CHAMBER)
    marks = {"k1": pose_marks(clip_of(302, FOUR_CHAMBER, {Movement.TILT: 12.0}, noise_fraction=PRECISE))}
    review = conclude(sample_review().study, (reading,), (), HOUSE, marks=marks, unjudged=frozenset({"k1"}))

    assert (review.stands, review.corrections) == ((), ())


def test_sheet_and_file_hold_where_the_probe_stood() -> None:
    review = _review((FOUR_CHAMBER, {Movement.TILT: 12.0}))

    grid = next(block for block in stand_blocks(review, read_movements(load_house())) if isinstance(block, Grid))
    assert grid.rows[0][0] == "clip 1"
    plain = review_as_plain(review)["stands"][0]
    assert (plain["window"], plain["method"]) == ("right_parasternal", "pose_fit/1")
