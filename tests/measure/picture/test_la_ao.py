"""Left atrium to aorta: two conventions, each by its own name, told by how the lines lie."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fanlight.measure.picture.la_ao import Convention, convention_of, named_convention
from fanlight.measure.shapes import SQUARE
from fanlight.study import DrawnMark, Landmark
from tests.measure.picture.marked import BASE, CHORDAE, EARLY, ED, MM, NO_BEATS, line, measured, only, point

ROOT_MM, ATRIUM_MM = 16.0, 24.0


def _lines(way: Convention, frame: int = EARLY, *, said: str = "", atrium_mm: float = ATRIUM_MM) -> list[DrawnMark]:
    """Return lines as the sources set them: the aorta's horizontal, the atrium's on it or along another commissure."""
    root = line(f"Ao{said}", ROOT_MM, frame)
    if way is Convention.LINE:
        return [root, line("LA", atrium_mm, frame, at=(200.0, 300.0 + (ROOT_MM + 2) / MM))]
    # The commissures of one cusp stand 120 degrees apart.
    return [root, line("LA", atrium_mm, frame, at=(215.0, 330.0), deg=120.0)]


@pytest.mark.parametrize("way", list(Convention))
def test_each_convention_has_its_own_number_and_source(way: Convention) -> None:
    """HANSSON2002 with FELINECARD page 133: along the commissures. WHIPPET2023 table 1: on one line."""
    said = measured(*_lines(way), view=BASE)
    ratio = only(said, "la_ao")

    assert ratio.label == f"LA:Ao, {way.value}"
    assert ratio.value == pytest.approx(1.5, abs=1e-9)
    source = {Convention.COMMISSURE: "HANSSON2002, FELINECARD", Convention.LINE: "WHIPPET2023"}[way]
    assert f"{way.value} ({source}); early diastole" in ratio.method
    assert only(said, "left_atrium").value == pytest.approx(ATRIUM_MM)
    assert only(said, "aortic_root").value == pytest.approx(ROOT_MM)


def test_the_conventions_are_never_mixed_in_one_number() -> None:
    later = 42  # the next beat
    said = measured(*_lines(Convention.LINE), *_lines(Convention.COMMISSURE, later, atrium_mm=28.0), view=BASE)
    found = {item.label: item.value for item in said if item.name == "la_ao"}

    assert found == {
        "LA:Ao, single line": pytest.approx(1.5), "LA:Ao, commissure-parallel": pytest.approx(28 / 16),
    }  # fmt: skip


def test_both_conventions_on_one_frame_give_a_number_each() -> None:
    """As the words beside the lines tell them apart; without words the last lines of the frame count."""
    both = [
        replace(mark, label=f"{mark.label}, {way.value}")
        for way, atrium_mm in ((Convention.LINE, 24.0), (Convention.COMMISSURE, 28.0))
        for mark in _lines(way, atrium_mm=atrium_mm)
    ]
    found = {item.label: item.value for item in measured(*both, view=BASE) if item.name == "la_ao"}

    assert found == {
        "LA:Ao, single line": pytest.approx(1.5), "LA:Ao, commissure-parallel": pytest.approx(28 / 16),
    }  # fmt: skip


def test_beats_of_one_clip_are_averaged_and_their_spread_is_shown() -> None:
    said = measured(*_lines(Convention.LINE), *_lines(Convention.LINE, 42, atrium_mm=25.6), view=BASE)
    ratio = only(said, "la_ao")

    assert ratio.value == pytest.approx((1.5 + 1.6) / 2)
    assert ratio.frames == (EARLY, 42)
    assert "mean of frames 13, 43, SD 0.071" in ratio.method  # of 1.5 and 1.6, n - 1


@pytest.mark.parametrize(
    ("deg", "words"),
    [(27.0, "neither published convention: they cross at 27°"), (0.0, "named commissure-parallel and lie as single")],
)
def test_lines_that_fit_no_convention_or_another_than_named_give_no_ratio(deg: float, words: str) -> None:
    root = line("Ao, commissure-parallel", ROOT_MM, EARLY)
    atrium = line("LA", ATRIUM_MM, EARLY, at=(200.0, 300.0 + ROOT_MM / MM), deg=deg)
    (ratio,) = measured(root, atrium, view=BASE)

    assert ratio.value is None
    assert words in ratio.reason


def test_a_line_beside_the_aorta_is_no_single_line() -> None:
    beside = ((200.0 + 0.5 * ROOT_MM / MM, 360.0), (200.0 + 0.5 * ROOT_MM / MM, 450.0))
    assert convention_of(((200.0, 300.0), (200.0, 364.0)), beside, SQUARE) is None


def test_half_of_the_ratio_says_what_is_missing() -> None:
    (ratio,) = measured(line("LA", ATRIUM_MM, EARLY), view=BASE)
    assert ratio.reason == "frame 13 lacks the line across the aorta (Ao)"


def test_the_ratio_needs_no_scale() -> None:
    said = measured(*_lines(Convention.LINE), view=BASE, scale=None)

    assert only(said, "la_ao").value == pytest.approx(1.5)
    assert only(said, "left_atrium").value is None
    assert "mark two points of the scale" in only(said, "left_atrium").reason


@pytest.mark.parametrize(
    ("frame", "label"),
    [
        (EARLY, "LA:Ao, single line"),
        (ED, "LA:Ao, single line, end-diastole"),
        (22, "LA:Ao, single line, neither early nor late in diastole"),
    ],
)
def test_the_moment_of_the_beat_stands_with_the_ratio(frame: int, label: str) -> None:
    """A cat's end-diastolic ratio has an interval of its own (CATLAMIN2023); it is no early diastolic one."""
    assert only(measured(*_lines(Convention.LINE, frame), view=BASE), "la_ao").label == label


