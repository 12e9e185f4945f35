"""Whether the mode of an M-mode is told from its screen, by ring; the row of the modes that no other table holds.

    python -m measure.recognition_m_mode                 draws, reads, writes docs/model-card.md; some ten minutes
    python -m measure.recognition_m_mode --subjects 2 --print

A steady hand's M-mode of the left ventricle, or of aorta and atrium, one a subject in turn, as a still on the ring's
own screen; sweep, gain and dynamic range are drawn from the seed. Two in three have region tags, two in three an ECG.
It is stored as a file and read as a review reads it.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

import argparse
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import shoot_times
from fanlight.simulate.clip.picture import screen_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.dicom.dicom_file import ClipFacts, write_clip
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.practice import draw_facts
from fanlight.study import Mode
from measure._criterion_clips import Subject, draw_subject
from measure._described import described
from measure._recognition_file_answers import read_file
from measure.recognition import FIRST_SEED, NAMES
from measure.recognition_files import PAGE
from measure.recognition_modes import Told, table
from scripts.measured import write_table

SCRIPT = "measure/recognition_m_mode.py"
TABLE = "recognition-m-mode"
N_SUBJECTS = 21  # of each ring: three of each class of heart
PLACES = (
    ("right_parasternal_short_axis_chordae", "right_parasternal_short_axis_papillary_muscles"),
    ("right_parasternal_short_axis_aorta",),
)  # views in which the cursor is laid, the next where the chest hides one
SWEEPS_MM_S = (50.0, 66.0, 100.0, 150.0)
GAIN_SD_DB, DYNAMIC_RANGE_DB = 4.0, (48.0, 55.0, 62.0, 70.0)
DESCRIBES = (
    SCRIPT, "measure/_criterion_clips.py",
    *(f"src/fanlight/recognise/{name}.py" for name in (
        "lasting_structure", "mode", "mode_features", "mode_weights", "spectrum_kind", "spectrum_signs",
        "strip_look")),
)  # fmt: skip


def _setting(subject: Subject, rng: np.random.Generator) -> ClipSetting | None:
    for view in PLACES[subject.seed % len(PLACES)]:
        try:
            setting = steady_setting(
                subject.animal, view, mode=Mode.M_MODE, probe=subject.generator.probe, console=subject.generator.console
            )
        except ValueError:
            continue
        console = replace(
            setting.console, gain_db=setting.console.gain_db + float(rng.normal(0.0, GAIN_SD_DB)),
            dynamic_range_db=float(rng.choice(DYNAMIC_RANGE_DB)),
        )  # fmt: skip
        recording = replace(
            setting.recording, is_still=True, sweep_mm_s=float(rng.choice(SWEEPS_MM_S)), has_ecg=subject.seed % 3 != 0
        )
        return replace(setting, console=console, recording=recording)
    return None


def mode_of(seed: int, ring: Ring, folder: Path) -> str | None:
    """Return the mode that is told of a subject's M-mode, "" where it is not sure; None where no cursor can be laid."""
    rng = np.random.default_rng([seed, 211])
    subject = draw_subject(seed, ring)
    setting = _setting(subject, rng)
    if setting is None:
        return None
    animal, console, recording = subject.animal, setting.console, setting.recording
    visit = draw_facts(seed=seed, species=animal.species, weight_kg=animal.weight_kg)
    film = shoot_times(animal, setting, start_ms=subject.start_ms)
    rate_bpm = 60_000.0 / film.rr_ms if recording.has_ecg else None
    words = ScreenFacts(
        depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=console.gain_db,
        dynamic_range_db=console.dynamic_range_db, frame_rate_hz=film.rate_hz, harmonics=console.is_harmonic,
        focus_mm=min(console.focus_mm, console.depth_mm), sweep_mm_s=recording.sweep_mm_s,
        heart_rate_bpm=None if rate_bpm is None else round(rate_bpm), practice=visit.practice.name,
        animal=visit.patient.animal_name, owner=visit.patient.responsible.family,
        case_number=visit.patient.case_number, at=visit.began_at,
    )  # fmt: skip
    screen = screen_of(
        animal, setting, film, subject.generator.layout, words, rng, table=subject.generator.table()
    )  # fmt: skip
    clip = ClipFacts(
        number=1, frames=screen.frames, regions=screen.regions if (seed // 3) % 3 != 0 else (),
        times_ms=(0.0,) * len(screen.frames), since_start=timedelta(seconds=60), heart_rate_bpm=rate_bpm,
        depth_mm=console.depth_mm,
    )  # fmt: skip
    read = read_file(write_clip(folder / f"{seed}.dcm", clip, visit))
    return read.mode.mode.value if read.mode.mode is not None else ""


def _asked(folder: Path, job: tuple[int, Ring]) -> str | None:
    cv2.setNumThreads(1)
    return mode_of(*job, folder)


def main() -> None:
    """Read the command line, draw, read, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--print", action="store_true", help="write no page")
    given = parser.parse_args()
    rings: dict[str, list[Told]] = {NAMES[ring]: [] for ring in Ring}
    jobs = [(FIRST_SEED[ring] + k, ring) for k in range(given.subjects) for ring in Ring]
    with tempfile.TemporaryDirectory() as made, ProcessPoolExecutor(2) as pool:
        for (seed, ring), told in zip(jobs, pool.map(partial(_asked, Path(made)), jobs), strict=True):
            print(f"ring {NAMES[ring]}, seed {seed}: {told}", flush=True)
            if told is not None:
                rings[NAMES[ring]].append((Mode.M_MODE.value, told))
    print(table(rings))
    if not given.print:
        spans = [f"ring {NAMES[ring]} {FIRST_SEED[ring]}-{FIRST_SEED[ring] + given.subjects - 1}" for ring in Ring]
        write_table(PAGE, TABLE, table(rings), script=SCRIPT, describes=described(*DESCRIBES), seeds=", ".join(spans))


if __name__ == "__main__":
    main()
