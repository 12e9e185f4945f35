"""Marks on an invented clip of 30 frames a beat, on square pixels of 0.25 mm."""

from __future__ import annotations

import math
from collections.abc import Iterable

from fanlight.measure.picture import given_by_hand, measure_picture
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Clip,
    ClipTime,
    DrawnMark,
    FileMarks,
    FrameTimes,
    Landmark,
    Layout,
    MarkKind,
    Measurement,
    Patient,
    Point,
    Scale,
    ScaleSource,
    Species,
    ViewReading,
    ViewSource,
)

MM = 0.25
MM_SHARE = 0.005
HOUSE = load_house()
RIGHT = "right_parasternal_"
BASE, TRUNK = f"{RIGHT}short_axis_aorta", f"{RIGHT}short_axis_pulmonary_artery"
CHORDAE, FOUR, OUTFLOW = f"{RIGHT}short_axis_chordae", f"{RIGHT}long_axis_four_chamber", f"{RIGHT}long_axis_outflow"
ED, ES, EARLY = 0, 11, 12
DOG = Patient(species=Species.DOG, weight_kg=10.0, age_years=6.0, breed="Beagle")
SCALE = Scale(
    mm_per_row_px=MM, mm_per_col_px=MM, source=ScaleSource.REGION, uncertainty_fraction=MM_SHARE, witnesses=()
)
CLIP = Clip(key="k", number=1, name="IM1", container="DICOM", rows=600, cols=800, n_frames=70, is_colour=False)
TIME = ClipTime(
    times=FrameTimes(), beat_source=BeatSource.R_WAVE_TAG, beat_period_frames=30.0, end_diastole_frames=(0, 30),
    end_systole_frames=(11, 41),
)  # fmt: skip
NO_BEATS = ClipTime(times=FrameTimes(), beat_source=BeatSource.NONE)


def layout(scale: Scale | None = SCALE) -> Layout:
    """Return a screen without a sector."""
    return Layout(
        rows=600, cols=800, picture=None, picture_confidence=0.0, picture_reason="", scale=scale, scale_reason=""
    )


def line(label: str, length_mm: float, frame: int = ED, *, at: Point = (200.0, 300.0), deg: float = 0.0) -> DrawnMark:
    """Return a line of a length, from a point on, so many degrees below the horizontal."""
    turn = math.radians(deg)
    end = (at[0] + length_mm / MM * math.sin(turn), at[1] + length_mm / MM * math.cos(turn))
    return DrawnMark(kind=MarkKind.LINE, frame=frame, points=(at, end), label=label)


def trace(label: str, points_mm: Iterable[tuple[float, float]], frame: int = ED) -> DrawnMark:
    """Return a trace, points (down, across) in mm."""
    points = tuple((down / MM + 100, across / MM + 300) for down, across in points_mm)
    return DrawnMark(kind=MarkKind.TRACE, frame=frame, points=points, label=label)


def point(landmark: Landmark, down_mm: float, across_mm: float, frame: int = ED) -> DrawnMark:
    """Return a landmark."""
    at = ((down_mm / MM + 100, across_mm / MM + 300),)
    return DrawnMark(kind=MarkKind.POINT, frame=frame, points=at, landmark=landmark.name)


def measured(
    *drawn: DrawnMark,
    view: str,
    time: ClipTime = TIME,
    scale: Scale | None = SCALE,
    patient: Patient = DOG,
) -> list[Measurement]:
    """Return what marks measure on the clip."""
    (given, grid), *others = given_by_hand(FileMarks(name="IM1", drawn=drawn), layout(scale), CLIP, HOUSE)
    assert not others
    said = measure_picture(given, grid, ViewReading(view=view, source=ViewSource.MENTOR), time, patient, HOUSE)
    return list(said)


def only(said: Iterable[Measurement], name: str) -> Measurement:
    """Return the one measurement of this name."""
    (found,) = (item for item in said if item.name == name)
    return found
