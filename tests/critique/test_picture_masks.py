"""Findings from what is kept of masks: kept values made by hand, verdicts and words beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fanlight.critique.mask_confidence import UNMEASURED, confidence_of
from fanlight.critique.mask_shapes import UNWEIGHED
from fanlight.critique.picture_masks import (
    COVERED,
    CUT,
    FAMILY,
    REACH,
    for_another_view,
    read_mask_tables,
    with_masks,
)
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_follows, read_letter_limits
from fanlight.study import (
    Border,
    ClipReading,
    Cut,
    Finding,
    Mode,
    ModeReading,
    PictureReading,
    Polyline,
    Scale,
    ScaleSource,
    Side,
    Structure,
    StructureSeen,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.critique.masked_clips import FAN, HOUSE, TIME, masked_clip, masked_layout, said_by_the_pass

TABLES = read_mask_tables(HOUSE)
FOUR = "right_parasternal_long_axis_four_chamber"  # left ventricle and atrium whole, no lung over the atrium
AORTA_VIEW = "left_cranial_long_axis_aorta"  # asks for no chamber
SCALE = Scale(mm_per_row_px=0.4, mm_per_col_px=0.4, source=ScaleSource.REGION, uncertainty_fraction=0.01, witnesses=())
RECOGNISED = ViewReading(view=FOUR, source=ViewSource.RECOGNISED, probability=0.83)


def seen(kind: Structure, *cuts: Cut, **changed: Any) -> StructureSeen:
    usual: dict[str, Any] = {
        "structure": kind.name, "frames_share": 1.0, "area_share": 0.1, "sure_share": 0.95, "nearest": 0.3,
        "farthest": 0.8, "farthest_frame": 4, "cuts": cuts,
    }  # fmt: skip
    return StructureSeen(**(usual | changed))


def cut(border: Border, share: float) -> Cut:
    return Cut(border=border, share=share, frame=6, from_depth=0.5, to_depth=0.9, from_beam=0.6, to_beam=0.8)


WHOLE = (seen(Structure.LV_CAVITY), seen(Structure.LEFT_ATRIUM))


def placeholders(mode: Mode | None = Mode.TWO_D) -> tuple[Finding, ...]:
    """Return what the clip's own pass says."""
    return said_by_the_pass(FAMILY, masked_clip(is_colour=False), masked_layout(SCALE), mode)


def reading(
    *structures: StructureSeen, view: ViewReading = RECOGNISED, picture: PictureReading | None = None
) -> ClipReading:
    return ClipReading(
        clip=masked_clip(is_colour=False), layout=masked_layout(SCALE),
        mode=ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=()), view=view,
        time=TIME, findings=placeholders(), verdicts=(), frames_read=12,
        picture=picture or PictureReading(frames=(0, 6), structures=structures, network="x"),
    )  # fmt: skip


def found(item: ClipReading, key: str) -> Finding:
    (one,) = (each for each in with_masks(item, TABLES).findings if each.criterion == key)
    return one


def test_the_pass_itself_says_that_nothing_was_weighed_and_only_of_pictures() -> None:
    assert {item.reason for item in placeholders()} == {UNWEIGHED}
    assert {item.criterion for item in placeholders(Mode.COLOUR)} == {CUT, REACH, COVERED}
    assert placeholders(Mode.CONTINUOUS_WAVE) == placeholders(None) == ()


def test_whole_chambers_are_quiet_and_the_words_name_the_network() -> None:
    item = found(reading(*WHOLE), CUT)

    assert (item.verdict, item.value, item.evidence) == (Verdict.MET, 0.0, ())
    assert item.reason.startswith("the network saw the left ventricle and the left atrium whole; taken for")
    assert "as recognised (83 %)" in item.reason


def test_a_chamber_cut_off_is_missed_and_the_edge_is_drawn() -> None:
    atrium = seen(Structure.LEFT_ATRIUM, cut(Border.FAR, 0.15), cut(Border.RIGHT, 0.1))
    item = found(reading(seen(Structure.LV_CAVITY, cut(Border.LEFT, 0.07)), atrium), CUT)

    assert (item.verdict, item.side) == (Verdict.MISSED, Side.HIGH)
    assert item.value == pytest.approx(0.25)
    assert (
        "the network saw 15 % of the outline of the left atrium on the far end of the picture and 10 % on"
        in item.reason
    )
    far, right = item.evidence
    assert (right.label, far.label) == ("left atrium: right edge", "left atrium: far end")
    assert item.frames == (6,)
    assert isinstance(right.shape, Polyline)
    assert isinstance(far.shape, Polyline)
    assert right.shape.points == (FAN.point(0.5, 1.0), FAN.point(0.9, 1.0))
    assert far.shape.points[0] == pytest.approx(FAN.point(1.0, 0.6))
    assert far.shape.points[-1] == pytest.approx(FAN.point(1.0, 0.8))


def test_lung_over_the_atrium_is_told_apart_from_edges() -> None:
    item = reading(seen(Structure.LV_CAVITY), seen(Structure.LEFT_ATRIUM, cut(Border.HIDDEN, 0.3)))

    assert found(item, CUT).verdict is Verdict.MET
    covered = found(item, COVERED)
    assert (covered.verdict, covered.value) == (Verdict.MISSED, 0.3)
    assert "30 % of the outline of the left atrium end at lung or bone before it" in covered.reason
    (shape,) = (each.shape for each in covered.evidence)
    assert isinstance(shape, Polyline)
    assert shape.closed
    assert shape.points[0] == pytest.approx(FAN.point(0.5, 0.6))
    assert shape.points[-1] == pytest.approx(FAN.point(0.9, 0.6))


