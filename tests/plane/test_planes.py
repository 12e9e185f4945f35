"""Every criterion of the plane raised and quiet, and what must not raise it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fanlight.coach.priorities import find_priorities
from fanlight.plane.planes import ASKED, MIRRORED, is_of_plane, with_planes
from fanlight.plane.told import settled
from fanlight.reference.criteria import read_criteria
from fanlight.study import Band, Border, Breathing, Cut, Landmark, Layout, Mode, Side, Verdict, ViewSource
from tests.plane.clips import (
    APICAL,
    BASE,
    CHORDAE,
    FAN,
    FOUR,
    HOUSE,
    MUSCLES,
    OUTFLOW,
    RULES,
    STANDARD_DEG,
    clip,
    found,
    marked,
    must,
    oval,
    picture,
    point,
    seen,
    sloped,
    told,
    views_said,
)

L = Landmark
CRITERIA = read_criteria(HOUSE)
VENTRICLE = {"LV_CAVITY": seen(0.2), "SEPTUM": seen(0.08), "LV_FREE_WALL": seen(0.1), "RV_CAVITY": seen(0.08)}


def level(view: str, **areas: float) -> Any:
    """Return the level that a short axis of these structures is told to have."""
    held = VENTRICLE | {name: seen(share) for name, share in areas.items()}
    return must(told(clip(view, picture(areas=held)), "short_axis_level"))


def cut(name: str, share: float) -> Any:
    """Return a picture of a ventricle with this much of a structure, as a share of both together."""
    return picture(areas=VENTRICLE | {name: seen(0.2 * share / (1 - share))})


@pytest.mark.parametrize(("off_deg", "verdict", "side"), [
    (0, Verdict.MET, Side.INSIDE), (14, Verdict.MET, Side.INSIDE), (20, Verdict.BORDERLINE, Side.HIGH),
    (35, Verdict.MISSED, Side.HIGH), (-35, Verdict.MISSED, Side.LOW),
])  # fmt: skip
def test_the_septum_slopes_against_the_standard_plane_and_not_against_level(
    off_deg: float, verdict: Verdict, side: Side
) -> None:
    """High: the base lies deeper. "Horizontal" is what the trade asks for (common practice, no source)."""
    item = must(told(clip(FOUR, picture(*sloped(STANDARD_DEG + off_deg))), "septum_slope"))

    assert item.value == pytest.approx(off_deg, abs=0.1)
    assert (item.verdict, item.side) == (verdict, side)
    assert item.evidence[0].shape.points == tuple(each.point for each in sloped(STANDARD_DEG + off_deg))
    assert (item.uncertainty or 0.0) > RULES.tables.lines[FOUR, "any", "lv_apex mitral_centre"].spread


@pytest.mark.parametrize(("right_px", "verdict", "side"), [
    (0, Verdict.MET, Side.INSIDE), (150, Verdict.MISSED, Side.HIGH), (-150, Verdict.MISSED, Side.LOW),
])  # fmt: skip
def test_the_apical_heart_stands_upright(right_px: float, verdict: Verdict, side: Side) -> None:
    """A heart that leans lies across the flow's beam (common practice, no source)."""
    marks = found(L.LV_APEX, (100, 400)), found(L.MITRAL_CENTRE, (400, 430 + right_px))
    item = must(told(clip(APICAL, picture(*marks)), "apical_axis_tilt"))

    assert (item.verdict, item.side) == (verdict, side)
    assert told(clip(APICAL, picture(*marks)), "septum_slope") is None


@pytest.mark.parametrize(("col", "verdict", "side"), [
    (400, Verdict.MET, Side.INSIDE), (640, Verdict.MISSED, Side.HIGH), (160, Verdict.MISSED, Side.LOW),
])  # fmt: skip
def test_the_target_lies_in_the_middle(col: float, verdict: Verdict, side: Side) -> None:
    item = must(told(clip(BASE, picture(found(L.AORTIC_CENTRE, (400, col)))), "target_centred"))

    assert (item.verdict, item.side) == (verdict, side)


def test_a_plane_without_the_apex_is_missed_and_one_with_it_is_not() -> None:
    there, gone = sloped(STANDARD_DEG), sloped(STANDARD_DEG)[1:]

    assert must(told(clip(FOUR, picture(*there)), "apex_shown")).verdict is Verdict.MET
    assert must(told(clip(FOUR, picture(*gone)), "apex_shown")).verdict is Verdict.MISSED
    assert told(clip(OUTFLOW, picture(*gone)), "apex_shown") is None, "the outflow view gives the apex up"


