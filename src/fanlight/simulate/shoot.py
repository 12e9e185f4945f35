"""Scan one shot of an examination: make its picture, store it as the console does, and say what is true of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np

from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.clip_setting import ClipSetting
from fanlight.simulate.dicom_file import ClipFacts, ImageMode, view_tags, write_clip
from fanlight.simulate.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.ecg_trace import r_wave_times_ms
from fanlight.simulate.examination import Examination, Shot
from fanlight.simulate.film import Film, shoot_times
from fanlight.simulate.picture import screen_of
from fanlight.simulate.probe import ArrayKind
from fanlight.simulate.screen_facts import ScreenFacts
from fanlight.simulate.screen_truth import Screen
from fanlight.simulate.shot_truth import LabelledPlane, truth_of_shot
from fanlight.simulate.truth import FileTruth, write_truth
from fanlight.study import House, Mode

M_MODE_RATE_HZ = 20.0  # stored pictures of a running strip: each shows it all, so few are needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Where a study goes and what goes with it."""

    study: Path
    truth: Path
    labelled: bool = False
    label_maps: bool = False


@lru_cache(maxsize=1)
def _house() -> House:
    return load_house()  # the shipped tables: names of views are not a teaching group's business here


def file_name(number: int) -> str:
    """Return the name of a file of the study: a number and nothing that tells what it shows."""
    return f"{number:04d}.dcm"


def shoot(examination: Examination, shot: Shot, wanted: Wanted) -> FileTruth:
    """Make one still or clip, write it and its truth, and return the truth."""
    setting = shot.setting
    # A stream of its own for each shot: the same whatever was scanned before, and in whatever process.
    rng = np.random.default_rng([examination.seed, 5, ord(examination.ring.value), shot.number])
    rate = M_MODE_RATE_HZ if setting.mode is Mode.M_MODE else None
    film = shoot_times(examination.animal, setting, start_ms=shot.start_ms, rate_hz=rate)
    screen = screen_of(
        examination.animal,
        setting,
        film,
        examination.layout,
        _facts(examination, shot, film),
        rng,
        labelled=wanted.labelled,
        table=examination.generator.table(),
    )
    name = file_name(shot.number)
    r_times = tuple(t - film.start_ms for t in r_wave_times_ms(examination.animal.rhythm, film.beats))
    clip = _clip_facts(shot, film, screen, r_times, wanted.labelled)
    quality = setting.recording.jpeg_quality or USUAL_JPEG_QUALITY
    write_clip(wanted.study / name, clip, examination.facts, jpeg_quality=quality)
    truth, planes = truth_of_shot(examination, shot, film, screen, name, wanted.labelled, wanted.label_maps)
    for plane in planes:
        _write_plane(wanted.truth / plane.name, plane)
    write_truth(wanted.truth / f"{shot.number:04d}.json", truth)
    return truth


def _write_plane(path: Path, plane: LabelledPlane) -> None:
    np.savez_compressed(path, tissue=plane.tissue, row0=plane.row0, col0=plane.col0, frame=plane.frame)


def _facts(examination: Examination, shot: Shot, film: Film) -> ScreenFacts:
    console, recording = shot.setting.console, shot.setting.recording
    facts = examination.facts
    return ScreenFacts(
        depth_mm=console.depth_mm,
        frequency_mhz=console.frequency_mhz,
        gain_db=console.gain_db,
        dynamic_range_db=console.dynamic_range_db,
        frame_rate_hz=film.rate_hz,
        harmonics=console.is_harmonic,
        focus_mm=min(console.focus_mm, console.depth_mm),
        heart_rate_bpm=round(60_000.0 / film.rr_ms) if recording.has_ecg else None,
        sweep_mm_s=recording.sweep_mm_s if shot.setting.mode is Mode.M_MODE else None,
        practice=facts.practice.name,
        animal=facts.patient.animal_name,
        owner=facts.patient.responsible.family,
        case_number=facts.patient.case_number,
        at=facts.began_at + timedelta(seconds=round(shot.since_start_s)),
        view=read_views(_house())[shot.setting.said_view].title,
    )


def _clip_facts(shot: Shot, film: Film, screen: Screen, r_times: tuple[float, ...], labelled: bool) -> ClipFacts:
    setting: ClipSetting = shot.setting
    is_curved = setting.probe.kind is ArrayKind.CURVED
    has_ecg = setting.recording.has_ecg
    return ClipFacts(
        number=shot.number,
        frames=screen.frames,
        regions=screen.regions,
        times_ms=film.times_ms,
        since_start=timedelta(seconds=round(shot.since_start_s)),
        mode=ImageMode.M_MODE if setting.mode is Mode.M_MODE else ImageMode.TWO_D,
        heart_rate_bpm=60_000.0 / film.rr_ms if has_ecg else None,
        r_wave_times_ms=tuple(t for t in r_times if 0 <= t <= film.times_ms[-1]) if has_ecg else (),
        focus_depth_mm=setting.console.focus_mm,
        depth_mm=setting.console.depth_mm,
        transducer_type="CURVED LINEAR" if is_curved else "SECTOR_PHASED",
        view=view_tags(_house(), setting.said_view) if labelled else None,
    )
