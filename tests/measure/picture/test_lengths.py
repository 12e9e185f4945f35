"""Diameters and walls on 2-D pictures: each at its moment, in its view, with what follows from them."""

from __future__ import annotations

import math

import pytest

from fanlight.measure.areas import HAND_PX
from fanlight.measure.picture import Given, Grid, Placed, given_by_hand, measure_picture
from fanlight.measure.picture.placed import PIXEL_PX
from fanlight.study import (
    ENGINE,
    DrawnMark,
    FileMarks,
    Landmark,
    MarkKind,
    Patient,
    ViewReading,
    ViewSource,
)
from tests.measure.picture.marked import (
    BASE,
    CHORDAE,
    CLIP,
    DOG,
    ED,
    ES,
    FOUR,
    HOUSE,
    MM,
    MM_SHARE,
    NO_BEATS,
    OUTFLOW,
    TIME,
    TRUNK,
    layout,
    line,
    measured,
    only,
    point,
)


@pytest.mark.parametrize(
    ("lvidd_mm", "lvids_mm", "percent"),
    [
        pytest.param(47.0, 23.0, 51, id="UCDCASES case 11"),
        pytest.param(33.0, 22.0, 33, id="UCDCASES case 17"),
    ],
)
def test_shortening_agrees_with_published_cases(lvidd_mm: float, lvids_mm: float, percent: int) -> None:
    """Rows P06 and P07 of tests/reference/authorities/worked_rows.csv, printed to a whole percent."""
    said = measured(line("LVIDd", lvidd_mm, ED), line("LVIDs", lvids_mm, ES), view=CHORDAE)
    assert only(said, "fractional_shortening").value == pytest.approx(percent, abs=0.5)


def test_a_length_has_the_error_of_two_points_the_scale_and_the_beats() -> None:
    """Law of propagation (JCGM 100:2008, 5.1.2): two ends along the line, the scale, and a beat of 1 %."""
    found = only(measured(line("LVIDd", 40.0), view=CHORDAE), "lvidd")
    ends = math.sqrt(2) * math.hypot(HAND_PX, PIXEL_PX) * MM
    beat = 0.4 * 3.182446 / 1.959964  # Student's t of three degrees of freedom over the normal quantile

    assert found.uncertainty == pytest.approx(math.sqrt(ends**2 + (MM_SHARE * 40) ** 2 + beat**2), rel=1e-4)


def test_more_beats_make_a_mean_surer() -> None:
    one = only(measured(line("LVIDd", 40.0), view=CHORDAE), "lvidd")
    two = only(measured(line("LVIDd", 40.0), line("LVIDd", 40.0, 30), view=CHORDAE), "lvidd")

    assert one.uncertainty is not None
    assert two.uncertainty is not None
    assert two.uncertainty < one.uncertainty
    assert two.frames == (0, 30)


def test_a_diastolic_line_on_the_systolic_frame_gives_no_number() -> None:
    (found,) = measured(line("LVIDd", 40.0, ES), view=CHORDAE)
    assert found.value is None
    assert "named end-diastole, and frame 12 lies nearer to the end-systole that was found" in found.reason


@pytest.mark.parametrize(("label", "frame"), [("LVIDd", 6), ("LVIDd", 4), ("LVIDs", 6)])
def test_a_line_half_way_through_systole_gives_no_number(label: str, frame: int) -> None:
    """Walls that move as half a cosine have done a quarter of their way after a third of the time (calculus)."""
    (found,) = measured(line(label, 40.0, frame), view=CHORDAE)

    assert found.value is None
    assert f"and frame {frame + 1} lies " in found.reason
    assert "set it on the right frame" in found.reason


@pytest.mark.parametrize(
    ("frame", "words"),
    [(2, "; end-diastole;"), (60, "; end-diastole;"), (56, "frame 57 lies 4 frames before end-diast")],
)
def test_how_a_frame_stands_to_its_moment_is_said(frame: int, words: str) -> None:
    """The beat at an end of the clip, which was cut, is taken as long as the others."""
    assert words in only(measured(line("LVIDd", 40.0, frame), view=CHORDAE), "lvidd").method


def test_without_beats_a_line_is_what_it_is_named() -> None:
    found = only(measured(line("LVIDs", 25.0, 7), view=CHORDAE, time=NO_BEATS), "lvids")
    assert found.value == pytest.approx(25.0)
    assert "end-systole as named, no beats were found" in found.method


def test_a_view_must_be_known_and_carry_the_quantity() -> None:
    (nameless,) = measured(line("LVIDd", 40.0), view="")
    (wrong,) = measured(line("LVIDd", 40.0), view=BASE)

    assert nameless.reason == "which view it is, is not known; name the view"
    assert "not measured in this view (Right parasternal short axis, aorta and left atrium)" in wrong.reason


