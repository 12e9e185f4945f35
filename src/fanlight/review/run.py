"""The whole job as a stream of events: files in, draft out. One broken file never stops a study."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fanlight.review.cache import Cache, NoCache
from fanlight.review.clip_jobs import Job, reading_of, run_jobs
from fanlight.review.clip_pass import ClipPass, FramesRead, Known
from fanlight.review.conclude import conclude
from fanlight.review.events import (
    ClipFinished,
    Event,
    FileRefused,
    ReviewFinished,
    StudyAssembled,
)
from fanlight.review.opening import NamedFiles, OpenStudy, ReadBefore, ReviewOptions, open_study
from fanlight.review.stages import StageKeys, missing_families, stage_keys
from fanlight.review.worker import Worker
from fanlight.study import (
    Clip,
    ClipReading,
    ClipTime,
    FileMarks,
    Finding,
    House,
    Layout,
    Measurement,
    ModeReading,
    PictureReading,
    Refusal,
    Study,
    ViewReading,
    named_mode,
)
from fanlight.study.codec import from_bytes


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
    keys: StageKeys, stored: Mapping[str, bytes], marks: FileMarks | None
) -> tuple[Known, FramesRead | None, dict[str, tuple[Finding, ...]]]:
    def one(key: str, kind: Any) -> Any:
        return from_bytes(stored[key], kind) if key in stored else None

    findings = {name: from_bytes(stored[key], tuple[Finding, ...]) for name, key in keys.families if key in stored}
    known = Known(
        layout=one(keys.layout, Layout),
        # What a person names is not asked of the pixels.
        mode=named_mode(marks.mode) if marks is not None and marks.mode is not None else one(keys.mode, ModeReading),
        view=one(keys.view, ViewReading),
        time=one(keys.time, ClipTime),
        picture=one(keys.picture, PictureReading),
        measured=one(keys.measured, tuple[Measurement, ...]),
        families=tuple(findings),
    )
    return known, one(keys.frames, FramesRead), findings


def _read_clips(
    study: Study, opened: OpenStudy, house: House, options: ReviewOptions, cache: Cache, first_worker: Worker
) -> Iterator[Event]:
    jobs: list[Job] = []
    for clip in study.clips:
        marks = opened.marks.get(clip.key)
        if (kept := _read_before(clip, study, marks, options.before)) is not None:
            yield ClipFinished(reading=kept, from_cache=True)
            continue
        keys = stage_keys(clip, study.patient, marks, house)
        stored = cache.get(keys.all())
        known, frames, findings = _known(keys, stored, marks)
        if (
            frames is not None
            and known.layout is not None
            and known.mode is not None
            and known.view is not None
            and known.time is not None
            and known.picture is not None
            and known.measured is not None
            and not missing_families(keys, stored)
        ):
            done = ClipPass(
                frames=frames, layout=known.layout, mode=known.mode, view=known.view, time=known.time,
                picture=known.picture, measured=known.measured, families=tuple(findings.items()), seconds=(),
            )  # fmt: skip
            yield ClipFinished(reading=reading_of(clip, done, findings, keys, house), from_cache=True)
        else:
            jobs.append(
                Job(clip=clip, item=opened.items[clip.key], marks=marks, keys=keys, known=known, findings=findings)
            )
    if not jobs:
        return
    yield from run_jobs(jobs, study.patient, house, options, cache, first_worker)
