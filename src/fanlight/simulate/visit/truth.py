"""What is true of a simulated study, as plain JSON in a folder of its own that no review ever opens."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.heart.pose import Pose
from fanlight.simulate.faults.fault import Fault

SCHEMA = 1  # of the truth files; see docs/simulator.md


class TruthPlaceError(ValueError):
    """The truth would lie where the engine could find it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PoseTruth:
    """A probe's pose in the patient frame: X cranial, Y left, Z dorsal, mm from the centre of the left ventricle."""

    origin_mm: tuple[float, float, float]
    marker: tuple[float, float, float]
    normal: tuple[float, float, float]  # of the image plane, towards the viewer
    beam: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementTruth:
    """One step away from the standard pose."""

    movement: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTruth:
    """A fault and the habit that made it; "" for a slip."""

    fault: Fault
    title: str
    group: str
    habit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LandmarkTruth:
    """Where a landmark lies in the picture, and how far off its plane."""

    landmark: str
    row_px: float  # of the stored frame
    col_px: float
    off_plane_mm: float  # above 0 on the viewer's side
    in_picture: bool  # inside the fan; says nothing about the distance from the plane


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementTruth:
    """A distance, area or ratio that a caliper reads on the true label map."""

    quantity: str
    value: float
    unit: str
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MomentTruth:
    """One frame of which more is told."""

    moment: str  # "end-diastole", "end-systole", "after aortic closure"
    frame: int  # counted from 0
    time_ms: float
    pose: PoseTruth
    landmarks: tuple[LandmarkTruth, ...]
    measurements: tuple[MeasurementTruth, ...] = ()
    not_measured: tuple[str, ...] = ()  # and why
    label_map: str = ""  # name of the file beside this one; "" when none was asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTruth:
    """Everything that is true of one file of the study."""

    schema: int
    file: str
    number: int
    mode: str
    view: str  # key of the view that the hand was after
    said_view: str  # key of the view that a labelled study gives it
    is_labelled: bool
    is_still: bool
    is_sweep: bool
    times_ms: tuple[float, ...]
    beat_onsets_ms: tuple[float, ...]  # onsets of QRS within the clip: end-diastole
    breath_fraction: tuple[float, ...]  # of a full breath, at each frame: 0 end of expiration
    standard_pose: PoseTruth
    pose: PoseTruth  # at the middle of the clip
    scatter: tuple[MovementTruth, ...]  # what every hand adds; the movements of faults are under `faults`
    faults: tuple[FaultTruth, ...]
    setting: Any  # ClipSetting, as plain JSON
    picture: Any  # where the fan lies in the stored frames: Sector, and mm_per_px
    texts: Any
    ruler: Any
    moments: tuple[MomentTruth, ...]
    seed: int
    ring: str
    doppler: Any = None  # DopplerTruth of a rung of the ladder


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyTruth:
    """What holds for the whole study."""

    schema: int
    fanlight: str  # version
    numpy: str
    seed: int
    ring: str
    species: str
    weight_kg: float
    heart: str
    chest: str
    hand: Any  # Hand, as plain JSON: habits with their strength
    plan: str
    missing_views: tuple[str, ...]
    files: tuple[str, ...]
    animal: Any
    layout: str
    probe: str
    circulation: Any = None  # of a study with Doppler, as the two below: pressures, leaks, narrow places
    doppler_hand: Any = None
    missing_rungs: Any = ()  # of the views that are stored: rung, why it belongs to the study, why it is not there


def pose_truth(pose: Pose) -> PoseTruth:
    """Return a pose as numbers."""

    def three(vector: Any) -> tuple[float, float, float]:
        x, y, z = (round(float(v), 6) for v in vector)
        return x, y, z

    return PoseTruth(origin_mm=three(pose.origin_mm), marker=three(pose.x), normal=three(pose.y), beam=three(pose.z))


def to_plain(value: Any) -> Any:
    """Return a frozen value as dicts, lists, strings and numbers; enums become their value, arrays lists."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: to_plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(to_plain(key)): to_plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return to_plain(value.tolist())
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, (list, tuple, set, frozenset)):
        return [to_plain(item) for item in value]
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    return str(value)


def write_truth(path: Path, value: FileTruth | StudyTruth) -> None:
    """Write one truth file."""
    path.write_text(json.dumps(to_plain(value), indent=1, allow_nan=False) + "\n", encoding="utf-8")


def settle_truth_folder(study: Path, truth: Path | None) -> Path:
    """Return where the truth of a study goes: beside it, never inside it, nor the other way round.

    Raises
    ------
    TruthPlaceError
        If one folder lies in the other.
    """
    study = study.resolve()
    place = truth.resolve() if truth is not None else study.with_name(f"{study.name}-truth")
    if place == study or place.is_relative_to(study) or study.is_relative_to(place):
        raise TruthPlaceError(
            f"the truth must lie outside the study, where no review can read it; "
            f"the study is {study}, the truth {place}. Name another folder"
        )
    return place
