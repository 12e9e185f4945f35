"""Ask the engine about the Doppler clips of a folder, file by file as in a review, and keep what it said.

What stands where on the screen is kept apart from what the criteria said: it is the slow part, and changes seldom.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from fanlight.critique.doppler import colour_split
from fanlight.critique.families import FAMILIES
from fanlight.intake import Limits
from fanlight.recognise.named_view import read_named_view
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.review.box_split import SplitRules, with_box_split
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Clip, ClipReading, ClipTime, DrawnMark, FileMarks, Finding, House, Layout, Valve
from fanlight.study.codec import from_plain, to_plain
from measure._criterion_record import Answer, answer_of
from measure._doppler_cases import DOPPLER_FAMILY_NAMES
from measure._doppler_clips import ClipTruth, read_list
from measure._doppler_marks import marks_of
from measure._one_clip import one_clip

_LIMITS = Limits()
_NOT_ASKED = tuple(family.name for family in FAMILIES)  # of the grey picture: they have a table of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedClip:
    """One clip, what is true of it, and what the criteria said."""

    truth: ClipTruth
    mode_read: str  # "" where it was not sure
    answers: tuple[Answer, ...]
    by_network: tuple[Answer, ...] = ()  # of what marks tell: the same by the network's landmarks, without marks

    @property
    def is_good(self) -> bool:
        """Whether no fault was put on."""
        return not self.truth.fault

    def answer(self, criterion: str) -> Answer | None:
        """Return the answer of a criterion, None where it was not asked of this mode."""
        return next((answer for answer in self.answers if answer.criterion == criterion), None)


@cache
def _house() -> House:
    return load_house()


def _no_beat(phase: str, *, within_s: float = 0.0, done: int = 0) -> None:
    """Take a sign of life: nobody watches here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One subject to ask about, and the files in which its screens, a mentor's marks and the answers are kept."""

    ring: Ring
    folder: Path  # of its clips
    looks: Path
    marks: Path
    answers: Path


def ask_subject(job: Job) -> tuple[AskedClip, ...]:
    """Return the answers on all clips of a subject, from a file where they were given before.

    Raises
    ------
    RuntimeError
        If the engine refuses one of the files.
    """
    if job.answers.is_file():
        return tuple(_from_json(row) for row in json.loads(job.answers.read_text(encoding="utf-8")))
    seen = json.loads(job.looks.read_text(encoding="utf-8")) if job.looks.is_file() else {}
    truths = read_list(job.folder)
    marks = _marks_kept(job, truths[0].seed) if truths else {}
    asked: list[AskedClip] = []
    told: dict[str, Any] = {}
    for truth in truths:
        drawn = marks[truth.file]
        read, clip = _read(job.folder / truth.file, truth, drawn, seen.get(truth.file))
        told[truth.file] = _look_of(read)
        found = {**dict(read.families), colour_split.FAMILY.name: _split(read, clip, drawn, by_network=False)}
        asked.append(
            AskedClip(
                truth=truth,
                mode_read=read.mode.mode.value if read.mode.mode is not None else "",
                answers=tuple(answer_of(item) for name in DOPPLER_FAMILY_NAMES for item in found[name]),
                by_network=tuple(answer_of(item) for item in _split(read, clip, (), by_network=True)),
            )
        )
    if not seen:
        _write(job.looks, told)
    _write(job.answers, [asdict(clip) for clip in asked])
    return tuple(asked)


def _marks_kept(job: Job, seed: int) -> dict[str, tuple[DrawnMark, ...]]:
    """Return the marks on each clip of a subject, from a file where they were drawn before."""
    if not job.marks.is_file():
        drawn = marks_of(seed, job.ring)
        _write(job.marks, {name: to_plain(marks) for name, marks in drawn.items()})
    kept = json.loads(job.marks.read_text(encoding="utf-8"))
    return {name: from_plain(marks, tuple[DrawnMark, ...]) for name, marks in kept.items()}


def _split(read: ClipPass, clip: Clip, drawn: tuple[DrawnMark, ...], *, by_network: bool) -> tuple[Finding, ...]:
    """Return what is told of the box beside the valve, as in a review: by marks alone, or by the network alone."""
    reading = ClipReading(
        clip=clip, layout=read.layout, mode=read.mode, view=read.view, time=read.time,
        findings=dict(read.families)[colour_split.FAMILY.name], verdicts=(), frames_read=read.frames.n,
        picture=read.picture if by_network else None,
    )  # fmt: skip
    criterion = read_family(_house(), colour_split.FAMILY.name)[colour_split.KEY]
    return with_box_split(reading, drawn, SplitRules.of(_house(), criterion)).findings


def _read(
    path: Path, truth: ClipTruth, drawn: tuple[DrawnMark, ...], look: Mapping[str, Any] | None
) -> tuple[ClipPass, Clip]:
    """Read one file as a review does; view, valve and places are told as a mentor tells them, with marks."""
    item, clip = one_clip(path, _LIMITS)
    marks = FileMarks(name=path.name, view=truth.view, valve=Valve(truth.valve), drawn=drawn)
    known = Known(families=_NOT_ASKED)
    if look is not None:
        known = Known(
            layout=from_plain(look["layout"], Layout),
            view=read_named_view(clip, (), marks, _house()),
            time=from_plain(look["time"], ClipTime),
            families=_NOT_ASKED,
        )
    read = read_clip(item, clip, clip.patient, _house(), marks, known, _LIMITS, beat=_no_beat)
    if not isinstance(read, ClipPass):
        raise RuntimeError(f"{path}: the engine refuses a file of the simulator: {read}")
    return read, clip


def _look_of(read: ClipPass) -> dict[str, Any]:
    return {"layout": to_plain(read.layout), "time": to_plain(read.time)}


def _write(path: Path, value: Any) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_suffix(f".part{os.getpid()}")
    part.write_text(json.dumps(value), encoding="utf-8")
    part.rename(path)


def _from_json(row: dict[str, Any]) -> AskedClip:
    return AskedClip(
        truth=ClipTruth(**row["truth"]), mode_read=row["mode_read"],
        answers=tuple(Answer(**a) for a in row["answers"]), by_network=tuple(Answer(**a) for a in row["by_network"]),
    )  # fmt: skip
