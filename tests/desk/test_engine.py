"""The engine's keeper, with a process that is only played: crashes, a full disk, files that come late."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk, DeskError
from fanlight.desk.engine import Engine
from fanlight.desk.engine_process import Job
from fanlight.intake import Limits
from fanlight.review.events import ClipFinished, Event, ReviewFinished, StudyAssembled
from fanlight.store import LockedError, NoRoomError, Store, add_entry, add_file, add_study, latest_review
from fanlight.store.actions import SetScale
from fanlight.study import FileMarks, House, MarkedDistance, ScaleSource
from tests.desk.browser import new_id
from tests.desk.drafts import draft


class PlayedPipe:
    """Answers a job with what the play says; an error in it is raised where the pipe would break."""

    def __init__(self, play: Callable[[Job], list[Any]]) -> None:
        self._play = play
        self._said: list[Any] = []

    def send(self, job: Job) -> None:
        self._said = self._play(job)

    def poll(self, _: float) -> bool:
        return True

    def recv(self) -> Any:
        said = self._said.pop(0) if self._said else EOFError()
        if callable(said):
            said = said()
        if isinstance(said, BaseException):
            raise said
        return said


class PlayedEngine(Engine):
    """An engine whose process is a play."""

    play: Callable[[Job], list[Any]]

    def _start(self) -> Any:
        return PlayedPipe(self.play)

    def _end_process(self) -> None:
        return


def whole(_: Job) -> list[Any]:
    """A study read to its end."""
    review = draft()
    events: list[Event] = [StudyAssembled(study=review.study)]
    events += [ClipFinished(reading=item, from_cache=False) for item in review.readings]
    return [("event", event) for event in (*events, ReviewFinished(review=review))] + [("done",)]


@pytest.fixture
def heard() -> list[tuple[str, Any]]:
    return []


@pytest.fixture
def engine(store: Store, house: House, tmp_path: Path, heard: list[tuple[str, Any]]) -> Iterator[PlayedEngine]:
    made = PlayedEngine(
        store, house, on_event=lambda study, event: heard.append((study, event)),
        on_failure=lambda study, error: heard.append((study, error)), cache=None, scratch=tmp_path, limits=Limits(),
        quiet_s=0.3,
    )  # fmt: skip
    made.play = whole
    yield made
    made.close()


def study_with_a_file(store: Store) -> str:
    study = add_study(store, new_id(), title="Juniper").id
    add_file(store, study, file=new_id(), name="a.dcm", chunks=[b"a"])
    return study


def wait_until_idle(engine: Engine, study: str, within_s: float = 120.0) -> None:
    end = time.monotonic() + within_s
    while engine.state(study).state != "idle":
        assert time.monotonic() < end
        time.sleep(0.01)


def drafts(heard: list[tuple[str, Any]]) -> int:
    return len([event for _, event in heard if isinstance(event, ReviewFinished)])


@pytest.mark.parametrize("broken", [EOFError(), BrokenPipeError(), LockedError("db", "busy", "wait")])
def test_a_crash_is_tried_again(engine: PlayedEngine, store: Store, heard: list[Any], broken: BaseException) -> None:
    """Twice it breaks down, the third time it comes through; what was read before is handed to it."""
    jobs: list[Job] = []

    def play(job: Job) -> list[Any]:
        jobs.append(job)
        return [*whole(job)[:3], broken] if len(jobs) < 3 else whole(job)

    engine.play = play
    study = study_with_a_file(store)
    engine.all_sent(study)
    wait_until_idle(engine, study)

    assert latest_review(store, study) is not None
    assert [len(job.before.readings) if job.before else 0 for job in jobs] == [0, 2, 2]
    assert engine.state(study).error is None


def test_what_breaks_down_again_and_again_is_given_up(engine: PlayedEngine, store: Store, heard: list[Any]) -> None:
    """The user is told, the next study is read, and the first can be tried anew."""
    engine.play = lambda _: [EOFError()]
    study = study_with_a_file(store)
    engine.all_sent(study)
    wait_until_idle(engine, study)
    error = engine.state(study).error
    assert isinstance(error, DeskError)
    assert "3 times" in error.what
    assert heard == [(study, error)]

    engine.play = whole
    other = study_with_a_file(store)
    for again in (other, study):
        engine.all_sent(again)
        wait_until_idle(engine, again)
        assert latest_review(store, again) is not None
        assert engine.state(again).error is None


def test_a_full_disk_is_told(
    engine: PlayedEngine, store: Store, heard: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the store's words; nothing else is lost, and it goes on when there is room."""

    def full(*_: Any, **__: Any) -> None:
        raise NoRoomError("disk", "no room is left on the disk", "Free some space.")

    study = study_with_a_file(store)
    with monkeypatch.context() as patch:
        patch.setattr("fanlight.desk.engine.record_event", full)
        engine.all_sent(study)
        wait_until_idle(engine, study)
    error = engine.state(study).error
    assert error is not None
    assert (error.status, error.what, error.remedy) == (507, "no room is left on the disk", "Free some space.")

    engine.all_sent(study)
    wait_until_idle(engine, study)
    assert latest_review(store, study) is not None


