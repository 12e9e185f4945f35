"""Frozen values that every part of Fanlight shares. Nothing here reads a file or a clock."""

from fanlight.study.cause import CauseFound, CauseLevel, Correction, Explained
from fanlight.study.clip import (
    Clip,
    ClipTags,
    FrameTimes,
    PhysicalUnit,
    Refusal,
    Region,
    SpatialFormat,
    Study,
    TimeSource,
)
from fanlight.study.criterion import Advice, Basis, ClipVerdict, Criterion, Purpose
from fanlight.study.finding import Band, Finding, Side, Source, Verdict
from fanlight.study.geometry import Box, Evidence, Mask, Point, Polyline, Shape
from fanlight.study.house import House
from fanlight.study.landmark import Landmark
from fanlight.study.layout import (
    Layout,
    Quantity,
    RegionReading,
    Ruler,
    Scale,
    ScaleSource,
    ScaleWitness,
    ScreenText,
)
from fanlight.study.marks import DrawnMark, FileMarks, MarkedDistance, MarkKind
from fanlight.study.meaning import GradingResult, Meaning, Remark
from fanlight.study.measurement import ENGINE, IntervalReading, Measurement, ReferenceKind
from fanlight.study.mode import MODE_WORDS, SPECTRA, Mode, ModeReading
from fanlight.study.named import EarlierValue, HeartFailure, Named
from fanlight.study.patient import Breathing, GivenMeasurement, Identity, Patient, Request, Species
from fanlight.study.picture_reading import FoundLandmark, PictureReading, ViewShare
from fanlight.study.pixels import FrameChunk, FrameDamageError, Frames, PictureChunk
from fanlight.study.review import ClipReading, Priority, Strength, StudyReview
from fanlight.study.sector import Picture, Sector, Strip
from fanlight.study.strip_scale import MarkedAxis, StripAxis
from fanlight.study.structure import HEART, Border, Cut, Structure, StructureSeen
from fanlight.study.time import BeatSource, ClipTime
from fanlight.study.view import (
    NOT_KNOWN,
    Coverage,
    LadderFinding,
    PlanStep,
    Rung,
    RungState,
    Valve,
    ValveLadder,
    ViewReading,
    ViewSource,
)

__all__ = [
    "ENGINE",
    "HEART",
    "MODE_WORDS",
    "NOT_KNOWN",
    "SPECTRA",
    "Advice",
    "Band",
    "Basis",
    "BeatSource",
    "Border",
    "Box",
    "Breathing",
    "CauseFound",
    "CauseLevel",
    "Clip",
    "ClipReading",
    "ClipTags",
    "ClipTime",
    "ClipVerdict",
    "Correction",
    "Coverage",
    "Criterion",
    "Cut",
    "DrawnMark",
    "EarlierValue",
    "Evidence",
    "Explained",
    "FileMarks",
    "Finding",
    "FoundLandmark",
    "FrameChunk",
    "FrameDamageError",
    "FrameTimes",
    "Frames",
    "GivenMeasurement",
    "GradingResult",
    "HeartFailure",
    "House",
    "Identity",
    "IntervalReading",
    "LadderFinding",
    "Landmark",
    "Layout",
    "MarkKind",
    "MarkedAxis",
    "MarkedDistance",
    "Mask",
    "Meaning",
    "Measurement",
    "Mode",
    "ModeReading",
    "Named",
    "Patient",
    "PhysicalUnit",
    "Picture",
    "PictureChunk",
    "PictureReading",
    "PlanStep",
    "Point",
    "Polyline",
    "Priority",
    "Purpose",
    "Quantity",
    "ReferenceKind",
    "Refusal",
    "Region",
    "RegionReading",
    "Remark",
    "Request",
    "Ruler",
    "Rung",
    "RungState",
    "Scale",
    "ScaleSource",
    "ScaleWitness",
    "ScreenText",
    "Sector",
    "Shape",
    "Side",
    "Source",
    "SpatialFormat",
    "Species",
    "Strength",
    "Strip",
    "StripAxis",
    "Structure",
    "StructureSeen",
    "Study",
    "StudyReview",
    "TimeSource",
    "Valve",
    "ValveLadder",
    "Verdict",
    "ViewReading",
    "ViewShare",
    "ViewSource",
]