def test_an_apex_beside_the_picture_is_no_plane_beside_the_apex() -> None:
    side = Cut(border=Border.LEFT, share=0.1, frame=0, from_depth=0.3, to_depth=0.5, from_beam=0.0, to_beam=0.0)
    areas = VENTRICLE | {"LV_CAVITY": seen(0.2, cuts=(side,))}
    item = must(told(clip(FOUR, picture(*sloped(STANDARD_DEG)[1:], areas=areas)), "apex_shown"))

    assert item.verdict is Verdict.NOT_ASSESSABLE
    assert "left" in item.reason


@pytest.mark.parametrize(("share", "verdict"), [(0.0, Verdict.MET), (0.03, Verdict.MET), (0.2, Verdict.MISSED)])
def test_a_papillary_muscle_in_the_long_axis(share: float, verdict: Verdict) -> None:
    assert must(told(clip(FOUR, cut("PAPILLARY", share)), "papillary_in_long_axis")).verdict is verdict
    assert told(clip(MUSCLES, cut("PAPILLARY", share)), "papillary_in_long_axis") is None


@pytest.mark.parametrize(("share", "verdict"), [(0.25, Verdict.MET), (0.0, Verdict.MISSED)])
def test_the_aorta_in_the_outflow_view(share: float, verdict: Verdict) -> None:
    assert must(told(clip(OUTFLOW, cut("AORTA", share)), "aorta_shown")).verdict is verdict


@pytest.mark.parametrize(("share", "verdict"), [(0.0, Verdict.MET), (0.25, Verdict.MISSED)])
def test_no_aorta_in_the_four_chamber_views(share: float, verdict: Verdict) -> None:
    for view in (FOUR, APICAL):
        assert must(told(clip(view, cut("AORTA", share)), "aorta_unwanted")).verdict is verdict


@pytest.mark.parametrize(("aside", "verdict"), [(0, Verdict.MET), (85, Verdict.MISSED)])
def test_the_cusps_are_alike(aside: float, verdict: Verdict) -> None:
    """Three cusps of a normal valve are about equal (common practice, no source)."""
    corners = ((460, 400), (220, 400 + 138.6), (220, 400 - 138.6))
    names = (L.COMMISSURE_RIGHT_NONCORONARY, L.COMMISSURE_LEFT_NONCORONARY, L.COMMISSURE_RIGHT_LEFT)
    marks = [point(name, at) for name, at in zip(names, corners, strict=True)]
    item = must(told(clip(BASE), "cusps_even", marks=marked(*marks, point(L.AORTIC_SINUS_CENTRE, (300 - aside, 400)))))

    assert item.verdict is verdict


@pytest.mark.parametrize(("smaller_px", "verdict"), [(28, Verdict.MET), (15, Verdict.MISSED)])
def test_the_papillary_muscles_are_alike(smaller_px: float, verdict: Verdict) -> None:
    marks = oval("papillary muscle", 30.0, 30.0), oval("Cranial papillary muscle", smaller_px, float(smaller_px))
    item = must(told(clip(MUSCLES), "papillary_even", marks=marked(*marks)))

    assert item.verdict is verdict
    assert item.value == pytest.approx((smaller_px / 30) ** 2, abs=1e-3)
    assert "trace both" in must(told(clip(MUSCLES), "papillary_even", marks=marked(marks[0]))).reason


def test_each_level_knows_its_own_structures_from_its_neighbours() -> None:
    """The sweep from the apex: muscles, chordae, valve, base (views of THOMAS1993)."""
    assert level(MUSCLES, PAPILLARY=0.03).verdict is Verdict.MET
    assert (level(MUSCLES, PAPILLARY=0.03, MITRAL_LEAFLET=0.02).side) is Side.HIGH
    assert level(CHORDAE).verdict is Verdict.MET
    assert (level(CHORDAE, PAPILLARY=0.06).verdict, level(CHORDAE, PAPILLARY=0.06).side) == (Verdict.MISSED, Side.LOW)
    base = {"AORTA": seen(0.05), "LEFT_ATRIUM": seen(0.3), "RIGHT_ATRIUM": seen(0.2), "PULMONARY_ARTERY": seen(0.02)}
    assert must(told(clip(BASE, picture(areas=base)), "short_axis_level")).verdict is Verdict.MET
    high = base | {"PULMONARY_ARTERY": seen(0.25)}
    assert must(told(clip(BASE, picture(areas=high)), "short_axis_level")).side is Side.HIGH
    low = must(told(clip(BASE, picture(areas=VENTRICLE)), "short_axis_level"))
    assert (low.verdict, low.side) == (Verdict.MISSED, Side.LOW)


def test_a_level_that_shows_nothing_of_its_own_goes_by_landmarks() -> None:
    bare = VENTRICLE
    near_valve = must(told(clip(MUSCLES, picture(found(L.MITRAL_TIPS, (300, 400)), areas=bare)), "short_axis_level"))
    near_apex = must(told(clip(MUSCLES, picture(found(L.LV_APEX, (300, 400)), areas=bare)), "short_axis_level"))
    neither = must(told(clip(MUSCLES, picture(areas=bare)), "short_axis_level"))

    assert (near_valve.side, near_apex.side) == (Side.HIGH, Side.LOW)
    assert neither.verdict is Verdict.NOT_ASSESSABLE


