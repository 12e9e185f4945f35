"""Scan one shot of an examination: make its picture, store it as the console does, and say what is true of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fanlight.simulate.clip.film import shoot_times
from fanlight.simulate.clip.picture import screen_of
from fanlight.simulate.dicom.dicom_file import write_clip
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.shoot_doppler import shoot_doppler
from fanlight.simulate.visit.shot import Shot
from fanlight.simulate.visit.shot_facts import clip_facts, file_name, screen_facts
from fanlight.simulate.visit.shot_truth import LabelledPlane, truth_of_shot
from fanlight.simulate.visit.truth import FileTruth, write_truth
from fanlight.study import SPECTRA, Mode

M_MODE_RATE_HZ = 20.0  # stored pictures of a running strip: each shows it all, so few are needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Where a study goes and what goes with it."""

    study: Path
    truth: Path
    labelled: bool = False
    labels_strips: bool = False  # M-modes and spectra name their view though pictures do not
    label_maps: bool = False


def shoot(examination: Examination, shot: Shot, wanted: Wanted) -> FileTruth:
    """Make one still or clip, write it and its truth, and return the truth."""
    # A stream of its own for each shot: the same whatever was scanned before, and in whatever process.
    rng = np.random.default_rng([examination.seed, 5, ord(examination.ring.value), shot.number])
    is_strip = shot.mode is Mode.M_MODE or shot.mode in SPECTRA
    labelled = wanted.labelled or (wanted.labels_strips and is_strip)
    truth, planes = (_shoot_picture if shot.doppler is None else shoot_doppler)(
        examination, shot, wanted.study, rng, labelled=labelled, label_maps=wanted.label_maps
    )
    for plane in planes:
        _write_plane(wanted.truth / plane.name, plane)
    write_truth(wanted.truth / f"{shot.number:04d}.json", truth)
    return truth


def _shoot_picture(
    examination: Examination,
    shot: Shot,
    study: Path,
    rng: np.random.Generator,
    *,
    labelled: bool,
    label_maps: bool,
) -> tuple[FileTruth, tuple[LabelledPlane, ...]]:
    """Make a 2-D still or clip or an M-mode, and write its file."""
    setting = shot.setting
    rate = M_MODE_RATE_HZ if setting.mode is Mode.M_MODE else None
    film = shoot_times(examination.animal, setting, start_ms=shot.start_ms, rate_hz=rate)
    screen = screen_of(
        examination.animal,
        setting,
        film,
        examination.layout,
        screen_facts(examination, shot, film),
        rng,
        labelled=labelled,
        table=examination.generator.table(),
    )
    name = file_name(shot.number)
    clip = clip_facts(examination, shot, film, screen, labelled)
    quality = setting.recording.jpeg_quality or USUAL_JPEG_QUALITY
    write_clip(study / name, clip, examination.facts, jpeg_quality=quality)
    return truth_of_shot(examination, shot, film, screen, name, labelled, label_maps)


def _write_plane(path: Path, plane: LabelledPlane) -> None:
    np.savez_compressed(path, tissue=plane.tissue, row0=plane.row0, col0=plane.col0, frame=plane.frame)
