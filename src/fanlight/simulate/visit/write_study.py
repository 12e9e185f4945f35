"""Make a whole simulated study: files and request sheet in one folder, truth in another; clip by clip, as it goes."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace

import cv2
import numpy as np

from fanlight import __version__
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.request import draw_request, write_request
from fanlight.simulate.visit.shoot import Wanted, shoot
from fanlight.simulate.visit.shot import Shot
from fanlight.simulate.visit.shot_facts import file_name
from fanlight.simulate.visit.trainee_numbers import read_as_trainee
from fanlight.simulate.visit.truth import SCHEMA, FileTruth, StudyTruth, write_truth

TRAINING_LEVEL = {  # keys of plans.toml
    HandLevel.NOVICE: "starting",
    HandLevel.IMPROVING: "practice",
    HandLevel.STEADY: "advanced",
}


class FolderInUseError(ValueError):
    """A folder to be written holds something already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileWritten:
    """One still or clip and its truth lie on the disk."""

    file: str
    done: int
    of: int


def check_folders(wanted: Wanted) -> None:
    """Say at once, before anything is made, that a folder is in use.

    Raises
    ------
    FolderInUseError
        If one holds anything: nothing that is there is written over.
    """
    for folder in (wanted.study, wanted.truth):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise FolderInUseError(f"{folder}: expected a new or empty folder, found something in it. Name another one")


def make_folders(wanted: Wanted) -> None:
    """Make the folders of study and truth; errors as in `check_folders`."""
    check_folders(wanted)
    for folder in (wanted.study, wanted.truth):
        folder.mkdir(parents=True, exist_ok=True)


def write_study(examination: Examination, wanted: Wanted, *, workers: int = 2) -> Iterator[FileWritten]:
    """Write the study and its truth; yields after each file.

    Parameters
    ----------
    examination : Examination
        What is scanned. The same one gives the same bytes, however many workers there are.
    wanted : Wanted
        Folders; `make_folders` has made them.
    workers : int
        Processes that make pictures; 1 makes them in this one.
    """
    truths: dict[int, FileTruth] = {}
    total = len(examination.shots)
    for truth in _each(examination, wanted, workers):
        truths[truth.number] = truth
        yield FileWritten(file=truth.file, done=len(truths), of=total)
    rng = np.random.default_rng([examination.seed, 7, ord(examination.ring.value)])
    sheet = draw_request(
        examination.facts,
        examination.animal.heart,
        rng,
        training_level=TRAINING_LEVEL[examination.hand.level],
        heart_rate_bpm=examination.animal.rhythm.rate_bpm,
    )
    numbers = read_as_trainee([truths[number] for number in sorted(truths)], rng)
    sheet = replace(sheet, request=replace(sheet.request, trainee_measurements=numbers))
    write_request(wanted.study, sheet)
    write_truth(wanted.truth / "study.json", _study_truth(examination))


def _each(examination: Examination, wanted: Wanted, workers: int) -> Iterator[FileTruth]:
    if workers == 1:
        for shot in examination.shots:
            yield shoot(examination, shot, wanted)
        return
    # Spawned, not forked: a child must not inherit the locks of this process's threads.
    context = multiprocessing.get_context("spawn")
    with _single_threaded(), ProcessPoolExecutor(workers, mp_context=context, initializer=_one_thread) as pool:
        jobs = [pool.submit(shoot, examination, shot, wanted) for shot in _longest_first(examination.shots)]
        try:
            for job in as_completed(jobs):
                yield job.result()
        finally:
            for job in jobs:
                job.cancel()


def _longest_first(shots: tuple[Shot, ...]) -> list[Shot]:
    """Start what takes longest first, so that no worker is left alone with it at the end."""
    return sorted(shots, key=lambda shot: 0.0 if shot.setting.recording.is_still else -shot.setting.recording.beats)


@contextmanager
def _single_threaded() -> Iterator[None]:
    """Let children start with one thread for each library: they inherit the environment, and read it on import."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _one_thread() -> None:
    cv2.setNumThreads(1)


def _study_truth(examination: Examination) -> StudyTruth:
    animal = examination.animal
    return StudyTruth(
        schema=SCHEMA,
        fanlight=__version__,
        numpy=np.__version__,
        seed=examination.seed,
        ring=examination.ring.value,
        species=animal.species.value,
        weight_kg=animal.weight_kg,
        heart=animal.heart.value,
        chest=animal.chest.value,
        hand=examination.hand,
        plan=examination.plan,
        missing_views=examination.missing_views,
        files=tuple(file_name(shot.number) for shot in examination.shots),
        animal=animal,
        layout=examination.layout.key,
        probe=examination.generator.probe.name,
        circulation=examination.circulation,
        doppler_hand=examination.doppler_hand,
        missing_rungs=examination.missing_rungs,
    )