def test_two_levels_in_one_picture() -> None:
    areas = VENTRICLE | {"PAPILLARY": seen(0.05), "MITRAL_LEAFLET": seen(0.02)}
    pair = marked(point(L.PAPILLARY_CRANIAL_TIP, (200, 400)), point(L.MITRAL_TIPS, (400, 400)))

    assert must(told(clip(MUSCLES, picture(areas=areas)), "level_mixed")).verdict is Verdict.MISSED
    assert (
        must(told(clip(MUSCLES, picture(areas=VENTRICLE | {"PAPILLARY": seen(0.05)})), "level_mixed")).verdict
        is Verdict.MET
    )
    assert must(told(clip(CHORDAE), "level_mixed", marks=pair)).verdict is Verdict.MISSED


def mirror_image(*marks: Any) -> tuple[Any, ...]:
    """Return the same marks with left and right of the screen exchanged."""
    return tuple(replace(each, point=(each.point[0], 2 * FAN.apex_col_px - each.point[1])) for each in marks)


def test_the_base_at_screen_left_is_a_mirrored_picture_and_its_slope_is_told_the_right_way_round() -> None:
    """From the right the base lies at screen right; from the apex the left heart does (THOMAS1993)."""
    marks = sloped(STANDARD_DEG + 35)
    right, wrong = clip(FOUR, picture(*marks)), clip(FOUR, picture(*mirror_image(*marks)))
    apical = found(L.TRICUSPID_CENTRE, (400, 520)), found(L.MITRAL_CENTRE, (400, 380))

    assert must(told(right, MIRRORED)).verdict is Verdict.MET
    assert (must(told(wrong, MIRRORED)).verdict, must(told(wrong, MIRRORED)).value) == (Verdict.MISSED, 0.0)
    assert must(told(wrong, "septum_slope")).value == pytest.approx(must(told(right, "septum_slope")).value)
    assert must(told(clip(APICAL, picture(*apical)), MIRRORED)).verdict is Verdict.MISSED
    assert must(told(clip(APICAL, picture(*mirror_image(*apical))), MIRRORED)).verdict is Verdict.MET


def test_two_places_that_may_be_one_lie_in_no_order() -> None:
    near = found(L.TRICUSPID_CENTRE, (400, 405), spread=10), found(L.MITRAL_CENTRE, (400, 400), spread=10)
    item = must(told(clip(APICAL, picture(*near, views=views_said((APICAL, 0.9)), mirrored=0.02)), MIRRORED))

    assert item.verdict is Verdict.MET
    assert item.value == pytest.approx(0.98)


@pytest.mark.parametrize(("shares", "verdict"), [
    (((FOUR, 0.96),), Verdict.MET),
    (((APICAL, 0.97), (FOUR, 0.02)), Verdict.MISSED),
    (((APICAL, 0.8), (FOUR, 0.1)), Verdict.NOT_ASSESSABLE),
    ((("", 0.9), ("left_apical_two_chamber", 0.05)), Verdict.NOT_ASSESSABLE),
])  # fmt: skip
def test_a_name_from_another_window_is_doubted_only_where_the_network_is_sure(shares: Any, verdict: Verdict) -> None:
    said = picture(views=views_said(*shares))

    assert must(told(clip(FOUR, said), "window_of_label")).verdict is verdict
    assert told(clip(FOUR, said, source=ViewSource.MENTOR), "window_of_label") is None, "a person looked"
    assert told(clip(FOUR, said, source=ViewSource.RECOGNISED), "window_of_label") is None


def test_a_wrong_landmark_does_not_raise() -> None:
    """One that is unlikely is not used, one that is unsure decides nothing, and a person's counts before it."""
    wrong = sloped(STANDARD_DEG + 60)
    unlikely = picture(*(replace(each, probability=0.4) for each in wrong))
    unsure = picture(*(replace(each, spread_px=60.0) for each in wrong))
    right = marked(*(point(getattr(L, each.landmark), each.point) for each in sloped(STANDARD_DEG)))

    assert must(told(clip(FOUR, unlikely), "septum_slope")).verdict is Verdict.NOT_ASSESSABLE
    assert must(told(clip(FOUR, unsure), "septum_slope")).verdict in (Verdict.NOT_ASSESSABLE, Verdict.BORDERLINE)
    by_hand = must(told(clip(FOUR, picture(*wrong)), "septum_slope", marks=right))
    assert by_hand.verdict is Verdict.MET
    assert "marked by a person" in by_hand.reason


