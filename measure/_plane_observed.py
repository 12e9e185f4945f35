"""What a network or a person would have marked on a plane: the truth with the errors of the one or the other.

The network's errors follow docs/model-card.md: of the healthy ventricle's diameter about 2 to 3 % for a place, wider in
ring C and there stated too small; a landmark between 0.15 and 0.3 diameters off the plane is named now and then. A
person's places err by 2.5 %.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fanlight.plane.length import APEX
from fanlight.plane.rounds import COMMISSURES
from fanlight.simulate.clip.ring import Ring
from fanlight.study import (
    BeatSource,
    Border,
    Clip,
    ClipReading,
    ClipTime,
    Cut,
    DrawnMark,
    FileMarks,
    FoundLandmark,
    FrameTimes,
    Landmark,
    Layout,
    MarkKind,
    Mode,
    ModeReading,
    PictureReading,
    Scale,
    ScaleSource,
    Sector,
    StructureSeen,
    TimeSource,
    ViewReading,
    ViewShare,
    ViewSource,
)
from measure._plane_clips import Plane
from training.label_sets import Structure

FRAMES = (0, 6)  # ends of diastole and systole of a beat of twelve frames
PX_PER_MM = 4.0
SIDE_PX = 1600
TIME = ClipTime(
    times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.MOTION, beat_period_frames=12.0,
    end_diastole_frames=(0,), end_systole_frames=(6,),
)  # fmt: skip
MODE = ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=())
# Off the plane, in diameters: a landmark is as likely named as not, and over what distance that changes.
EVEN_UNITS, PASSAGE_UNITS = 0.22, 0.03
LEAST_KEPT = 0.3
ERROR_UNITS = {Ring.A: 0.020, Ring.B: 0.020, Ring.C: 0.028}  # of a coordinate
STATED = {Ring.A: 1.0, Ring.B: 1.0, Ring.C: 0.8}  # of its error
GROSS_SHARE, GROSS_TIMES = 0.08, 3.0  # the model card's 90th percentile lies where a few errors are larger
AREA_ERROR = 0.12  # of a structure's area, and this much of the picture beside it
AREA_STRAY = 0.001
SPECK = 0.003  # of the picture: the network's masks hold no smaller part
PERSON_UNITS = 0.025
TRACE_UNITS, TRACE_POINTS = 0.015, 24


def sector_of(plane: Plane) -> Sector:
    """Return where the picture lies on the screen."""
    return replace(
        plane.sector, apex_row_px=40.0 - plane.sector.near_px * PX_PER_MM, apex_col_px=SIDE_PX / 2,
        near_px=plane.sector.near_px * PX_PER_MM, far_px=plane.sector.far_px * PX_PER_MM,
    )  # fmt: skip


def as_network(plane: Plane, number: int, rng: np.random.Generator) -> ClipReading:
    """Return the reading of a clip of this plane as the network would give it; the view that was meant is named."""
    sector = sector_of(plane)
    return _reading(plane, number, sector, PictureReading(
        frames=FRAMES, views=(ViewShare(view=plane.view, probability=0.9),),
        mirrored=0.95 if plane.is_mirrored else 0.03, landmarks=_landmarks(plane, sector, rng),
        structures=_structures(plane, rng), unsure_share=0.05, network="drawn",
    ))  # fmt: skip


def as_nobody(plane: Plane, number: int) -> ClipReading:
    """Return the reading of a clip that no network looked at."""
    return _reading(plane, number, sector_of(plane), None)


def as_person(plane: Plane, rng: np.random.Generator) -> FileMarks:
    """Return what a person would mark: landmarks at both ends of the beat, outlines at the end of diastole."""
    sector = sector_of(plane)
    drawn = [mark for moment, frame in enumerate(FRAMES) for mark in _points(plane, sector, moment, frame, rng)]
    drawn += [
        _trace(plane, sector, name, ratio, radius, rng)
        for name, (ratio, radius) in plane.outlines.items()
    ]  # fmt: skip
    if min(plane.papillary_mm2) > 0:
        drawn += [
            _trace(plane, sector, "papillary muscle", 1.0, math.sqrt(area / math.pi), rng)
            for area in plane.papillary_mm2
        ]
    return FileMarks(name="drawn", drawn=tuple(drawn))


def _reading(plane: Plane, number: int, sector: Sector, picture: PictureReading | None) -> ClipReading:
    clip = Clip(
        key=f"clip{number}", number=number, name=f"clip{number}", container="DICOM", rows=SIDE_PX, cols=SIDE_PX,
        n_frames=12, is_colour=False,
    )  # fmt: skip
    scale = Scale(
        mm_per_row_px=1 / PX_PER_MM, mm_per_col_px=1 / PX_PER_MM, source=ScaleSource.REGION,
        uncertainty_fraction=0.005, witnesses=(),
    )  # fmt: skip
    layout = Layout(
        rows=SIDE_PX, cols=SIDE_PX, picture=sector, picture_confidence=1.0, picture_reason="drawn", scale=scale,
        scale_reason="drawn",
    )  # fmt: skip
    return ClipReading(
        clip=clip, layout=layout, mode=MODE, view=ViewReading(view=plane.view, source=ViewSource.SERIES_TEXT),
        time=TIME, findings=(), verdicts=(), frames_read=12, picture=picture,
    )  # fmt: skip


def _on_screen(plane: Plane, sector: Sector, across_mm: float, depth_mm: float) -> tuple[float, float]:
    side = -1.0 if plane.is_mirrored else 1.0
    row = sector.apex_row_px + (depth_mm + plane.sector.near_px) * PX_PER_MM
    return row, sector.apex_col_px + side * across_mm * PX_PER_MM


def is_inside(plane: Plane, across_mm: float, depth_mm: float) -> bool:
    """Whether a place lies in the picture."""
    down = depth_mm + plane.sector.near_px
    angle, radius = math.degrees(math.atan2(across_mm, down)), math.hypot(across_mm, down)
    return plane.sector.left_deg < angle < plane.sector.right_deg and radius < plane.sector.far_px


def _landmarks(plane: Plane, sector: Sector, rng: np.random.Generator) -> tuple[FoundLandmark, ...]:
    found = []
    for moment, frame in enumerate(FRAMES):
        for mark, (across, off, depth) in plane.places_mm[moment].items():
            doubt = (abs(off) / plane.unit_mm - EVEN_UNITS) / PASSAGE_UNITS + rng.normal()
            share = 1.0 / (1.0 + math.exp(min(max(doubt, -50.0), 50.0)))
            error = plane.unit_mm * ERROR_UNITS[plane.ring] * math.exp(0.3 * rng.normal())
            far = GROSS_TIMES if rng.random() < GROSS_SHARE else 1.0
            there = across + far * error * rng.normal(), depth + far * error * rng.normal()
            if share >= LEAST_KEPT and is_inside(plane, *there):
                found.append(FoundLandmark(
                    landmark=mark.name, frame=frame, point=_on_screen(plane, sector, *there),
                    spread_px=error * STATED[plane.ring] * PX_PER_MM, probability=share,
                ))  # fmt: skip
    return tuple(found)


def _structures(plane: Plane, rng: np.random.Generator) -> tuple[StructureSeen, ...]:
    found = []
    for kind in Structure:
        shares = np.array([areas[kind] for areas in plane.areas])
        seen = np.maximum(shares * math.exp(AREA_ERROR * rng.normal()) + AREA_STRAY * rng.normal(), 0.0)
        seen = np.where(seen >= SPECK, seen, 0.0)
        if kind is not Structure.OTHER and seen.any():
            found.append(StructureSeen(
                structure=kind.name, frames_share=float((seen > 0).mean()), area_share=float(seen[seen > 0].mean()),
                sure_share=0.95, nearest=0.2, farthest=0.8, farthest_frame=0,
                cuts=(_CUT,) if kind is Structure.LV_CAVITY and _runs_out(plane) else (),
            ))  # fmt: skip
    return tuple(found)


def _runs_out(plane: Plane) -> bool:
    """Whether the ventricle's apex lies beside the picture, which then cuts the cavity at its side."""
    apex = plane.places_mm[0][APEX]
    return not is_inside(plane, float(apex[0]), float(apex[2]))


