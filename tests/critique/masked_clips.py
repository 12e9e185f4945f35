"""A clip whose masks are kept: file, layout, and what its own pass says of the criteria that only masks judge."""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Clip,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    Scale,
    Sector,
)

HOUSE = load_house()
TIME = ClipTime(times=FrameTimes(), beat_source=BeatSource.NONE)
FAN = Sector(apex_row_px=10.0, apex_col_px=200.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=300.0)


def masked_clip(*, is_colour: bool) -> Clip:
    return Clip(
        key="k", number=1, name="k.dcm", container="DICOM", rows=320, cols=400, n_frames=12, is_colour=is_colour
    )  # fmt: skip


def masked_layout(scale: Scale | None = None) -> Layout:
    return Layout(
        rows=320, cols=400, picture=FAN, picture_confidence=1.0, picture_reason="drawn", scale=scale,
        scale_reason="no" if scale is None else "drawn",
    )  # fmt: skip


def said_by_the_pass(family: Family, clip: Clip, layout: Layout, mode: Mode | None) -> tuple[Finding, ...]:
    """Return what the clip's own pass says, before masks are asked."""
    context = ClipContext(
        clip=clip, patient=Patient(), layout=layout, mode=ModeReading(mode=mode, probability=1.0, reasons=()),
        criteria=read_family(HOUSE, family.name),
    )  # fmt: skip
    return family.start(context).finish(TIME)
