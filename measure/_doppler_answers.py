"""Ask the engine about the Doppler clips of a folder, file by file as in a review, and keep what it said.

What stands where on the screen is kept apart from what the criteria said: it is the slow part, and changes seldom.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from fanlight.critique.families import FAMILIES
from fanlight.intake import Item, Limits, gather, probe_item
from fanlight.recognise.named_view import read_named_view
from fanlight.reference.load import load_house
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.study import Clip, ClipTime, FileMarks, House, Layout, Valve
from fanlight.study.codec import from_plain, to_plain
from measure._criterion_record import Answer, answer_of
from measure._doppler_cases import DOPPLER_FAMILY_NAMES
from measure._doppler_clips import ClipTruth, read_list

_LIMITS = Limits()
_NOT_ASKED = tuple(family.name for family in FAMILIES)  # of the grey picture: they have a table of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedClip:
    """One clip, what is true of it, and what the criteria said."""

    truth: ClipTruth
    mode_read: str  # "" where it was not sure
    answers: tuple[Answer, ...]

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


def ask_subject(folder: Path, looks: Path, answers: Path) -> tuple[AskedClip, ...]:
    """Return the answers on all clips of a subject, from a file where they were given before.

    Parameters
    ----------
    folder : Path
        Of the subject's clips.
    looks, answers : Path
        Files in which screens and answers of this subject are kept.

    Raises
    ------
    RuntimeError
        If the engine refuses one of the files.
    """
    if answers.is_file():
        return tuple(_from_json(row) for row in json.loads(answers.read_text(encoding="utf-8")))
    seen = json.loads(looks.read_text(encoding="utf-8")) if looks.is_file() else {}
    asked: list[AskedClip] = []
    told: dict[str, Any] = {}
    for truth in read_list(folder):
        read = _read(folder / truth.file, truth, seen.get(truth.file))
        told[truth.file] = _look_of(read)
        found = dict(read.families)
        asked.append(
            AskedClip(
                truth=truth,
                mode_read=read.mode.mode.value if read.mode.mode is not None else "",
                answers=tuple(answer_of(item) for name in DOPPLER_FAMILY_NAMES for item in found[name]),
            )
        )
    if not seen:
        _write(looks, told)
    _write(answers, [asdict(clip) for clip in asked])
    return tuple(asked)


def _read(path: Path, truth: ClipTruth, look: Mapping[str, Any] | None) -> ClipPass:
    """Read one file as a review does; view and valve are told as a mentor tells them, with marks."""
    item, clip = _opened(path)
    marks = FileMarks(name=path.name, view=truth.view, valve=Valve(truth.valve))
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
    return read


def _opened(path: Path) -> tuple[Item, Clip]:
    with tempfile.TemporaryDirectory() as scratch:
        gathered = gather(path, Path(scratch), _LIMITS)
    probed = probe_item(gathered.items[0], _LIMITS)
    if len(probed.clips) != 1:
        raise RuntimeError(f"{path}: the engine finds {len(probed.clips)} clips in a file of the simulator")
    return gathered.items[0], probed.clips[0]


def _look_of(read: ClipPass) -> dict[str, Any]:
    return {"layout": to_plain(read.layout), "time": to_plain(read.time)}


def _write(path: Path, value: Any) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_suffix(f".part{os.getpid()}")
    part.write_text(json.dumps(value), encoding="utf-8")
    part.rename(path)


def _from_json(row: dict[str, Any]) -> AskedClip:
    return AskedClip(
        truth=ClipTruth(**row["truth"]), mode_read=row["mode_read"], answers=tuple(Answer(**a) for a in row["answers"])
    )
