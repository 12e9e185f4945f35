"""Files that cannot be listed: a file's own fault is refused alone, the machine's is an error to be tried again."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from fanlight.intake import Item, Kind, Limits, RequestSheet
from fanlight.intake.gather import Gathered
from fanlight.review.events import Event, StudyAssembled
from fanlight.review.opening import NamedFiles, NotOpenedError, OpenStudy, ReviewOptions, list_files, open_study
from fanlight.review.worker import TaskDiedError, TaskError, TaskFailedError, TaskStalledError, Worker
from fanlight.study import DrawnMark, FileMarks, MarkKind
from tests.intake.dicom_files import native, speckle

BUSY = TaskStalledError("listing files", 30.0, was_held_up=True)
NAMED = NamedFiles(title="Juniper", files=(("/at/a", "a.dcm"), ("/at/b", "b.zip"), ("/at/c", "c.dcm")))


class PlayedWorker:
    """Lists files, but for those that it meets an error at."""

    def __init__(self, errors: dict[str, TaskError]) -> None:
        self.errors = errors

    def call(self, task: str, *arguments: Any) -> Any:
        if not task.endswith("gather_named_files"):
            raise self.errors["header"]
        for _, name in arguments[0]:
            if name in self.errors:
                raise self.errors[name]
        return Gathered(items=tuple(Item(path=Path(path), name=name, kind=Kind.DICOM) for path, name in arguments[0]))


def played(**errors: TaskError) -> Worker:
    return cast(Worker, PlayedWorker({name.replace("_", "."): error for name, error in errors.items()}))


@pytest.mark.parametrize(
    "error",
    [
        pytest.param(BUSY, id="no processor"),
        pytest.param(TaskStalledError("listing files", 5.0), id="it slept"),
        pytest.param(TaskStalledError("starting", 60.0), id="no start"),
        pytest.param(TaskDiedError("listing files", -signal.SIGKILL), id="killed from outside"),
        pytest.param(TaskFailedError("listing files", "OSError", "no space left", ""), id="full disk"),
    ],
)
def test_a_machine_without_time_leaves_no_empty_study(tmp_path: Path, error: TaskError) -> None:
    """A study that is read again would lose every clip."""
    with pytest.raises(NotOpenedError, match=r"b\.zip"):
        list_files(NAMED, tmp_path, Limits(), played(b_zip=error))
    with OpenStudy() as opened, pytest.raises(NotOpenedError):
        list(open_study(NAMED, opened, ReviewOptions(), played(b_zip=error)))


def test_a_header_that_there_was_no_time_for_takes_no_clip_away() -> None:
    with OpenStudy() as opened, pytest.raises(NotOpenedError, match=r"a\.dcm"):
        list(open_study(NAMED, opened, ReviewOptions(), played(header=BUSY)))


@pytest.mark.parametrize(
    "error",
    [
        pytest.param(TaskStalledError("listing files", 5.0, was_at_work=True), id="endless work"),
        pytest.param(TaskDiedError("listing files", -signal.SIGSEGV), id="crash"),
        pytest.param(TaskFailedError("listing files", "MemoryError", "", ""), id="memory"),
    ],
)
def test_a_zip_that_breaks_what_opens_it_is_refused_alone(tmp_path: Path, error: TaskError) -> None:
    found = list_files(NAMED, tmp_path, Limits(), played(b_zip=error))

    assert [item.name for item in found.items] == ["a.dcm", "c.dcm"]
    assert [item.name for item in found.refused] == ["b.zip"]


def test_a_header_that_breaks_what_reads_it_is_refused() -> None:
    error = TaskStalledError("reading the header", 5.0)
    with OpenStudy() as opened:
        events: list[Event] = list(open_study(NAMED, opened, ReviewOptions(), played(header=error)))

    assert isinstance(events[-1], StudyAssembled)
    assert [item.name for item in events[-1].study.refused] == ["a.dcm", "b.zip", "c.dcm"]


def test_marks_that_are_added_stand_beside_those_of_the_files(tmp_path: Path) -> None:
    """One of the same name on the same frame takes the other's place; what nobody draws anew stays."""
    native(tmp_path / "a.dcm", speckle(np.random.default_rng(1), 2, 40, 60), FrameTime="40")
    table = (
        '[[mark]]\nfile = "a.dcm"\nkind = "line"\nlabel = "{}"\npoints = [{{row = 1, col = 1}}, {{row = 9, col = 9}}]\n'
    )
    (tmp_path / "marks.toml").write_text(table.format("septum") + table.format("wall"))
    drawn = tuple(
        DrawnMark(kind=MarkKind.LINE, frame=0, points=((2.0, 2.0), (8.0, 8.0)), label=label) for label in ("wall", "")
    )
    options = ReviewOptions(request=RequestSheet(marks=(FileMarks(name="a.dcm", view="x", drawn=drawn),)))
    with OpenStudy() as opened, Worker() as worker:
        list(open_study(tmp_path, opened, options, worker))
        (marks,) = opened.marks.values()

    assert marks.view == "x"
    assert [(mark.label, mark.points[0]) for mark in marks.drawn] == [
        ("septum", (1, 1)),
        ("wall", (2, 2)),
        ("", (2, 2)),
    ]


def test_a_mark_on_a_frame_that_does_not_exist_is_named_and_the_others_are_used(tmp_path: Path) -> None:
    """File, clip, frame and remedy."""
    native(tmp_path / "a.dcm", speckle(np.random.default_rng(1), 2, 40, 60), FrameTime="40")
    drawn = tuple(
        DrawnMark(kind=MarkKind.LINE, frame=frame, points=((2.0, 2.0), (8.0, 8.0)), label="septum") for frame in (1, 2)
    )
    options = ReviewOptions(request=RequestSheet(marks=(FileMarks(name="a.dcm", drawn=drawn),)))
    with OpenStudy() as opened, Worker() as worker:
        events = list(open_study(tmp_path, opened, options, worker))
        (marks,) = opened.marks.values()

    assert [mark.frame for mark in marks.drawn] == [1]
    assert isinstance(events[-1], StudyAssembled)
    (refused,) = events[-1].study.refused
    assert str(refused) == (
        'a.dcm, frame 3: expected marks on frames of this clip, which has frames 1 to 2; found line "septum" there. '
        "Correct the frame in the marks file; frames count from 1. All other marks are used."
    )
