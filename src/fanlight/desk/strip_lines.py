"""Where on its picture a strip was measured: what that is read from, and the process that reads it.

Lines are derived and never kept in the store: they are read anew when view, valve or scales are others.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from http import HTTPStatus

import numpy as np

from fanlight.desk.clip_view import shown_view
from fanlight.desk.errors import DeskError
from fanlight.desk.study_files import StudyFiles
from fanlight.desk.told_marks import told_marks
from fanlight.intake import Limits, marks_by_clip
from fanlight.measure.from_strip import StripCase, is_measured
from fanlight.measure.strip_lines import StripLines
from fanlight.review.opening import refusal_of
from fanlight.review.worker import TaskError, Worker
from fanlight.store import Entry, fold
from fanlight.store.actions import TakeClipOut
from fanlight.study import ClipReading, FileMarks, House, Valve

_KEPT = 32  # strips, some 30 kB each
_TASK = "fanlight.desk.strip_line_tasks:lines_of_strip"
_PLACED_SINCE = "the clip was placed after it was read; it is read again and measured then"
_JUDGE_FIRST = "this clip is to be judged before a proposal is shown"
_TAKEN_OUT = "this clip was taken out of the path"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """What lines are read from, beside the pixels: another one asks for them anew."""

    clip: str
    frame: int
    view: str
    valve: Valve | None
    marks: FileMarks | None


class StripLineReader:
    """Reads lines of strips, one after another, in a process of its own. Close it at the end."""

    def __init__(self, files: StudyFiles, limits: Limits, house: House) -> None:
        self._files = files
        self._limits = limits
        self._house = house
        self._worker = Worker()
        self._one_at_a_time = threading.Lock()
        self._kept: OrderedDict[tuple[str, _Read], StripLines] = OrderedDict()

    def lines(self, study: str, reading: ClipReading, log: Sequence[Entry], *, is_hidden: bool) -> StripLines:
        """Return the lines of a strip as it was measured, or why it has none.

        Parameters
        ----------
        study : str
        reading : ClipReading
            The engine's own, without decisions laid over it.
        log : sequence of Entry
            Everything that was done on the study.
        is_hidden : bool
            Whether the clip is to be judged before anything is proposed.

        Raises
        ------
        DeskError
            When the clip is no strip, or its picture cannot be decoded.
        """
        if not is_measured(reading.mode.mode):
            raise _cannot("it is neither an M-mode nor a spectrum", reading.clip.name, "Choose a strip.")
        frame = reading.measured[0].frames[0] if reading.measured else reading.clip.n_frames - 1
        if why := _why_none(reading, log, is_hidden=is_hidden):
            return StripLines(frame=frame, reason=why)
        found = _Read(
            clip=reading.clip.key, frame=frame, view=reading.view.view, valve=reading.view.valve,
            marks=self._marks(study, reading, log),
        )  # fmt: skip
        with self._one_at_a_time:
            key = (study, found)
            if key not in self._kept:
                self._kept[key] = self._made(study, reading, found)
                while len(self._kept) > _KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]

    def _marks(self, study: str, reading: ClipReading, log: Sequence[Entry]) -> FileMarks | None:
        """Return the scales by which the strip was measured: those of the files sent, the desk's laid over them."""
        sent = self._files.sent_marks(study).get(reading.clip.key)
        told = told_marks(log, (reading.clip,))
        return marks_by_clip((*(() if sent is None else (sent,)), *told), (reading.clip,)).get(reading.clip.key)

    def _made(self, study: str, reading: ClipReading, found: _Read) -> StripLines:
        place = self._files.clip(study, reading.clip.key)
        assert reading.mode.mode is not None
        case = StripCase(
            pixels=np.zeros((0, 0), np.uint8), frame=found.frame, layout=reading.layout, mode=reading.mode.mode,
            view=reading.view, depth=None if found.marks is None else found.marks.scale,
            marked=() if found.marks is None else found.marks.axes,
        )  # fmt: skip
        try:
            lines: StripLines = self._worker.call(_TASK, place.item, place.clip, self._limits, case, self._house)
        except TaskError as error:
            refusal = refusal_of(reading.clip.name, error)
            raise _cannot(refusal.found, refusal.name, refusal.remedy) from error
        return lines

    def close(self) -> None:
        """End the process."""
        with self._one_at_a_time:
            self._worker.close()


def _why_none(reading: ClipReading, log: Sequence[Entry], *, is_hidden: bool) -> str:
    """Return why nothing is shown of a strip that may have been measured, "" where all is."""
    if is_hidden:
        return _JUDGE_FIRST
    state = fold(log)
    if isinstance(state.placements.get(reading.clip.key), TakeClipOut):
        return _TAKEN_OUT
    now = shown_view(reading, state, is_hidden=False)
    return "" if reading.measured_as == (now.view, now.valve) else _PLACED_SINCE


def _cannot(what: str, where: str, remedy: str) -> DeskError:
    return DeskError(HTTPStatus.UNPROCESSABLE_ENTITY, what, where, remedy)
