"""What is said of colour on muscle, from what a reading keeps; nothing of it enters a letter by itself."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.critique.colour_masks import FAMILY, FEWEST_FRAMES, OVER_MUSCLE
from fanlight.critique.mask_shapes import UNWEIGHED
from fanlight.critique.picture_masks import for_another_view, read_mask_tables, with_masks
from fanlight.reference.letter import read_letter_limits
from fanlight.study import (
    NOT_KNOWN,
    ClipReading,
    ColourOnMuscle,
    Finding,
    Mode,
    ModeReading,
    PictureReading,
    Polyline,
    Side,
    Structure,
    StructureSeen,
    Verdict,
    ViewReading,
    ViewSource,
)
from tests.critique.masked_clips import FAN, HOUSE, TIME, masked_clip, masked_layout, said_by_the_pass

TABLES = read_mask_tables(HOUSE)
SEPTUM = StructureSeen(
    structure=Structure.SEPTUM.name, frames_share=1.0, area_share=0.1, sure_share=0.95, nearest=0.3, farthest=0.8,
    farthest_frame=4,
)  # fmt: skip


def placeholders(mode: Mode | None = Mode.COLOUR) -> tuple[Finding, ...]:
    return said_by_the_pass(FAMILY, masked_clip(is_colour=True), masked_layout(), mode)


def reading(colour: ColourOnMuscle | None, **changed: Any) -> ClipReading:
    usual: dict[str, Any] = {"frames": (0, 6), "structures": (SEPTUM,), "colour": colour, "network": "x"}
    return ClipReading(
        clip=masked_clip(is_colour=True), layout=masked_layout(),
        mode=ModeReading(mode=Mode.COLOUR, probability=1.0, reasons=()),
        view=ViewReading(view="right_parasternal_long_axis_four_chamber", source=ViewSource.SERIES_TEXT), time=TIME,
        findings=placeholders(), verdicts=(), frames_read=12, picture=PictureReading(**(usual | changed)),
    )  # fmt: skip


def painted(share: float, frames: int = 6) -> ColourOnMuscle:
    return ColourOnMuscle(
        frames=frames, share=share, frame=6, from_depth=0.4, to_depth=0.6, from_beam=0.3, to_beam=0.5
    )  # fmt: skip


def told(item: ClipReading) -> Finding:
    (one,) = with_masks(item, TABLES).findings
    return one


def test_only_colour_clips_are_asked() -> None:
    assert [(item.criterion, item.reason) for item in placeholders()] == [(OVER_MUSCLE, UNWEIGHED)]
    assert placeholders(Mode.TWO_D) == placeholders(Mode.POWER) == placeholders(None) == ()


@pytest.mark.parametrize(
    ("share", "verdict", "side"),
    [
        (0.0, Verdict.MET, Side.INSIDE),
        (0.04, Verdict.MET, Side.INSIDE),
        (0.12, Verdict.BORDERLINE, Side.HIGH),
        (0.5, Verdict.MISSED, Side.HIGH),
    ],
)
def test_the_more_muscle_is_painted_the_worse(share: float, verdict: Verdict, side: Side) -> None:
    item = told(reading(painted(share)))

    assert (item.value, item.verdict, item.side) == (share, verdict, side)
    assert item.reason.startswith("of the muscle that the network saw among the colour")


def test_what_is_painted_is_drawn_on_the_frame_that_shows_it() -> None:
    item = told(reading(painted(0.5)))
    (evidence,) = item.evidence

    assert (evidence.frame, item.frames) == (6, (6,))
    assert isinstance(evidence.shape, Polyline)
    assert FAN.point(0.4, 0.3) in evidence.shape.points
    assert FAN.point(0.6, 0.5) in evidence.shape.points
    assert told(reading(painted(0.0))).evidence == ()


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (reading(None), "was not looked at beside the masks"),
        (reading(painted(0.9, frames=FEWEST_FRAMES - 1)), "too little of the heart's muscle among it"),
        (reading(painted(0.9), structures=(), unsure_share=0.9), "the network is sure of no structure"),
        (reading(None, reason="no network here"), "no network here"),
    ],
)
def test_what_the_masks_do_not_tell_is_not_assessable(item: ClipReading, why: str) -> None:
    finding = told(item)

    assert finding.verdict is Verdict.NOT_ASSESSABLE
    assert why in finding.reason


def test_the_view_has_no_part_in_it() -> None:
    weighed = with_masks(reading(painted(0.5)), TABLES)

    assert for_another_view(weighed, NOT_KNOWN, TABLES).findings == weighed.findings


def test_it_is_too_unsure_for_a_letter() -> None:
    """Colour clips are not those of the table that the masks' other criteria were let into letters by."""
    assert told(reading(painted(0.9))).confidence < read_letter_limits(HOUSE).sure_from
