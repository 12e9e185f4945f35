"""Frame packets: what the stage of the desk plays.

A packet is `index u32, form u8, channels u8, 0 u16, rows u32, cols u32, n_bytes u32`, little endian, then the bytes.
Form 1: JPEG baseline as stored; 2: raw 8-bit samples; 0: this frame cannot be had, the bytes say why (JSON, UTF-8).
"""

from __future__ import annotations

import json
import struct
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from http import HTTPStatus

import numpy as np
from numpy.typing import NDArray

from fanlight.desk.errors import DeskError
from fanlight.desk.frame_tasks import Batch
from fanlight.desk.study_files import OpenClip, StudyFiles
from fanlight.intake import Limits, ShownFrame
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError
from fanlight.report.passage import Passage
from fanlight.review.opening import refusal_of
from fanlight.review.worker import TaskError, Worker, is_the_machine_s_fault

PACKET = struct.Struct("<IBBHIII")
MOST_FRAMES = 256  # in one answer; the page asks again
_BROKEN = 0
_BROKEN_IN_A_ROW = 8  # engineering judgement: then the file ends there, and each try costs time
# Engineering judgement: 30 frames of JPEG, or two raw pictures; what lies in memory at once for one listener.
_BATCH_BYTES = 2 * 1024 * 1024
_WORKERS = 2
_TASKS = "fanlight.desk.frame_tasks"
_CUT = "fanlight.review.passages:cut_passage"


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameRow:
    """Packets of some frames of a clip, made while they are sent."""

    n_frames: int
    packets: Iterator[bytes]


class FrameReaders:
    """Processes that read frames for viewers. A clip keeps its process, which remembers where it is. Close it."""

    def __init__(self, files: StudyFiles, limits: Limits) -> None:
        self._files = files
        self._limits = limits
        self._workers = [(threading.Lock(), Worker()) for _ in range(_WORKERS)]
        self._is_closed = False
        self._pixels = lru_cache(maxsize=48)(self._decoded)

    def row(self, study: str, key: str, first: int, count: int) -> FrameRow:
        """Return the packets of `count` frames from `first` on.

        Raises
        ------
        DeskError
            When there is no such clip or frame, or its file cannot be opened.
        """
        place = self._files.clip(study, key)
        n_frames = place.clip.n_frames
        if not 0 <= first < n_frames or not 1 <= count <= MOST_FRAMES:
            raise DeskError(
                HTTPStatus.UNPROCESSABLE_ENTITY,
                f"frames {first + 1} to {first + count} were asked for, the clip has {n_frames}",
                place.clip.name,
                f"Ask for frames of the clip, at most {MOST_FRAMES} at a time.",
            )
        end = min(first + count, n_frames)
        try:
            batch = self._batch(place, first, 1)
        except TaskError as error:
            raise _cannot(place, error) from error
        return FrameRow(n_frames=n_frames, packets=self._packets(place, batch, first, end))

    def _packets(self, place: OpenClip, batch: Batch, at: int, end: int) -> Iterator[bytes]:
        """Yield a packet a frame; what ends before `end` ends in a broken frame, and nothing after it can be had."""
        n_broken = 0  # in a row
        while True:
            yield from (_packet(frame) for frame in batch.frames)
            at += len(batch.frames)
            n_broken = 0 if batch.frames else n_broken
            if batch.damage:
                yield _broken(place, batch.damage, at)
                at, n_broken = at + 1, n_broken + 1
            if at >= end or n_broken == _BROKEN_IN_A_ROW or not (batch.frames or batch.damage):
                return
            try:
                batch = self._batch(place, at, end - at)
            except TaskError as error:
                if not is_the_machine_s_fault(error):  # else the row ends here, and the page asks again
                    yield _broken(place, _cannot(place, error).what, at)
                return

    def _batch(self, place: OpenClip, first: int, count: int) -> Batch:
        lock, worker = self._workers[int(place.clip.key, 16) % _WORKERS]
        with lock:
            batch: Batch = worker.call(
                f"{_TASKS}:read_shown", place.item, place.clip, self._limits, first, count, _BATCH_BYTES
            )
        return batch

    def pixels(self, study: str, key: str, frame: int) -> NDArray[np.uint8] | None:
        """Return one decoded frame, (row, col) or (row, col, 3), or None when it cannot be had."""
        try:
            return self._pixels(study, key, frame)
        except (TaskError, DeskError):  # outside of what is remembered: the next try may succeed
            return None

    def _decoded(self, study: str, key: str, frame: int) -> NDArray[np.uint8]:
        place = self._files.clip(study, key)
        lock, worker = self._workers[int(place.clip.key, 16) % _WORKERS]
        with lock:
            got = worker.call(f"{_TASKS}:read_pixels", place.item, place.clip, self._limits, frame)
        return np.asarray(got, np.uint8)

    def cut(self, study: str, passage: Passage, cutting: Cutting) -> CutPassage:
        """Return a passage cut out for a letter; ExcerptError when it cannot be had."""
        try:
            place = self._files.clip(study, passage.clip)
            lock, worker = self._workers[int(place.clip.key, 16) % _WORKERS]
            with lock:
                got = worker.call(_CUT, place.item, place.clip, self._limits, passage, cutting)
        except (TaskError, DeskError) as error:
            raise ExcerptError("its frames cannot be decoded") from error
        if isinstance(got, str):
            raise ExcerptError(got)
        cut: CutPassage = got
        return cut

    def warm(self) -> None:
        """Start the processes, so that the first frame needs no wait."""
        self._files.warm()
        for lock, worker in self._workers:
            with lock:
                if not self._is_closed:
                    worker.call("fanlight.desk.frame_tasks:say_ready")

    def close(self) -> None:
        """End the processes."""
        self._is_closed = True
        for lock, worker in self._workers:
            with lock:
                worker.close()


def _packet(frame: ShownFrame) -> bytes:
    head = PACKET.pack(frame.index, frame.form, frame.channels, 0, frame.rows, frame.cols, len(frame.data))
    return head + frame.data


def _broken(place: OpenClip, what: str, index: int) -> bytes:
    remedy = "Frames that can be decoded are shown; send the original file again for this one."
    error = DeskError(HTTPStatus.UNPROCESSABLE_ENTITY, what, place.clip.name, remedy)
    data = json.dumps(error.plain()).encode()
    return PACKET.pack(index, _BROKEN, 0, 0, 0, 0, len(data)) + data


def _cannot(place: OpenClip, error: TaskError) -> DeskError:
    if is_the_machine_s_fault(error):
        remedy = "The machine is busy: ask again in a moment. Nothing is lost."
        return DeskError(HTTPStatus.SERVICE_UNAVAILABLE, f"no time for its frames ({error})", place.clip.name, remedy)
    refusal = refusal_of(place.clip.name, error)
    return DeskError(HTTPStatus.UNPROCESSABLE_ENTITY, refusal.found, refusal.name, refusal.remedy)
