"""What the criteria from masks say of a drawn clip, worked out from what is kept of the network's answer."""

from __future__ import annotations

from functools import cache
from typing import Any

from fanlight.coach.causes.where_cut import where_cut
from fanlight.critique.accumulator import ClipContext
from fanlight.critique.picture_masks import FAMILY, NAME, MaskTables, read_mask_tables, with_masks
from fanlight.reference.causes import CUT, read_cause_limits
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Border,
    Clip,
    ClipReading,
    ClipTime,
    Criterion,
    Cut,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PictureReading,
    Sector,
    Side,
    StructureSeen,
    TimeSource,
    Verdict,
    ViewReading,
    ViewSource,
)

_TIME = ClipTime(times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.NONE)
_MODE = ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=())
_SIDE_PX = 4000  # of a screen on which every sector lies


@cache
def _tables() -> MaskTables:
    return read_mask_tables(load_house())


@cache
def _criteria() -> dict[str, Criterion]:
    return read_family(load_house(), NAME)


@cache
def _narrow_below_deg() -> float:
    return read_cause_limits(load_house()).narrow_below_deg


def mask_findings(record: dict[str, Any]) -> list[list[str]]:
    """Return sign, verdict ("" not assessable) and side of a record of `cause_clips`; what is cut, place by place."""
    found = [
        [item.criterion, "" if item.verdict is Verdict.NOT_ASSESSABLE else item.verdict.value, item.side.value]
        for item in _reading(record).findings
    ]
    return [*found, *cuts_in(record)]


def cuts_in(record: dict[str, Any]) -> list[list[str]]:
    """Return sign, verdict and side of each place at which chambers are cut off in a record that holds its picture."""
    cuts = where_cut(_reading(record), _tables().chambers, _criteria()[CUT].band, _narrow_below_deg())
    return [
        [place.sign, cut.value, (Side.INSIDE if cut is Verdict.MET else Side.HIGH).value] for place, cut in cuts.items()
    ]


def _reading(record: dict[str, Any]) -> ClipReading:
    said = record["picture"]
    picture = PictureReading(
        frames=tuple(said["frames"]), structures=tuple(_structure(row) for row in said["structures"]),
        unsure_share=said["unsure_share"], network=said["network"],
    )  # fmt: skip
    return weighed(picture, Sector(**record["sector"]), record["view"])


def weighed(picture: PictureReading, sector: Sector, view: str) -> ClipReading:
    """Return a reading that holds nothing but what the masks say; its view is named."""
    clip = Clip(
        key="drawn", number=1, name="drawn", container="DICOM", rows=_SIDE_PX, cols=_SIDE_PX,
        n_frames=max(picture.frames, default=0) + 1, is_colour=False,
    )  # fmt: skip
    layout = Layout(
        rows=_SIDE_PX, cols=_SIDE_PX, picture=sector, picture_confidence=1.0, picture_reason="drawn", scale=None,
        scale_reason="drawn",
    )  # fmt: skip
    context = ClipContext(clip=clip, patient=Patient(), layout=layout, mode=_MODE, criteria=_criteria())
    reading = ClipReading(
        clip=clip, layout=layout, mode=_MODE, view=ViewReading(view=view, source=ViewSource.SERIES_TEXT), time=_TIME,
        findings=FAMILY.start(context).finish(_TIME), verdicts=(), frames_read=clip.n_frames, picture=picture,
    )  # fmt: skip
    return with_masks(reading, _tables())


def _structure(row: dict[str, Any]) -> StructureSeen:
    cuts = tuple(Cut(**(cut | {"border": Border(cut["border"])})) for cut in row["cuts"])
    return StructureSeen(**(row | {"cuts": cuts}))