def test_walls_and_atrium_of_a_cat() -> None:
    """The feline questions: both walls in end-diastole and the atrium's diameter, in the long axis."""
    cat = Patient(species="cat", weight_kg=4.5)  # type: ignore[arg-type]
    said = measured(
        line("IVSd", 7.73), line("LVWd", 7.23), line("LA long axis", 15.0, ES), line("AoA", 9.0, 5),
        view=OUTFLOW, patient=cat,
    )  # fmt: skip

    assert only(said, "ivsd").value == pytest.approx(7.73)
    assert only(said, "lvwd").value == pytest.approx(7.23)
    assert only(said, "la_ao_annulus").value == pytest.approx(15 / 9)
    assert not [item for item in said if item.name == "la_ao_long_axis"]
    dog = measured(line("LA long axis", 15.0, ES), line("AoA", 9.0, 5), view=OUTFLOW)
    assert only(dog, "la_ao_long_axis").value == pytest.approx(15 / 9)


def test_sphericity_is_length_over_diameter() -> None:
    """Row C26: 62 over 40 mm is 1.55."""
    said = measured(line("LVLd", 62.0), line("LVIDd", 40.0), view=FOUR)
    assert only(said, "sphericity_index").value == pytest.approx(1.55)


def test_pulmonary_ratios_need_both_lines_on_one_frame() -> None:
    apart = measured(line("MPA", 15.0), line("Ao", 14.0, 3), view=TRUNK)
    assert "not marked on the same frame" in only(apart, "mpa_ao").reason
    assert only(measured(line("MPA", 15.0), line("Ao", 12.0), view=TRUNK), "mpa_ao").value == pytest.approx(1.25)
    veins = measured(line("pulmonary vein", 8.0), line("RPA", 10.0), view=FOUR)
    assert only(veins, "pv_pa").value == pytest.approx(0.8)


def test_a_line_with_a_hinge_is_the_ring() -> None:
    ring = DrawnMark(
        kind=MarkKind.LINE, frame=5, points=((100.0, 100.0), (100.0, 160.0)), landmark="AORTIC_SEPTAL_HINGE"
    )
    assert only(measured(ring, view=OUTFLOW), "aortic_annulus").value == pytest.approx(60 * MM)


def test_rings_of_the_arteries_are_one_number_and_those_of_the_chambers_one_a_moment() -> None:
    """A stroke volume asks for one aortic annulus."""
    rings = [line(name, 12.0, frame) for name in ("aortic annulus", "mitral annulus") for frame in (ED, ES)]
    labels = [item.label for item in measured(*rings, view=OUTFLOW)]
    assert sorted(labels) == ["aortic annulus", "mitral annulus, end-diastole", "mitral annulus, end-systole"]
    assert only(measured(line("pulmonic annulus", 10.0), view=TRUNK), "pulmonary_annulus").value == pytest.approx(10.0)


def test_free_words_and_marks_outside_measure_nothing_here() -> None:
    outside = DrawnMark(kind=MarkKind.LINE, frame=90, points=((1.0, 1.0), (5.0, 5.0)), label="LVIDd")
    drawn = (line("my own line", 10.0), outside)
    for given, _ in given_by_hand(FileMarks(name="IM1", drawn=drawn), layout(), CLIP, HOUSE):
        assert given.lines == ()


def _found(spread_px: float) -> Given:
    places = {
        Landmark.AORTIC_SEPTAL_HINGE: (100.0, 100.0), Landmark.AORTIC_MITRAL_HINGE: (100.0, 160.0),
        Landmark.LV_APEX: (200.0, 40.0),
    }  # fmt: skip
    return Given(
        given_by=ENGINE, how="found by the network", is_found=True,
        landmarks=tuple(Placed(what=k.name, frame=ES, points=(at,), sd_px=(spread_px,)) for k, at in places.items()),
    )  # fmt: skip


def test_found_landmarks_give_rings_under_the_engine_s_name_and_ask_for_nothing() -> None:
    """An apex without a mitral ring is no fault of anybody: a network's finds ask for nothing."""
    view = ViewReading(view=OUTFLOW, source=ViewSource.RECOGNISED)
    grid = Grid(has_mm=True)
    (ring,) = measure_picture(_found(2.0), grid, view, TIME, DOG, HOUSE)
    assert (ring.name, ring.given_by, ring.label) == ("aortic_annulus", ENGINE, "aortic annulus")

    (vague,) = measure_picture(_found(9.0), grid, view, TIME, DOG, HOUSE)
    assert vague.value is None
    assert "the network places its points to 21 % of it only" in vague.reason


def test_marks_of_a_person_and_finds_of_the_network_are_kept_apart() -> None:
    by_hand = measured(point(Landmark.AORTIC_SEPTAL_HINGE, 0.0, 0.0, ES), view=OUTFLOW)
    assert {item.given_by for item in by_hand} == {"marked by hand"}
    assert "aortic hinge on the mitral side is not marked" in only(by_hand, "aortic_annulus").reason
