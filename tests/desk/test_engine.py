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
from fanlight.desk.study_files import DESK_SHEET
from fanlight.intake import Limits
from fanlight.review.events import ClipFinished, Event, ReviewFinished, StudyAssembled
from fanlight.store import (
    LockedError,
    NoRoomError,
    Store,
    add_entry,
    add_file,
    add_study,
    entries_of,
    is_unread,
    latest_review,
    undo_entry,
)
from fanlight.store.actions import SetScale, TakeClipOut
from fanlight.study import Box, FileMarks, House, MarkedDistance, Region, ScaleSource, SpatialFormat
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
    """Every study that has something unread is taken up again, draft or not; those that are read are left alone."""
    done, cut_off, more, sheet, scale, marked_back, early = (study_with_a_file(store) for _ in range(7))
    add_study(store, new_id(), title="nothing sent yet")
    distance = MarkedDistance(start=(40.0, 12.0), end=(440.0, 12.0), distance_mm=50.0)
    marks = SetScale(clip="clip02", frame=0, distance=distance)
    for study in (early, marked_back):
        add_entry(store, study, marks, author="M", entry=new_id())
    for study in (done, more, sheet, scale, marked_back, early):
        engine.all_sent(study)
        wait_until_idle(engine, study)
    add_file(store, more, file=new_id(), name="b.dcm", chunks=[b"b"])
    add_file(store, sheet, file=new_id(), name=DESK_SHEET, chunks=[b"[request]"])
    add_entry(store, scale, marks, author="M", entry=new_id())
    undo_entry(store, marked_back, entries_of(store, marked_back)[-1].id, author="M", entry=new_id())
    add_entry(store, done, TakeClipOut(clip="clip02"), author="M", entry=new_id())
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

    assert asked == [cut_off, more, sheet, scale, marked_back]  # what the command has just sent is asked for already


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


@pytest.mark.parametrize("kind", [SpatialFormat.M_MODE, SpatialFormat.SPECTRAL])
def test_a_depth_on_a_strip_is_told_where_the_strip_has_depth(
    engine: PlayedEngine, store: Store, kind: SpatialFormat
) -> None:
    """An M-mode is measured by it; on a spectrum it would count for the picture beside it."""
    jobs: list[Job] = []
    strip = Region(
        spatial_format=kind, data_type=1, box=Box(row0=300, col0=0, row1=460, col1=400), unit_x=4,
        unit_y=3, delta_x=0.005, delta_y=0.03,
    )  # fmt: skip
    review = draft()
    clips = tuple(replace(item, regions=(strip,)) for item in review.study.clips)
    there = replace(review, study=replace(review.study, clips=clips))
    engine.play = lambda job: jobs.append(job) or [  # type: ignore[func-returns-value]
        ("event", StudyAssembled(study=there.study)), ("event", ReviewFinished(review=there)), ("done",),
    ]  # fmt: skip
    study = study_with_a_file(store)
    on_strip = MarkedDistance(start=(310.0, 12.0), end=(450.0, 12.0), distance_mm=50.0)
    on_picture = MarkedDistance(start=(40.0, 12.0), end=(240.0, 12.0), distance_mm=50.0)
    for distance in (on_strip, on_picture, on_picture):
        engine.all_sent(study)
        wait_until_idle(engine, study)
        add_entry(store, study, SetScale(clip="clip02", frame=0, distance=distance), author="M", entry=new_id())

    told = on_strip if kind is SpatialFormat.M_MODE else None
    assert [[mark.scale for mark in job.request.marks] for job in jobs] == [[], [told], [on_picture]]


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


def test_what_comes_while_a_study_is_read_is_not_taken_for_read(engine: PlayedEngine, store: Store) -> None:
    """A file whose arrival nobody told the engine, as when the service dies between the two."""
    study = study_with_a_file(store)

    def play(job: Job) -> list[Any]:
        add_file(store, study, file=new_id(), name="late.dcm", chunks=[b"late"])
        return whole(job)

    engine.play = play
    engine.all_sent(study)
    wait_until_idle(engine, study)
    assert latest_review(store, study) is not None
    assert is_unread(store, study)

    engine.play = whole
    engine.all_sent(study)
    wait_until_idle(engine, study)
    assert not is_unread(store, study)


def test_a_study_is_idle_when_its_draft_or_its_failure_is_told(store: Store, house: House, tmp_path: Path) -> None:
    """A page that asks at that moment gets the whole draft, and none that is kept by half."""
    told: list[str] = []

    def hear(study: str, event: object) -> None:
        if isinstance(event, ReviewFinished | DeskError):
            told.append(made.state(study).state)

    made = PlayedEngine(
        store, house, on_event=hear, on_failure=hear, cache=None, scratch=tmp_path, limits=Limits(), quiet_s=0.3
    )
    for play in (whole, lambda _: [("failed", "ValueError: odd", "")]):
        made.play = play
        study = study_with_a_file(store)
        made.all_sent(study)
        wait_until_idle(made, study)
    made.close()

    assert told == ["idle", "idle"]
