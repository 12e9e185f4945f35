"""What the screen and the file of one shot say, whatever it is made of."""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache

from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film
from fanlight.simulate.dicom.dicom_file import ClipFacts, ImageMode, view_tags
from fanlight.simulate.machine.probe import ArrayKind
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.shot import Shot
from fanlight.study import House, Mode


@lru_cache(maxsize=1)
def house() -> House:
    """Return the shipped tables: names of views are not a teaching group's business here."""
    return load_house()


def file_name(number: int) -> str:
    """Return the name of a file of the study: a number and nothing that tells what it shows."""
    return f"{number:04d}.dcm"


def screen_facts(examination: Examination, shot: Shot, film: Film) -> ScreenFacts:
    """Return what the screen says of the machine, the animal and the practice."""
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
        view=read_views(house())[shot.setting.said_view].title,
    )


def clip_facts(
    examination: Examination, shot: Shot, film: Film, screen: Screen | SpectralScreen, labelled: bool
) -> ClipFacts:
    """Return what the file says of a still or clip."""
    setting: ClipSetting = shot.setting
    is_curved = setting.probe.kind is ArrayKind.CURVED
    has_ecg = setting.recording.has_ecg
    r_times = tuple(t - film.start_ms for t in r_wave_times_ms(examination.animal.rhythm, film.beats))
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
        view=view_tags(house(), setting.said_view) if labelled else None,
    )