@pytest.mark.parametrize(("spread", "verdict"), [(1.0, Verdict.MISSED), (9.0, Verdict.BORDERLINE)])
def test_a_miss_needs_room_for_its_error(spread: float, verdict: Verdict) -> None:
    """One-sided 95 % of a normal distribution is 1.645 standard deviations (convention)."""
    assert settled(Band(met_high=15.0, border_high=25.0), 28.0, spread, 1.645) == (verdict, Side.HIGH)


def test_what_is_missing_is_named() -> None:
    nothing = with_planes((clip(FOUR),), RULES)[0].findings
    words = {item.criterion: item.reason for item in nothing}

    assert {item.verdict for item in nothing} == {Verdict.NOT_ASSESSABLE}
    assert "left ventricular apex" in words["septum_slope"]
    assert "mark one" in words["target_centred"]
    assert "trace it" in must(told(clip(CHORDAE), "ventricle_round")).reason
    no_scale = clip(APICAL, picture(*sloped(90.0, middle=(280, 400))), has_scale=False)
    assert "no scale" in must(told(no_scale, "ventricle_length")).reason


def test_without_view_or_picture_one_finding_says_so_and_other_modes_are_not_asked() -> None:
    (unknown,) = with_planes((clip(""),), RULES)[0].findings
    no_fan = Layout(
        rows=1, cols=1, picture=None, picture_confidence=0.0, picture_reason="all is black", scale=None, scale_reason=""
    )
    (unseen,) = with_planes((clip(FOUR, layout=no_fan),), RULES)[0].findings

    assert "view is not known" in unknown.reason
    assert "all is black" in unseen.reason
    assert with_planes((clip(FOUR, mode=Mode.PULSED_WAVE),), RULES)[0].findings == ()


def test_asking_again_replaces_what_was_told() -> None:
    once = with_planes((clip(FOUR, picture(*sloped(40))),), RULES)

    assert with_planes(once, RULES) == once
    assert all(is_of_plane(item) for item in once[0].findings)


@pytest.mark.parametrize(("view", "item", "is_shown", "criterion"), [
    (FOUR, "aortic root or cusps", True, "aorta_unwanted"),
    (OUTFLOW, "aortic cusps, sinus and the beginning of the ascending aorta", False, "aorta_shown"),
    (MUSCLES, "one papillary muscle only", True, "papillary_even"),
    (BASE, "the right pulmonary artery crossing under the aorta", True, "short_axis_level"),
    (APICAL, "a round thick apex", True, "apex_shown"),
])  # fmt: skip
def test_a_mentors_tick_is_a_finding_and_its_opposite_is_none(
    view: str, item: str, is_shown: bool, criterion: str
) -> None:
    said = must(told(clip(view), criterion, ticks={item: is_shown}))
    other = must(told(clip(view), criterion, ticks={item: not is_shown}))

    assert (said.verdict, said.confidence) == (Verdict.MISSED, 1.0)
    assert item in said.reason
    assert other.verdict is Verdict.NOT_ASSESSABLE


def test_all_criteria_have_words_for_each_side_and_stand_in_the_table() -> None:
    asked = {*ASKED, MIRRORED}
    assert {key for key, row in CRITERIA.items() if row.family == "plane"} == asked
    template = must(told(clip(FOUR, picture(*sloped(STANDARD_DEG))), "septum_slope"))
    for key in asked:
        row = CRITERIA[key]
        for side, limit in ((Side.LOW, row.band.met_low), (Side.HIGH, row.band.met_high)):
            if limit is not None:
                missed = replace(
                    template,
                    criterion=key,
                    band=row.band,
                    value=limit,
                    side=side,
                    verdict=Verdict.MISSED,
                    confidence=1.0,
                )
                (one,) = find_priorities([missed], CRITERIA, Breathing.NORMAL, 0.5)
                assert all((one.means, one.cause, one.correction))


def test_a_criterion_that_disease_can_feign_says_so() -> None:
    """A very large ventricle makes the aorta's part smaller: such a criterion must say so."""
    assert "large left ventricle" in CRITERIA["aorta_shown"].low.cause
    assert "thick-walled" in CRITERIA["papillary_in_long_axis"].high.cause
    assert "flattened" in CRITERIA["ventricle_round"].low.cause


def test_only_what_a_person_marked_and_what_was_measured_enters_a_letter_by_itself() -> None:
    """The engine's own letter takes what is 50 % sure; a mentor may keep anything."""
    traced = marked(oval("Left ventricle", 70.0, 100.0))

    assert must(told(clip(CHORDAE), "ventricle_round", marks=traced)).confidence >= 0.5
    assert must(told(clip(CHORDAE, source=ViewSource.RECOGNISED), "ventricle_round", marks=traced)).confidence < 0.5
    assert must(told(clip(FOUR, picture(*sloped(STANDARD_DEG + 35))), "septum_slope")).confidence < 0.5
