"""Readings of clips with landmarks and areas put where a test wants them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from fanlight.plane.planes import read_plane_rules, with_planes
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Clip,
    ClipReading,
    ClipTime,
    DrawnMark,
    FileMarks,
    Finding,
    FoundLandmark,
    FrameTimes,
    Landmark,
    Layout,
    MarkKind,
    Mode,
    ModeReading,
    PictureReading,
    Point,
    Scale,
    ScaleSource,
    Sector,
    StructureSeen,
    TimeSource,
    ViewReading,
    ViewShare,
    ViewSource,
)

HOUSE = load_house()
RULES = read_plane_rules(HOUSE)
FAN = Sector(apex_row_px=0.0, apex_col_px=400.0, left_deg=-40.0, right_deg=40.0, near_px=0.0, far_px=600.0)
FOUR = "right_parasternal_long_axis_four_chamber"
OUTFLOW = "right_parasternal_long_axis_outflow"
APICAL = "left_apical_four_chamber"
MUSCLES = "right_parasternal_short_axis_papillary_muscles"
CHORDAE = "right_parasternal_short_axis_chordae"
BASE = "right_parasternal_short_axis_aorta"
BEAT = ClipTime(
    times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.MOTION, beat_period_frames=12.0,
    end_diastole_frames=(0,), end_systole_frames=(6,),
)  # fmt: skip
PX_PER_MM = 4.0
STANDARD_DEG = RULES.tables.lines[FOUR, "end_diastole", "lv_apex mitral_centre"].mean


def found(mark: Landmark, point: Point, *, frame: int = 0, share: float = 0.95, spread: float = 3.0) -> FoundLandmark:
    """Return a landmark that the network names."""
    return FoundLandmark(landmark=mark.name, frame=frame, point=point, spread_px=spread, probability=share)


def seen(area: float, **changed: Any) -> dict[str, Any]:
    """Return what is kept of a structure that takes this share of the picture."""
    usual = {"frames_share": 1.0, "area_share": area, "sure_share": 0.95, "nearest": 0.2, "farthest": 0.8}
    return {**usual, "farthest_frame": 0, **changed}


def picture(*marks: FoundLandmark, areas: Mapping[str, dict[str, Any]] | None = None, **changed: Any) -> PictureReading:
    """Return what the network says of a clip."""
    structures = tuple(StructureSeen(structure=name, **held) for name, held in (areas or {}).items())
    usual: dict[str, Any] = {"frames": (0, 6), "landmarks": marks, "structures": structures, "network": "x"}
    return PictureReading(**{**usual, **changed})


def clip(
    view: str,
    said: PictureReading | None = None,
    *,
    number: int = 1,
    source: ViewSource = ViewSource.SERIES_TEXT,
    mode: Mode = Mode.TWO_D,
    has_scale: bool = True,
    layout: Layout | None = None,
) -> ClipReading:
    """Return the reading of a clip of this view."""
    scale = Scale(
        mm_per_row_px=1 / PX_PER_MM, mm_per_col_px=1 / PX_PER_MM, source=ScaleSource.REGION,
        uncertainty_fraction=0.005, witnesses=(),
    )  # fmt: skip
    fan = layout or Layout(
        rows=620, cols=800, picture=FAN, picture_confidence=1.0, picture_reason="drawn",
        scale=scale if has_scale else None, scale_reason="drawn",
    )  # fmt: skip
    file = Clip(
        key=f"k{number}", number=number, name=f"k{number}.dcm", container="DICOM", rows=620, cols=800, n_frames=12,
        is_colour=False,
    )  # fmt: skip
    return ClipReading(
        clip=file, layout=fan, mode=ModeReading(mode=mode, probability=1.0, reasons=()),
        view=ViewReading(view=view, source=source, probability=0.9), time=BEAT, findings=(), verdicts=(),
        frames_read=12, picture=said,
    )  # fmt: skip


def marked(*marks: DrawnMark) -> FileMarks:
    """Return what a person drew."""
    return FileMarks(name="k1.dcm", drawn=marks)


def point(mark: Landmark, at: Point, frame: int = 0) -> DrawnMark:
    """Return a point that a person set."""
    return DrawnMark(kind=MarkKind.POINT, frame=frame, points=(at,), landmark=mark.name)


def oval(
    label: str, short_px: float, long_px: float, *, middle: Point = (300.0, 400.0), turn_deg: float = 0.0
) -> DrawnMark:
    """Return the trace of an ellipse by its half axes, the long one turned from level."""
    turn = math.radians(turn_deg)
    points = []
    for k in range(32):
        along, across = long_px * math.cos(math.tau * k / 32), short_px * math.sin(math.tau * k / 32)
        points.append((
            middle[0] + along * math.sin(turn) + across * math.cos(turn),
            middle[1] + along * math.cos(turn) - across * math.sin(turn),
        ))  # fmt: skip
    return DrawnMark(kind=MarkKind.TRACE, frame=0, points=tuple(points), label=label)


def told(
    item: ClipReading,
    key: str,
    *,
    marks: FileMarks | None = None,
    ticks: Mapping[str, bool] | None = None,
    others: tuple[ClipReading, ...] = (),
    other_marks: Mapping[str, FileMarks] | None = None,
) -> Finding | None:
    """Return the finding of one criterion on a clip, None where it was not asked."""
    drawn = {} if marks is None else {item.clip.key: marks}
    readings = with_planes(
        (item, *others), RULES, {**drawn, **(other_marks or {})}, {} if ticks is None else {item.clip.key: ticks}
    )
    return next((each for each in readings[0].findings if each.criterion == key), None)


def must(found_one: Finding | None) -> Finding:
    """Return a finding that there must be."""
    assert found_one is not None
    return found_one


def views_said(*shares: tuple[str, float]) -> tuple[ViewShare, ...]:
    """Return how likely the network finds each view."""
    return tuple(ViewShare(view=view, probability=share) for view, share in shares)


def sloped(
    lies_deg: float, *, length_px: float = 280.0, middle: Point = (300.0, 380.0), **changed: Any
) -> tuple[FoundLandmark, ...]:
    """Return apex and mitral annulus on a line that falls to the right by so many degrees."""
    down, right = math.sin(math.radians(lies_deg)) * length_px / 2, math.cos(math.radians(lies_deg)) * length_px / 2
    return (
        found(Landmark.LV_APEX, (middle[0] - down, middle[1] - right), **changed),
        found(Landmark.MITRAL_CENTRE, (middle[0] + down, middle[1] + right), **changed),
    )