def test_lung_over_another_chamber_is_not_asked_for() -> None:
    """In the four-chamber view from the right the atrium is to be clear (views of the House)."""
    item = found(reading(seen(Structure.LV_CAVITY, cut(Border.HIDDEN, 0.3)), seen(Structure.LEFT_ATRIUM)), COVERED)

    assert item.verdict is Verdict.MET
    assert "saw the left atrium free of lung and bone; taken for" in item.reason


def test_the_far_border_of_the_heart_is_the_farthest_of_its_parts() -> None:
    wall = seen(Structure.LV_FREE_WALL, farthest=0.5, farthest_frame=2)
    lung = seen(Structure.HIDDEN, farthest=1.0)
    item = found(reading(seen(Structure.LV_CAVITY, farthest=0.45), wall, lung), REACH)

    assert (item.verdict, item.side, item.value) == (Verdict.MISSED, Side.LOW, 0.5)
    assert "free wall of the left ventricle, at 60 of 120 mm" in item.reason  # 0.5 of 300 px of 0.4 mm
    (line,) = item.evidence
    assert line.frame == 2
    assert isinstance(line.shape, Polyline)
    assert line.shape.points[0] == pytest.approx(FAN.point(0.5, 0.0))


def test_what_lies_far_and_is_not_sure_does_not_move_the_far_border() -> None:
    unsure = seen(Structure.RIGHT_ATRIUM, farthest=0.95, sure_share=0.3)

    assert found(reading(*WHOLE, unsure), REACH).value == 0.8


NO_VIEW = ViewReading(view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="not sure")


@pytest.mark.parametrize(
    ("item", "key", "words"),
    [
        (lambda: reading(*WHOLE, view=NO_VIEW), CUT, "the view is not known"),
        (lambda: reading(*WHOLE, view=NO_VIEW), COVERED, "the view is not known"),
        (lambda: reading(*WHOLE, view=replace(RECOGNISED, view=AORTA_VIEW)), CUT, "no chamber is asked for here"),
        (lambda: reading(WHOLE[0]), CUT, "did not surely see the left atrium"),
        (lambda: reading(WHOLE[0], seen(Structure.LEFT_ATRIUM, sure_share=0.4)), CUT, "the left atrium"),
        (lambda: reading(WHOLE[0], seen(Structure.LEFT_ATRIUM, frames_share=0.3)), CUT, "the left atrium"),
        (lambda: reading(WHOLE[0], seen(Structure.LEFT_ATRIUM, area_share=0.004)), CUT, "the left atrium"),
        (lambda: reading(seen(Structure.HIDDEN)), REACH, "too little of a heart"),
        (lambda: reading(picture=PictureReading(reason="no network here")), REACH, "no network here"),
        (lambda: reading(picture=PictureReading(network="old")), REACH, "no masks were kept"),
        (lambda: reading(picture=PictureReading(unsure_share=0.6, network="x")), CUT, "no structure in 60 %"),
        (
            lambda: reading(picture=PictureReading(structures=WHOLE, unsure_share=0.5, network="x")),
            CUT,
            "sure of no structure in 50 % of the picture",
        ),
    ],
)  # fmt: skip
def test_where_the_network_cannot_tell_nothing_is_judged(item: Callable[[], ClipReading], key: str, words: str) -> None:
    one = found(item(), key)

    assert (one.verdict, one.value, one.confidence, one.evidence) == (Verdict.NOT_ASSESSABLE, None, 0.0, ())
    assert words in one.reason


def test_a_cut_chamber_counts_though_another_is_not_sure() -> None:
    item = found(reading(seen(Structure.LV_CAVITY, cut(Border.LEFT, 0.2))), CUT)

    assert item.verdict is Verdict.MISSED
    assert "did not surely see the left atrium" in item.reason


def test_what_was_told_or_decided_is_not_told_again() -> None:
    told = with_masks(reading(*WHOLE), TABLES)
    other = replace(told, picture=PictureReading(structures=(), network="y"))
    without = replace(reading(*WHOLE), picture=None)

    assert with_masks(other, TABLES) == other
    assert with_masks(without, TABLES) == without


def test_a_view_that_a_person_names_is_weighed_anew() -> None:
    told = with_masks(reading(*WHOLE, view=NO_VIEW), TABLES)
    named = ViewReading(view=FOUR, source=ViewSource.MENTOR)
    again = for_another_view(told, named, TABLES)

    assert {item.criterion: item.verdict for item in again.findings}[CUT] is Verdict.MET
    assert "judged as Right parasternal long axis" in again.findings[0].reason
    assert again.view == NO_VIEW
    assert for_another_view(told, NO_VIEW, TABLES) is told
    assert for_another_view(replace(told, picture=None), named, TABLES).findings == told.findings


def test_only_what_was_measured_enters_a_letter_and_nothing_is_said_twice() -> None:
    """The table in docs/accuracy.md tells of 2-D clips whose view was given."""
    least = read_letter_limits(HOUSE).sure_from
    named = reading(*WHOLE, view=replace(RECOGNISED, source=ViewSource.MENTOR))
    coloured = replace(named, mode=replace(named.mode, mode=Mode.COLOUR))
    follows = read_follows(HOUSE)

    assert found(named, CUT).confidence >= least
    for unmeasured in (reading(*WHOLE), coloured):
        assert found(unmeasured, CUT).confidence == UNMEASURED < least
    assert confidence_of(REACH, reading(*WHOLE, view=NO_VIEW)) == UNMEASURED  # it is judged without a view as well
    assert follows[REACH] == ("depth_use",)
    assert follows[COVERED] == ("lung_cover",)
    assert {read_criteria(HOUSE)[key].right for key in (REACH, COVERED)} == {""}  # praised by the pixels' own
