"""What is true of one shot: pose, faults, landmarks in pixels, labels, and what a careful person would measure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks, sample
from fanlight.heart.calipers.view import measure_map
from fanlight.heart.cycle import Still, still_time_ms
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.label_map import LabelMap
from fanlight.heart.pose import Pose
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film
from fanlight.simulate.faults.doppler_faults import doppler_kind
from fanlight.simulate.faults.fault import Fault, FaultKind
from fanlight.simulate.faults.fault_doppler import DopplerFaultKind
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.simulate.screen.screen_truth import Placed, Screen
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.shot import Shot
from fanlight.simulate.visit.truth import (
    SCHEMA,
    FaultTruth,
    FileTruth,
    LandmarkTruth,
    MeasurementTruth,
    MomentTruth,
    MovementTruth,
    pose_truth,
)
from fanlight.study import Sector


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabelledPlane:
    """Labels of one frame, pixel by pixel, where its picture lies on the screen."""

    name: str  # of its file
    frame: int
    tissue: NDArray[np.uint8]  # (row, col); 0 outside the fan
    row0: int  # of its corner in the stored frame
    col0: int


_MOMENTS = {
    "end-diastole": Still.END_DIASTOLE,
    "end-systole": Still.END_SYSTOLE,
    "after aortic closure": Still.AFTER_AORTIC_CLOSURE,
}


def truth_of_shot(
    examination: Examination,
    shot: Shot,
    film: Film,
    screen: Screen | SpectralScreen,
    file: str,
    labelled: bool,
    label_maps: bool,
) -> tuple[FileTruth, tuple[LabelledPlane, ...]]:
    """Return the truth of a shot, and the labels of its moments when they are asked for.

    A strip without a picture beside it has no moments: nothing of the heart lies on its screen.
    """
    animal, setting = examination.animal, shot.setting
    moments: list[MomentTruth] = []
    planes: list[LabelledPlane] = []
    placed = screen.placed
    for moment, frame in _moments(animal, film) if placed is not None else ():
        assert placed is not None
        state, pose = film.states[frame], film.pose_at(film.times_ms[frame])
        plane = labels_of(animal, state, pose, placed, setting.recording.is_mirrored)
        read = measure_map(plane, setting.view)
        map_name = f"{shot.number:04d}-{moment.replace(' ', '-')}.npz" if label_maps else ""
        if label_maps:
            tissue = plane.shown()
            planes.append(
                LabelledPlane(
                    name=map_name,
                    frame=frame,
                    tissue=tissue[:, ::-1] if setting.recording.is_mirrored else tissue,
                    row0=placed.box.row0,
                    col0=placed.box.col0,
                )
            )
        moments.append(
            MomentTruth(
                moment=moment,
                frame=frame,
                time_ms=film.times_ms[frame],
                pose=pose_truth(pose),
                landmarks=landmarks_of(animal, state, pose, placed, setting.recording.is_mirrored),
                measurements=tuple(
                    MeasurementTruth(quantity=name, value=c.value, unit=c.unit, method=c.convention)
                    for name, c in read.items()
                    if c.value is not None
                ),
                not_measured=tuple(f"{name}: {c.reason}" for name, c in read.items() if c.value is None),
                label_map=map_name,
            )
        )
    return _file_truth(examination, shot, film, screen, file, labelled, tuple(moments)), tuple(planes)


def _file_truth(
    examination: Examination,
    shot: Shot,
    film: Film,
    screen: Screen | SpectralScreen,
    file: str,
    labelled: bool,
    moments: tuple[MomentTruth, ...],
) -> FileTruth:
    setting: ClipSetting = shot.setting
    habits = {fault.key: habit for fault, habit in shot.faults}
    return FileTruth(
        schema=SCHEMA,
        file=file,
        number=shot.number,
        mode=shot.mode.value,
        view=setting.view,
        said_view=setting.said_view,
        is_labelled=labelled,
        is_still=setting.recording.is_still,
        is_sweep=shot.is_sweep,
        times_ms=film.times_ms,
        beat_onsets_ms=film.onsets_ms,
        breath_fraction=tuple(round(state.breath, 4) for state in film.states),
        standard_pose=pose_truth(shot.standard.pose),
        pose=pose_truth(film.pose_at(film.times_ms[-1] / 2)),
        scatter=tuple(
            MovementTruth(movement=step.movement.value, amount=step.amount, unit=step.unit) for step in shot.scatter
        ),
        faults=tuple(
            FaultTruth(
                fault=fault,
                title=_kind(fault).title,
                group=_kind(fault).group.value,
                habit=habits[fault.key],
            )
            for fault, _ in shot.faults
        ),
        setting=replace(setting, pose=film.pose_at(0.0)),
        picture=screen.placed,
        texts=screen.texts,
        ruler=screen.ruler if isinstance(screen, Screen) else None,
        moments=moments,
        seed=examination.seed,
        ring=examination.ring.value,
    )


def _kind(fault: Fault) -> FaultKind | DopplerFaultKind:
    return FAULTS[fault.key] if fault.key in FAULTS else doppler_kind(fault.key)


def _moments(animal: Animal, film: Film) -> list[tuple[str, int]]:
    """Return the frames next to each named moment, of the first beat whose moment lies in the clip."""
    times = np.asarray(film.times_ms)
    if len(times) == 1:
        return [("end-diastole", 0)]
    found: list[tuple[str, int]] = []
    half_ms = 500.0 / film.rate_hz
    for moment, still in _MOMENTS.items():
        for index in range(len(film.beats) - 1):
            at = still_time_ms(animal.rhythm, film.beats, index, still) - film.start_ms
            if -half_ms <= at <= times[-1] + half_ms:
                found.append((moment, int(np.argmin(np.abs(times - at)))))
                break
    return found


def labels_of(animal: Animal, state: CycleState, pose: Pose, placed: Placed, is_mirrored: bool = False) -> LabelMap:
    """Return the tissue under each pixel of a painted picture, as the probe sees it (a mirrored one turned back)."""
    box, sector = placed.box, placed.sector_in_box
    if is_mirrored:
        sector = replace(
            sector,
            left_deg=-sector.right_deg,
            right_deg=-sector.left_deg,
            apex_col_px=box.width_px - 1 - sector.apex_col_px,
        )
    face_row = sector.apex_row_px + sector.near_px
    row, col = np.mgrid[0 : box.height_px, 0 : box.width_px].astype(np.float64)
    depth = (row - face_row) * placed.mm_per_px
    across = (col - sector.apex_col_px) * placed.mm_per_px
    x, y, z = ((pose.origin_mm[i] + across * pose.x[i] + depth * pose.z[i]).astype(np.float32) for i in range(3))
    return LabelMap(
        tissue=np.asarray(sample(animal, state, x, y, z).tissue, np.uint8),
        mm_per_px=placed.mm_per_px,
        pose=pose,
        face_row_px=face_row,
        face_col_px=sector.apex_col_px,
        inside=_in_fan(row, col, sector),
        landmarks_mm=animal_landmarks(animal, state),
    )


def _in_fan(row: NDArray[np.float64], col: NDArray[np.float64], sector: Sector) -> NDArray[np.bool_]:
    down, aside = row - sector.apex_row_px, col - sector.apex_col_px
    radius, angle = np.hypot(down, aside), np.degrees(np.arctan2(aside, down))
    in_depth = (radius >= sector.near_px) & (radius <= sector.far_px)
    return np.asarray(in_depth & (angle >= sector.left_deg) & (angle <= sector.right_deg))


def landmarks_of(
    animal: Animal, state: CycleState, pose: Pose, placed: Placed, is_mirrored: bool = False
) -> tuple[LandmarkTruth, ...]:
    """Return where every landmark falls on the screen, and how far off the plane it lies."""
    sector = placed.sector
    found = []
    for name, point in animal_landmarks(animal, state).items():
        across, off, depth = (float(v) for v in pose.to_probe(point))
        row = sector.apex_row_px + sector.near_px + depth / placed.mm_per_px
        col = sector.apex_col_px + (-across if is_mirrored else across) / placed.mm_per_px
        inside = bool(_in_fan(np.asarray(row), np.asarray(col), sector))
        found.append(LandmarkTruth(landmark=name.name, row_px=row, col_px=col, off_plane_mm=off, in_picture=inside))
    return tuple(found)