def test_no_draft_is_kept_while_files_still_come(engine: PlayedEngine, store: Store, heard: list[Any]) -> None:
    """Reading starts with the first file; the draft is that of all files."""
    began, go_on = threading.Event(), threading.Event()
    jobs: list[Job] = []

    def play(job: Job) -> list[Any]:
        jobs.append(job)
        began.set()
        return [lambda: (go_on.wait(10), ("event", StudyAssembled(study=draft().study)))[1], *whole(job)[1:]]

    engine.play = play
    study = study_with_a_file(store)
    engine.file_came(study)
    assert began.wait(10)
    assert engine.state(study).state == "receiving"
    add_file(store, study, file=new_id(), name="b.dcm", chunks=[b"b"])
    engine.all_sent(study)
    go_on.set()
    wait_until_idle(engine, study)

    assert [len(job.files.files) for job in jobs] == [1, 2]
    assert drafts(heard) == 1


def test_a_page_that_went_away_leaves_a_study_that_is_read(
    engine: PlayedEngine, store: Store, heard: list[Any]
) -> None:
    """When nothing came for a while, what is there is the study."""
    study = study_with_a_file(store)
    engine.file_came(study)
    wait_until_idle(engine, study)

    assert drafts(heard) == 1
    assert latest_review(store, study) is not None


def test_of_two_files_with_one_name_the_later_counts(engine: PlayedEngine, store: Store) -> None:
    jobs: list[Job] = []
    engine.play = lambda job: jobs.append(job) or whole(job)  # type: ignore[func-returns-value]
    study = study_with_a_file(store)
    newer = add_file(store, study, file=new_id(), name="a.dcm", chunks=[b"newer"])
    engine.all_sent(study)
    wait_until_idle(engine, study)

    assert jobs[0].files.files == ((str(store.originals.path(newer.sha256)), "a.dcm"),)


def test_after_a_restart_reading_goes_on(
    desk: Desk, engine: PlayedEngine, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every study that has files and no draft is taken up again; those that have one are left alone."""
    done, cut_off = study_with_a_file(store), study_with_a_file(store)
    add_study(store, new_id(), title="nothing sent yet")
    engine.all_sent(done)
    wait_until_idle(engine, done)
    asked: list[str] = []
    desk.engine.close()
    desk.engine = engine
    asked_for = study_with_a_file(store)
    held = threading.Event()
    engine.play = lambda job: [lambda: (held.wait(10), ("done",))[1]]
    engine.all_sent(asked_for)
    monkeypatch.setattr(engine, "file_came", asked.append)

    desk.resume()
    held.set()

    assert asked == [cut_off]  # what the command has just sent is not taken for a page that went away


def test_a_scale_that_was_marked_reaches_the_engine(engine: PlayedEngine, store: Store) -> None:
    """The mark goes with the file's name; a kept reading that rests on a mark is not used again."""
    jobs: list[Job] = []
    engine.play = lambda job: jobs.append(job) or marked(job)  # type: ignore[func-returns-value]
    study = study_with_a_file(store)
    distance = MarkedDistance(start=(40.0, 12.0), end=(440.0, 12.0), distance_mm=50.0)
    for _ in range(2):
        engine.all_sent(study)
        wait_until_idle(engine, study)
        add_entry(store, study, SetScale(clip="clip02", frame=0, distance=distance), author="M", entry=new_id())

    first, second = jobs
    assert first.request.marks == ()
    assert second.request.marks == (FileMarks(name="export/002.dcm", scale=distance),)
    assert second.before is not None
    assert [item.clip.key for item in second.before.readings] == [f"clip{k:02d}" for k in (1, 3, 4, 5, 6)]


def marked(_: Job) -> list[Any]:
    """A study whose second clip was read with a mark."""
    review = draft()
    layout = review.readings[1].layout
    assert layout.scale is not None
    scale = replace(layout.scale, source=ScaleSource.MARKED)
    second = replace(review.readings[1], layout=replace(layout, scale=scale))
    readings = (review.readings[0], second, *review.readings[2:])
    events: list[Event] = [StudyAssembled(study=review.study)]
    events += [ClipFinished(reading=item, from_cache=False) for item in readings]
    return [("event", event) for event in (*events, ReviewFinished(review=replace(review, readings=readings)))] + [
        ("done",)
    ]
