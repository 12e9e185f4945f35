"""The whole job as a stream of events: files in, draft out. One broken file never stops a study."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fanlight.intake import Item
from fanlight.review.cache import Cache, NoCache
from fanlight.review.clip_pass import CHUNK, ClipPass, FramesRead, Known
from fanlight.review.conclude import conclude
from fanlight.review.events import (
    ClipFinished,
    ClipProgress,
    Event,
    FileRefused,
    ReviewFinished,
    StudyAssembled,
)
from fanlight.review.opening import NamedFiles, OpenStudy, ReadBefore, ReviewOptions, open_study, refusal_of
from fanlight.review.stages import StageKeys, missing_families, stage_keys
from fanlight.review.worker import Pulse, TaskError, Worker, is_the_machine_s_fault
from fanlight.study import (
    Clip,
    ClipReading,
    ClipTime,
    FileMarks,
    Finding,
    House,
    Layout,
    ModeReading,
    Patient,
    Refusal,
    Study,
    ViewReading,
)
from fanlight.study.codec import from_bytes, to_bytes

_TASKS = "fanlight.review.clip_pass"


def review_study(
    path: Path | NamedFiles,
    house: House,
    opened: OpenStudy,
    options: ReviewOptions | None = None,
    cache: Cache | None = None,
) -> Iterator[Event]:
    """Review a folder, zip or single file, or files that lie anywhere.

    Parameters
    ----------
    path : Path or NamedFiles
        As the user named it.
    house : House
        Tables of the teaching group.
    opened : OpenStudy
        Takes up where the files lie; keep it open to fetch frames afterwards.
    options : ReviewOptions, optional
        Request fields, plan, number of workers, limits.
    cache : Cache, optional
        Where results of stages are kept; nothing is kept by default.

    Yields
    ------
    Event
        The last one is `ReviewFinished`.
    """
    options = options or ReviewOptions()
    cache = cache or NoCache()
    study: Study | None = None
    refused: list[Refusal] = []
    readings: dict[str, ClipReading] = {}
    with Worker() as worker:
        for event in open_study(path, opened, options, worker):
            if isinstance(event, StudyAssembled):
                study = event.study
            yield event
        assert study is not None
        refused += study.refused
        for step in _read_clips(study, opened, house, options, cache, worker):
            if isinstance(step, ClipFinished):
                readings[step.reading.clip.key] = step.reading
                if step.reading.damage is not None:
                    refused.append(step.reading.damage)
            if isinstance(step, FileRefused):
                refused.append(step.refusal)
            yield step
    ordered = tuple(readings[clip.key] for clip in study.clips if clip.key in readings)
    yield ReviewFinished(review=conclude(study, ordered, tuple(refused), house, options.plan, marks=opened.marks))


def _read_before(clip: Clip, study: Study, marks: FileMarks | None, before: ReadBefore | None) -> ClipReading | None:
    """Return the kept reading of a clip, if nothing that it rests on has changed."""
    if before is None or marks is not None or before.patient != study.patient:
        return None
    for item in before.readings:
        if replace(item.clip, number=clip.number) == clip:
            return replace(item, clip=clip)
    return None


def _known(
    keys: StageKeys, stored: Mapping[str, bytes]
) -> tuple[Known, FramesRead | None, dict[str, tuple[Finding, ...]]]:
    def one(key: str, kind: Any) -> Any:
        return from_bytes(stored[key], kind) if key in stored else None

    findings = {name: from_bytes(stored[key], tuple[Finding, ...]) for name, key in keys.families if key in stored}
    known = Known(
        layout=one(keys.layout, Layout),
        mode=one(keys.mode, ModeReading),
        view=one(keys.view, ViewReading),
        time=one(keys.time, ClipTime),
        families=tuple(findings),
    )
    return known, one(keys.frames, FramesRead), findings


def _reading(clip: Clip, done: ClipPass, findings: Mapping[str, tuple[Finding, ...]], keys: StageKeys) -> ClipReading:
    frames = done.frames
    damage = None
    if frames.damaged_frame is not None:
        damage = Refusal(
            name=clip.name,
            place=f"frame {frames.damaged_frame + 1}",
            expected=f"{clip.n_frames} frames that can be decoded",
            found=frames.damage,
            remedy=f"The {frames.n} frames before it are used; send the original file again for the rest.",
        )
    # A frame of the first chunk stands for the clip: it can be fetched again without decoding all of it.
    last_near = max(0, min(frames.n, CHUNK) - 1)
    diastole = [index for index in done.time.end_diastole_frames if index <= last_near]
    return ClipReading(
        clip=clip,
        layout=done.layout,
        mode=done.mode,
        view=done.view,
        time=done.time,
        findings=tuple(item for name, _ in keys.families for item in findings[name]),
        verdicts=(),
        frames_read=frames.n,
        key_frame=diastole[0] if diastole else last_near // 2,
        damage=damage,
        seconds=done.seconds,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    clip: Clip
    item: Item
    marks: FileMarks | None
    keys: StageKeys
    known: Known
    findings: dict[str, tuple[Finding, ...]]
    is_second_try: bool = False  # the machine held it up before


def _read_clips(
    study: Study, opened: OpenStudy, house: House, options: ReviewOptions, cache: Cache, first_worker: Worker
) -> Iterator[Event]:
    jobs: list[_Job] = []
    for clip in study.clips:
        marks = opened.marks.get(clip.key)
        if (kept := _read_before(clip, study, marks, options.before)) is not None:
            yield ClipFinished(reading=kept, from_cache=True)
            continue
        keys = stage_keys(clip, study.patient, marks, house)
        stored = cache.get(keys.all())
        known, frames, findings = _known(keys, stored)
        if (
            frames is not None
            and known.layout is not None
            and known.mode is not None
            and known.view is not None
            and known.time is not None
            and not missing_families(keys, stored)
        ):
            done = ClipPass(
                frames=frames, layout=known.layout, mode=known.mode, view=known.view, time=known.time,
                families=tuple(findings.items()), seconds=(),
            )  # fmt: skip
            yield ClipFinished(reading=_reading(clip, done, findings, keys), from_cache=True)
        else:
            jobs.append(
                _Job(clip=clip, item=opened.items[clip.key], marks=marks, keys=keys, known=known, findings=findings)
            )
    if not jobs:
        return
    yield from _run_jobs(jobs, study.patient, house, options, cache, first_worker)


def _run_jobs(
    jobs: list[_Job], patient: Patient, house: House, options: ReviewOptions, cache: Cache, first_worker: Worker
) -> Iterator[Event]:
    """Read clips in as many processes as asked for; a thread beside each process waits for its answers.

    A clip that the machine held up is tried once more after the others, before it is refused.
    """
    waiting: queue.SimpleQueue[_Job] = queue.SimpleQueue()
    for job in jobs:
        waiting.put(job)
    said: queue.SimpleQueue[Event | tuple[_Job, ClipPass] | BaseException | None] = queue.SimpleQueue()
    stop = threading.Event()
    n_workers = max(1, min(options.workers, len(jobs)))

    def work(worker: Worker) -> None:
        try:
            while not stop.is_set():
                try:
                    job = waiting.get_nowait()
                except queue.Empty:
                    return
                answer = _read_one(job, worker, patient, house, options, said, stop)
                if isinstance(answer, _Job):
                    waiting.put(answer)  # behind all others; this thread comes to it if no other does
                else:
                    said.put(answer)
        except BaseException as error:
            said.put(error)
        finally:
            said.put(None)

    workers = [first_worker, *(Worker() for _ in range(n_workers - 1))]
    threads = [threading.Thread(target=work, args=(worker,), daemon=True) for worker in workers]
    for thread in threads:
        thread.start()
    running = len(threads)
    try:
        while running:
            message = said.get()
            if message is None:
                running -= 1
            elif isinstance(message, BaseException):
                raise message
            elif isinstance(message, tuple):
                job, done = message
                yield _keep(job, done, cache)
            else:
                yield message
    finally:
        stop.set()
        for worker in workers[1:]:
            worker.close()
        if running:
            first_worker.close()


def _read_one(
    job: _Job,
    worker: Worker,
    patient: Patient,
    house: House,
    options: ReviewOptions,
    said: queue.SimpleQueue[Any],
    stop: threading.Event,
) -> Event | _Job | tuple[_Job, ClipPass]:
    """Return what was read of a clip, why nothing was, or the job that is worth a second try."""

    def progress(pulse: Pulse) -> None:
        if not stop.is_set():
            said.put(
                ClipProgress(
                    number=job.clip.number, phase=pulse.phase, frames_done=pulse.done, n_frames=job.clip.n_frames
                )
            )

    try:
        done: ClipPass | Refusal = worker.call(
            f"{_TASKS}:read_clip",
            job.item,
            job.clip,
            patient,
            house,
            job.marks,
            job.known,
            options.limits,
            on_pulse=progress,
        )
    except TaskError as error:
        if is_the_machine_s_fault(error) and not job.is_second_try:
            return replace(job, is_second_try=True)
        return FileRefused(refusal=refusal_of(job.clip.name, error))
    if isinstance(done, Refusal):
        return FileRefused(refusal=done)
    return job, done


def _keep(job: _Job, done: ClipPass, cache: Cache) -> ClipFinished:
    """Store what is new and return the reading."""
    keys = job.keys
    findings = job.findings | dict(done.families)
    values = {
        keys.frames: to_bytes(done.frames),
        keys.layout: to_bytes(done.layout),
        keys.mode: to_bytes(done.mode),
        keys.view: to_bytes(done.view),
        keys.time: to_bytes(done.time),
    }
    family_keys = dict(keys.families)
    values |= {family_keys[name]: to_bytes(found, tuple[Finding, ...]) for name, found in done.families}
    cache.put(values)
    return ClipFinished(reading=_reading(job.clip, done, findings, keys), from_cache=False)
