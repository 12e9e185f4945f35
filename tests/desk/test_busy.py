"""A machine that has no time: nothing that is there is lost, and it is asked again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fanlight.desk import Desk, DeskError
from fanlight.desk.engine_process import Job, _answer
from fanlight.intake import Item, Kind
from fanlight.intake.gather import Gathered
from fanlight.review.opening import NamedFiles, NotOpenedError
from fanlight.review.worker import TaskError, TaskStalledError
from fanlight.store import Store, latest_assembly, latest_review
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep
from tests.desk.test_engine import PlayedEngine, engine, heard, study_with_a_file, wait_until_idle, whole

__all__ = ["engine", "heard"]  # fixtures


@pytest.fixture
def listing(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What listing the files of a study gives, and how often it was asked."""
    play: dict[str, Any] = {"n": 0, "error": None}

    def played(files: NamedFiles, scratch: Path, *_: Any) -> Gathered:
        play["n"] += 1
        if play["error"] is not None:
            raise play["error"]
        names = (f"{item.clip.name}" for item in draft().readings)
        return Gathered(items=tuple(Item(path=scratch / name, name=name, kind=Kind.DICOM) for name in names))

    monkeypatch.setattr("fanlight.desk.study_files.list_files", played)
    return play


def test_files_that_cannot_be_listed_now_are_asked_for_again(
    desk: Desk, browser: Browser, store: Store, listing: dict[str, Any]
) -> None:
    """503, nothing is remembered of it, and the next question is answered."""
    study = keep(store, draft())
    listing["error"] = NotOpenedError("no processor")
    answer = browser.get(f"/api/studies/{study}/clips/clip01/frames", params={"first": 0, "count": 1})
    assert answer.status_code == 503
    assert "again" in answer.json()["error"]["remedy"]

    listing["error"] = None
    assert desk.files.clip(study, "clip01").clip.key == "clip01"
    assert listing["n"] == 2


def test_what_is_open_stays_open_when_listing_fails(desk: Desk, store: Store, listing: dict[str, Any]) -> None:
    """A clip that is not known yet is looked for; meanwhile those that are known are shown."""
    study = keep(store, draft())
    there = desk.files.clip(study, "clip01")
    listing["error"] = NotOpenedError("no processor")

    with pytest.raises(DeskError) as caught:
        desk.files.clip(study, "a clip that came since")
    assert caught.value.status == 503
    assert desk.files.clip(study, "clip01") is there
    assert list(desk._scratch.iterdir()) == [there.item.path.parents[len(Path(there.clip.name).parts) - 1]]


def test_an_engine_without_time_is_asked_again_and_what_was_read_stays(engine: PlayedEngine, store: Store) -> None:
    jobs: list[Job] = []

    def play(job: Job) -> list[Any]:
        jobs.append(job)
        return [("broke down", "a.dcm: no processor")] if len(jobs) in (2, 4, 5, 6) else whole(job)

    engine.play = play
    study = study_with_a_file(store)
    for n_jobs in (1, 3, 6):
        engine.all_sent(study)
        wait_until_idle(engine, study)
        assert len(jobs) == n_jobs
        assembled, review = latest_assembly(store, study), latest_review(store, study)
        assert assembled is not None
        assert review is not None
        assert len(assembled.clips) == len(review.readings) == 6
    error = engine.state(study).error
    assert error is not None
    assert "broke down 3 times, at last: a.dcm: no processor" in error.what


@pytest.mark.parametrize(
    ("error", "said"), [(NotOpenedError("a.dcm"), "broke down"), (ValueError("a"), "failed"), (None, "done")]
)
def test_the_engine_tells_a_machine_without_time_from_a_fault(
    monkeypatch: pytest.MonkeyPatch, error: Exception | None, said: str
) -> None:
    def read(*_: Any) -> None:
        if error is not None:
            raise error

    monkeypatch.setattr("fanlight.desk.engine_process._read", read)
    assert _answer(None, None)[0] == said  # type: ignore[arg-type]


def test_frames_that_there_was_no_time_for_are_not_called_broken(
    desk: Desk, browser: Browser, store: Store, listing: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """503 is asked again by the page; 422 is the file's own fault and is not."""
    study = keep(store, draft())

    def fails(error: TaskError) -> int:
        def played(*_: Any) -> Any:
            raise error

        monkeypatch.setattr(desk.frames, "_batch", played)
        address = f"/api/studies/{study}/clips/clip01/frames"
        return browser.get(address, params={"first": 0, "count": 1}).status_code

    assert fails(TaskStalledError("decoding", 60.0, was_held_up=True)) == 503
    assert fails(TaskStalledError("decoding", 60.0)) == 422