def test_without_beats_the_moment_is_not_stated() -> None:
    ratio = only(measured(*_lines(Convention.LINE), view=BASE, time=NO_BEATS), "la_ao")
    assert ratio.label == "LA:Ao, single line, moment not known"


def test_another_view_carries_no_ratio() -> None:
    said = measured(*_lines(Convention.LINE), view=CHORDAE)
    assert {item.value for item in said} == {None}
    assert all("not measured in this view" in item.reason for item in said)


def _commissures(squeezed: float, frame: int = EARLY) -> list[DrawnMark]:
    """Return the ends of the commissures of a root that an oblique plane draws out across the screen."""
    names = (
        Landmark.COMMISSURE_RIGHT_NONCORONARY, Landmark.COMMISSURE_LEFT_NONCORONARY, Landmark.COMMISSURE_RIGHT_LEFT,
    )  # fmt: skip
    turns = (math.radians(deg) for deg in (20.0, 140.0, 260.0))
    return [
        point(name, 40 + 8 * squeezed * math.sin(turn), 8 * math.cos(turn), frame)
        for name, turn in zip(names, turns, strict=True)
    ]


@pytest.mark.parametrize(("tilt_deg", "is_given"), [(0.0, True), (15.0, True), (45.0, False)])
def test_commissures_that_an_oblique_plane_draws_out_refuse_the_ratio(tilt_deg: float, is_given: bool) -> None:
    """A plane that cuts a tube so far off makes an ellipse of cos(tilt) (plane geometry)."""
    drawn = [*_lines(Convention.LINE), *_commissures(math.cos(math.radians(tilt_deg)))]
    ratio = next(item for item in measured(*drawn, view=BASE) if item.name == "la_ao")

    assert (ratio.value is not None) is is_given
    if not is_given:
        assert "crosses the root about 45° obliquely" in ratio.reason


@pytest.mark.parametrize(
    ("words", "way"),
    [
        ("LA, commissure-parallel", Convention.COMMISSURE), ("Ao (single line)", Convention.LINE), ("LA", None),
        ("LA, underline", None), ("single line or commissure", None),
    ],
)  # fmt: skip
def test_a_convention_is_named_in_whole_words(words: str, way: Convention | None) -> None:
    assert named_convention(words) is way
