"""A clip that the machine held up: tried once more after the others, and only then refused."""

from __future__ import annotations

import signal
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.intake import Item
from fanlight.reference.load import load_house
from fanlight.review.cache import NoCache
from fanlight.review.events import ClipFinished, Event, FileRefused, ReviewFinished
from fanlight.review.opening import OpenStudy, ReviewOptions
from fanlight.review.run import review_study
from fanlight.review.worker import TaskDiedError, TaskError, TaskStalledError, Worker
from tests.intake.dicom_files import native, speckle

BUSY = TaskStalledError("decoding", 30.0, was_held_up=True)
KILLED = TaskDiedError("decoding", -signal.SIGKILL)  # by a machine without memory
HANGS = TaskStalledError("decoding", 5.0, was_at_work=True)  # the file's own fault


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("study")
    rng = np.random.default_rng(3)
    for name in ("a.dcm", "b.dcm"):
        native(root / name, speckle(rng, 4, 60, 80), FrameTime="40", PatientName="Juniper")
    return root


@pytest.fixture
def tries(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a clip was begun, by name of its file."""
    return Counter()


def play(monkeypatch: pytest.MonkeyPatch, tries: Counter[str], errors: dict[str, list[TaskError]]) -> None:
    """Let reading a clip meet the errors that stand for its file, one a try; all else is done as ever."""
    call = Worker.call

    def played(self: Worker, target: str, *arguments: Any, **more: Any) -> Any:
        if not target.endswith(":read_clip"):
            return call(self, target, *arguments, **more)
        item = arguments[0]
        assert isinstance(item, Item)
        tries[item.name] += 1
        if len(errors.get(item.name, [])) >= tries[item.name]:
            raise errors[item.name][tries[item.name] - 1]
        return call(self, target, *arguments, **more)

    monkeypatch.setattr(Worker, "call", played)


def read(folder: Path, workers: int) -> list[Event]:
    with OpenStudy() as opened:
        return list(review_study(folder, load_house(), opened, ReviewOptions(workers=workers), NoCache()))


def names(events: list[Event], kind: type[ClipFinished | FileRefused]) -> list[str]:
    found = [each for each in events if isinstance(each, kind)]
    return [each.reading.clip.name if isinstance(each, ClipFinished) else each.refusal.name for each in found]


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("error", [BUSY, KILLED])
def test_a_clip_that_was_held_up_is_read_at_the_end(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tries: Counter[str], error: TaskError, workers: int
) -> None:
    play(monkeypatch, tries, {"a.dcm": [error]})
    events = read(folder, workers)

    assert tries == {"a.dcm": 2, "b.dcm": 1}
    assert sorted(names(events, ClipFinished)) == ["a.dcm", "b.dcm"]
    assert workers == 2 or names(events, ClipFinished) == ["b.dcm", "a.dcm"]
    assert names(events, FileRefused) == []
    last = events[-1]
    assert isinstance(last, ReviewFinished)
    assert [item.clip.name for item in last.review.readings] == ["a.dcm", "b.dcm"]


def test_a_clip_that_is_held_up_twice_is_refused_and_the_others_are_read(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tries: Counter[str]
) -> None:
    play(monkeypatch, tries, {"a.dcm": [BUSY, BUSY]})
    events = read(folder, 1)

    assert tries == {"a.dcm": 2, "b.dcm": 1}
    assert names(events, ClipFinished) == ["b.dcm"]
    (refused,) = [each.refusal for each in events if isinstance(each, FileRefused)]
    assert refused.name == "a.dcm"
    assert "read the study again when the machine is less busy" in refused.remedy


def test_a_file_that_hangs_by_its_own_fault_is_not_tried_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tries: Counter[str]
) -> None:
    play(monkeypatch, tries, {"a.dcm": [HANGS]})
    events = read(folder, 1)

    assert tries == {"a.dcm": 1, "b.dcm": 1}
    assert names(events, FileRefused) == ["a.dcm"]
