"""A valve that nobody marked parts the colour box by the network's landmarks: doubtfully, and after any person."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.colour_split import KEY, UNMARKED
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.plane.kept import set_by_hand
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.review.box_split import BY_ENGINE, SURE, SplitRules, with_box_split
from fanlight.study import (
    ClipReading,
    DrawnMark,
    FileMarks,
    Finding,
    FoundLandmark,
    Landmark,
    PictureReading,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.critique.doppler.colour_clips import HOUSE, PICTURE, Drawn, clip, judge
from tests.critique.doppler.test_colour_split import at, on_box, reading

RULES = SplitRules.of(HOUSE, read_criteria(HOUSE)[KEY])
APICAL = ViewReading(view="left_apical_four_chamber", source=ViewSource.MENTOR, valve=Valve.MITRAL)
# The drawn box runs from 120 to 300 px of depth; its near corners lie at 120 · cos 22° = 111.3 px (geometry).
NEAR, FAR = 111.3, 300.0


@pytest.fixture(scope="module")
def unmarked() -> Finding:
    return judge(clip(Drawn(n_frames=8)))[KEY]


def hinges(frame: int, depth_px: float, probability: float = 0.9) -> tuple[FoundLandmark, ...]:
    row, col = at(depth_px)
    return tuple(
        FoundLandmark(landmark=name.name, frame=frame, point=(row, col + aside), spread_px=2.0, probability=probability)
        for name, aside in ((Landmark.MITRAL_SEPTAL_HINGE, -20.0), (Landmark.MITRAL_PARIETAL_HINGE, 20.0))
    )


def seen(finding: Finding, *landmarks: FoundLandmark, view: ViewReading = APICAL) -> ClipReading:
    return replace(reading((finding,)), view=view, picture=PictureReading(landmarks=landmarks, network="n"))


def told(item: ClipReading, drawn: tuple[DrawnMark, ...] = ()) -> Finding:
    (found,) = with_box_split(item, drawn, RULES).findings
    return found


@pytest.mark.parametrize(
    ("depth", "verdict"), [(180.0, Verdict.MET), (135.0, Verdict.BORDERLINE), (124.0, Verdict.MISSED)]
)
def test_the_network_parts_the_box_as_marks_in_its_place_do(unmarked: Finding, depth: float, verdict: Verdict) -> None:
    found = told(seen(unmarked, *hinges(0, depth)))
    assert found.value == pytest.approx((depth - NEAR) / (FAR - NEAR), abs=0.02)
    assert found.verdict is verdict
    assert found.value == told(reading((unmarked,)), on_box(depth)).value
    assert found.reason.startswith(BY_ENGINE)
    assert found.confidence == SURE


def test_it_is_less_sure_than_a_person_and_enters_no_letter() -> None:
    assert SURE < UNMEASURED < read_letter_limits(HOUSE).sure_from


def test_the_middle_of_the_valves_travel_counts(unmarked: Finding) -> None:
    found = told(seen(unmarked, *hinges(2, 130.0), *hinges(6, 190.0)))
    assert found.value == pytest.approx((160.0 - NEAR) / (FAR - NEAR), abs=0.02)
    assert found.frames == (2, 6)
    assert found.uncertainty == pytest.approx(30.0 / (FAR - NEAR), abs=0.01)
    assert [each.frame for each in found.evidence[1:]] == [2, 6]


@pytest.mark.parametrize("other", [180.0, 350.0])
def test_a_valve_that_leaves_the_box_is_outside_it(unmarked: Finding, other: float) -> None:
    found = told(seen(unmarked, *hinges(2, 340.0), *hinges(6, other)))
    assert (found.verdict, found.value) == (Verdict.MISSED, 0.0)
    assert ("leaves the box" if other < FAR else "lies outside the box") in found.reason


def test_sides_are_those_of_one_way_at_both_ends(unmarked: Finding) -> None:
    """The ventricle is seen at one end only: at the other the same side lies before the valve."""
    row, col = at(320.0)
    apex = FoundLandmark(landmark="LV_APEX", frame=6, point=(row, col), spread_px=2.0, probability=0.9)
    found = told(seen(unmarked, *hinges(2, 150.0), *hinges(6, 150.0), apex))
    assert found.value == pytest.approx((150.0 - NEAR) / (FAR - NEAR), abs=0.02)


def test_a_persons_marks_go_first(unmarked: Finding) -> None:
    item = seen(unmarked, *hinges(0, 124.0))
    by_engine, by_person = told(item), told(item, on_box(180.0))
    assert by_engine.verdict is Verdict.MISSED
    assert by_person == told(reading((unmarked,)), on_box(180.0))
    # what the network told is told anew once a person marks the valve, and again when the marks are gone
    anew = replace(item, findings=(by_engine,))
    assert told(anew, on_box(180.0)) == by_person
    assert told(anew) == by_engine
    # what marks told that came with the study stays, and moves with marks set since
    sent = replace(item, findings=(by_person,))
    assert told(sent) == by_person
    assert told(sent, on_box(135.0)).verdict is Verdict.BORDERLINE


def test_kept_proposals_count_as_the_networks(unmarked: Finding) -> None:
    kept = tuple(replace(mark, proposed_spread_px=2.0) for mark in on_box(180.0))
    by_hand = set_by_hand({"k": FileMarks(name="k.dcm", drawn=kept)})["k"].drawn
    found = told(seen(unmarked, *hinges(0, 180.0)), by_hand)
    assert found.reason.startswith(BY_ENGINE)
    assert found.confidence == SURE


def test_what_somebody_decided_stays(unmarked: Finding) -> None:
    decided = replace(unmarked, confidence=1.0, reason="I see it at the rim")
    item = seen(decided, *hinges(0, 180.0))
    assert with_box_split(item, on_box(180.0), RULES) is item


@pytest.mark.parametrize(
    ("view", "probability", "words"),
    [
        (APICAL, 0.5, "at neither end of the beat is the mitral valve placed with 0.6 or more"),
        (replace(APICAL, valve=None), 0.9, "name the valve that the box was laid for"),
        (replace(APICAL, valve=Valve.AORTIC), 0.9, "at neither end of the beat is the aortic valve placed"),
        (replace(APICAL, view=""), 0.9, "no view of this clip is named or proposed"),
    ],
)
def test_what_is_too_unsure_is_not_judged(unmarked: Finding, view: ViewReading, probability: float, words: str) -> None:
    found = told(seen(unmarked, *hinges(0, 180.0, probability), view=view))
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert found.reason.startswith(UNMARKED)
    assert words in found.reason


def test_the_only_valve_whose_colour_a_view_carries_needs_no_name(unmarked: Finding) -> None:
    two = ViewReading(view="left_apical_two_chamber", source=ViewSource.RECOGNISED, probability=0.9)
    assert told(seen(unmarked, *hinges(0, 180.0), view=two)).verdict is Verdict.MET


def test_without_a_network_the_clip_says_why(unmarked: Finding) -> None:
    silent = replace(seen(unmarked), picture=PictureReading(reason="no network here"))
    assert told(silent).reason.endswith("do not tell it: no network here")
    unheard = replace(seen(unmarked, *hinges(0, 180.0)), picture=None)
    assert with_box_split(unheard, (), RULES) is unheard


def test_a_box_without_outline_is_not_parted(unmarked: Finding) -> None:
    bare = replace(unmarked, evidence=(), reason="no drawn outline of the box was found")
    item = seen(bare, *hinges(0, 180.0))
    assert with_box_split(item, (), RULES) is item


def test_the_line_lies_across_the_valve(unmarked: Finding) -> None:
    (_, line) = told(seen(unmarked, *hinges(0, 180.0))).evidence
    (row0, col0), (row1, col1) = line.shape.points
    assert row0 == pytest.approx(row1)
    assert (col0 + col1) / 2 == pytest.approx(PICTURE.apex_col_px)
