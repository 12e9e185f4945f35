"""Clips read in processes, a thread beside each: in their order, and again where the machine held one up."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from fanlight.intake import Item
from fanlight.recognise.picture_reading import why_not_asked, with_proposal
from fanlight.reference.chambers import read_chambers
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.review.cache import Cache
from fanlight.review.clip_pass import CHUNK, ClipPass, Known
from fanlight.review.events import ClipFinished, ClipProgress, Event, FileRefused
from fanlight.review.opening import ReviewOptions, refusal_of
from fanlight.review.stages import StageKeys
from fanlight.review.worker import Pulse, TaskError, Worker, is_the_machine_s_fault
from fanlight.study import Clip, ClipReading, FileMarks, Finding, House, Measurement, Patient, Refusal
from fanlight.study.codec import to_bytes

_TASKS = "fanlight.review.clip_pass"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A clip to read, and what is known of it already."""

    clip: Clip
    item: Item
    marks: FileMarks | None
    keys: StageKeys
    known: Known
    findings: dict[str, tuple[Finding, ...]]
    is_second_try: bool = False  # the machine held it up before


def run_jobs(
    jobs: list[Job], patient: Patient, house: House, options: ReviewOptions, cache: Cache, first_worker: Worker
) -> Iterator[Event]:
    """Read clips in as many processes as asked for; a thread beside each process waits for its answers.

    A clip that the machine held up is tried once more after the others, before it is refused.
    """
    waiting: queue.SimpleQueue[Job] = queue.SimpleQueue()
    for job in jobs:
        waiting.put(job)
    said: queue.SimpleQueue[Event | tuple[Job, ClipPass] | BaseException | None] = queue.SimpleQueue()
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
                if isinstance(answer, Job):
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
                yield _keep(job, done, cache, house)
            else:
                yield message
    finally:
        stop.set()
        for worker in workers[1:]:
            worker.close()
        if running:
            first_worker.close()


def _read_one(
    job: Job,
    worker: Worker,
    patient: Patient,
    house: House,
    options: ReviewOptions,
    said: queue.SimpleQueue[Any],
    stop: threading.Event,
) -> Event | Job | tuple[Job, ClipPass]:
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


def _keep(job: Job, done: ClipPass, cache: Cache, house: House) -> ClipFinished:
    """Store what is new and return the reading."""
    keys = job.keys
    findings = job.findings | dict(done.families)
    values = {
        keys.frames: to_bytes(done.frames),
        keys.layout: to_bytes(done.layout),
        keys.mode: to_bytes(done.mode),
        keys.view: to_bytes(done.view),
        keys.time: to_bytes(done.time),
        keys.measured: to_bytes(done.measured, tuple[Measurement, ...]),
    }
    if not done.picture.reason or why_not_asked(done.mode, done.layout):
        values[keys.picture] = to_bytes(done.picture)  # a network that failed is asked again: it may be mended by then
    family_keys = dict(keys.families)
    values |= {family_keys[name]: to_bytes(found, tuple[Finding, ...]) for name, found in done.families}
    cache.put(values)
    return ClipFinished(reading=reading_of(job.clip, done, findings, keys, house), from_cache=False)


def reading_of(
    clip: Clip, done: ClipPass, findings: Mapping[str, tuple[Finding, ...]], keys: StageKeys, house: House
) -> ClipReading:
    """Return a clip as the review holds it, with the view that is proposed for it where nothing names one."""
    titles = {key: view.title for key, view in read_views(house).items()}
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
        view=with_proposal(done.view, done.picture, read_recognition_limits(house), titles, read_chambers(house)),
        picture=done.picture,
        measured=done.measured,
        measured_as=(done.view.view, done.view.valve),
        time=done.time,
        findings=tuple(item for name, _ in keys.families for item in findings[name]),
        verdicts=(),
        frames_read=frames.n,
        key_frame=diastole[0] if diastole else last_near // 2,
        damage=damage,
        seconds=done.seconds,
    )
