"""Marks followed through the beat: what a track is made from, and the process that makes it.

A track is derived and never kept: it is made anew when a mark is moved or the scale is another one.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from http import HTTPStatus

from fanlight.desk.errors import DeskError, bad_request
from fanlight.desk.study_files import StudyFiles
from fanlight.desk.track_tasks import Wanted
from fanlight.intake import Limits
from fanlight.measure.areas import area_at, areas_of
from fanlight.measure.followed_mark import FollowedMark, wanted_frames
from fanlight.measure.shapes import Pixel
from fanlight.reference.tracking import read_track_settings
from fanlight.review.opening import refusal_of
from fanlight.review.worker import TaskError, TaskFailedError, Worker
from fanlight.store.action_words import MarkKind
from fanlight.study import ClipReading, House, MarkedAxis, MarkedDistance, Mode, Point
from fanlight.study.marks import fits

_KEPT = 64  # tracks, a few kB each
_STRIPS = (Mode.M_MODE, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """How a person scaled a clip."""

    depth: MarkedDistance | None
    axes: tuple[MarkedAxis, ...]
    holds_read: bool  # whether marked points that the reading knows of still hold: none were ever set at the desk


class Tracks:
    """Follows marks, one after another, in a process of its own. Close it at the end."""

    def __init__(self, files: StudyFiles, limits: Limits, house: House) -> None:
        self._files = files
        self._limits = limits
        self._settings = read_track_settings(house)
        self._worker = Worker()
        self._one_at_a_time = threading.Lock()
        self._kept: OrderedDict[tuple[str, Wanted], FollowedMark] = OrderedDict()

    def follow(
        self, study: str, reading: ClipReading, marked: Marked, kind: MarkKind, frame: int,
        points: tuple[Point, ...],
    ) -> FollowedMark:  # fmt: skip
        """Return a mark followed through the beat.

        Raises
        ------
        DeskError
            When the mark does not fit the clip, or the clip cannot be followed; says why and what to do.
        """
        clip = reading.clip
        if clip.is_still:
            raise _cannot("a still has no beat to follow", clip.name, "Choose a clip of the same view.")
        if reading.mode.mode in _STRIPS:
            raise _cannot(
                "a strip shows one line over time", clip.name, "Read times and depths from it with a line instead."
            )
        _check_mark(reading, kind, frame, points)
        period = reading.time.beat_period_frames
        first, last = wanted_frames(clip.n_frames, frame, period, self._settings)
        wanted = Wanted(
            kind=kind.value, points=points, frame=frame, first=first, last=last,
            pixel=pixel_of(reading, marked, points), period_frames=period, settings=self._settings,
        )  # fmt: skip
        with self._one_at_a_time:
            key = (f"{study}/{clip.key}", wanted)
            if key not in self._kept:
                self._kept[key] = self._made(study, reading, wanted)
                while len(self._kept) > _KEPT:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]

    def _made(self, study: str, reading: ClipReading, wanted: Wanted) -> FollowedMark:
        place = self._files.clip(study, reading.clip.key)
        try:
            found: FollowedMark = self._worker.call(
                "fanlight.desk.track_tasks:track_mark", place.item, place.clip, self._limits, wanted
            )
        except TaskFailedError as error:
            if error.kind != "TooLongError":
                raise _of_task(reading, error) from error
            remedy = "Try it again when the machine is less busy, or mark the beat by hand."
            raise _cannot(str(error).split(": ", 1)[-1].split(" (while")[0], reading.clip.name, remedy) from error
        except TaskError as error:
            raise _of_task(reading, error) from error
        return found

    def close(self) -> None:
        """End the process."""
        with self._one_at_a_time:
            self._worker.close()


def pixel_of(reading: ClipReading, marked: Marked, points: tuple[Point, ...]) -> Pixel | None:
    """Return the size of a pixel where a mark lies, the one by which it is read out; None where nothing tells it."""
    where = area_at(points, areas_of(reading.layout, marked.depth, marked.axes, holds_read=marked.holds_read))
    if where.mm_per_row is None or where.mm_per_col is None:
        return None
    return Pixel(down=where.mm_per_row, across=where.mm_per_col)


def _check_mark(reading: ClipReading, kind: MarkKind, frame: int, points: tuple[Point, ...]) -> None:
    clip = reading.clip
    if not fits(kind, points):
        raise bad_request(f"a {kind.value} was sent with {len(points)} points", "points")
    if not 0 <= frame < clip.n_frames:
        raise bad_request(f"frame {frame + 1} was named, the clip has {clip.n_frames}", "frame")
    if any(not (0 <= row <= clip.rows - 1 and 0 <= col <= clip.cols - 1) for row, col in points):
        raise _cannot("a point of the mark lies outside the picture", clip.name, "Move it onto the picture.")


def _of_task(reading: ClipReading, error: TaskError) -> DeskError:
    refusal = refusal_of(reading.clip.name, error)
    return _cannot(refusal.found, refusal.name, refusal.remedy)


def _cannot(what: str, where: str, remedy: str) -> DeskError:
    return DeskError(HTTPStatus.UNPROCESSABLE_ENTITY, what, where, remedy)