_CUT = Cut(border=Border.LEFT, share=0.08, frame=0, from_depth=0.3, to_depth=0.5, from_beam=0.0, to_beam=0.0)


def _points(plane: Plane, sector: Sector, moment: int, frame: int, rng: np.random.Generator) -> list[DrawnMark]:
    """Return points on what the plane shows; the apex is where the cavity that is seen ends, as a person would say."""
    found = []
    wanted: tuple[Landmark, ...] = (*COMMISSURES, Landmark.MITRAL_CENTRE, Landmark.AORTIC_SINUS_CENTRE)
    places = {
        mark: (p[0], p[2]) for mark in wanted if abs((p := plane.places_mm[moment][mark])[1]) < 0.3 * plane.unit_mm
    }
    if moment == 0 and plane.shown_apex_mm is not None:
        places[APEX] = plane.shown_apex_mm
    for mark, (across, depth) in places.items():
        there = (
            across + rng.normal(0, PERSON_UNITS) * plane.unit_mm,
            depth + rng.normal(0, PERSON_UNITS) * plane.unit_mm,
        )
        if is_inside(plane, *there):
            found.append(DrawnMark(
                kind=MarkKind.POINT, frame=frame, points=(_on_screen(plane, sector, *there),), landmark=mark.name,
            ))  # fmt: skip
    return found


def _trace(
    plane: Plane, sector: Sector, name: str, ratio: float, radius_mm: float, rng: np.random.Generator
) -> DrawnMark:
    angles = np.linspace(0, 2 * math.pi, TRACE_POINTS, endpoint=False)
    short, long = radius_mm * math.sqrt(ratio), radius_mm / math.sqrt(ratio)
    error = rng.normal(0, TRACE_UNITS * plane.unit_mm, (TRACE_POINTS, 2))
    middle = 0.5 * (plane.sector.far_px - plane.sector.near_px)
    points = tuple(
        _on_screen(plane, sector, long * math.cos(a) + e[0], middle + short * math.sin(a) + e[1])
        for a, e in zip(angles, error, strict=True)
    )
    return DrawnMark(kind=MarkKind.TRACE, frame=FRAMES[0], points=points, label=name)
