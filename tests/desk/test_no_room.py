"""A full disk and a database that another program holds: said in words, nothing half-kept, and it goes on."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from fanlight.desk import Desk
from fanlight.store import Store, add_study, entries_of, files_of, new_id, open_store, verify_store
from fanlight.study import House
from measure._service import Service
from tests.desk.browser import Browser
from tests.desk.drafts import draft, keep

LIMIT_BYTES = 6_000_000  # what a file may grow to: the system refuses more, as a full disk does
WORDS = "The septum bows to the left. " * 60


def act(key: str) -> dict[str, Any]:
    payload = {"finding": key, "clip": "clip01", "words": WORDS}
    return {"id": key, "author": "M. Linden", "clip": "clip01", "action": "add finding", "payload": payload}


@pytest.mark.skipif(sys.platform == "win32", reason="there a process has no bound for its files")
def test_a_file_for_which_there_is_no_room_is_named_and_nothing_of_it_kept(tmp_path: Path) -> None:
    """In the service as it runs; the limit is the system's own. Smaller files and acts go on being kept."""
    folder = tmp_path / "store"
    with open_store(folder) as store:
        study = add_study(store, new_id(), title="Juniper").id
    service = Service(folder, file_bytes=LIMIT_BYTES)
    try:
        with closing(service.enter()) as client:
            send = lambda name, n: client.put(f"/api/studies/{study}/files?name={name}", content=b"x" * n)  # noqa: E731
            full = send("large.dcm", 2 * LIMIT_BYTES)
            assert full.status_code == 507
            error = full.json()["error"]
            assert "no room is left on the disk" in error["what"]
            assert error["where"] == str(folder / "originals")
            assert error["remedy"] == "Free some space, then send the file again."
            assert list((folder / "originals" / "incoming").iterdir()) == []

            assert send("small.dcm", 1000).status_code == 200
            assert client.post(f"/api/studies/{study}/entries", json=act(new_id())).status_code == 200
    finally:
        service.kill_all()
    with open_store(folder) as store:
        assert [file.name for file in files_of(store, study)] == ["small.dcm"]
        assert len(entries_of(store, study)) == 1
        assert verify_store(store).is_whole


@contextmanager
def full(store: Store) -> Iterator[None]:
    """Let SQLite find no room for another page, on every connection, as it does on a full disk (SQLITE_FULL)."""
    engine = store.database._engine

    def limit(connection: sqlite3.Connection, _: Any) -> None:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")

    event.listen(engine, "connect", limit)
    engine.dispose()
    yield
    event.remove(engine, "connect", limit)
    engine.dispose()


def test_an_act_for_which_there_is_no_room_is_kept_when_there_is(store: Store, browser: Browser) -> None:
    """The page sends the same again: it counts once, and what was answered before is all there."""
    study = keep(store, draft())
    told: list[str] = []
    with full(store):
        for _ in range(1000):
            key = new_id()
            answer = browser.post(f"/api/studies/{study}/entries", act(key))
            if answer.status_code != 200:
                break
            told.append(key)
        assert answer.status_code == 507
        error = answer.json()["error"]
        assert "no room is left on the disk" in error["what"]
        assert error["where"].endswith("fanlight.sqlite")
        assert "Free some space" in error["remedy"]
        assert [entry.id for entry in entries_of(store, study)] == told
        assert browser.get(f"/api/studies/{study}").status_code == 200  # reading goes on

    assert browser.post(f"/api/studies/{study}/entries", act(key)).status_code == 200
    assert [entry.id for entry in entries_of(store, study)] == [*told, key]
    assert verify_store(store).is_whole


HOLD = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None)
held.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def impatient(tmp_path: Path, house: House) -> Iterator[tuple[Store, Browser]]:
    with open_store(tmp_path / "impatient", wait_s=0.2) as store, Desk(store, house) as desk:
        browser = Browser(desk)
        browser.enter()
        yield store, browser
        browser.close()


def test_a_database_that_another_program_holds_is_said(impatient: tuple[Store, Browser]) -> None:
    """503: the page may send it again. Reading goes on meanwhile."""
    store, browser = impatient
    study = keep(store, draft())
    key = new_id()
    place = str(store.folder / "fanlight.sqlite")
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, place], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        answer = browser.post(f"/api/studies/{study}/entries", act(key))
        seen = browser.get(f"/api/studies/{study}/state")
        other.communicate()

    assert answer.status_code == 503
    assert answer.json()["error"]["where"] == place
    assert "another program has been writing" in answer.json()["error"]["what"]
    assert "close the other program" in answer.json()["error"]["remedy"]
    assert seen.status_code == 200
    assert entries_of(store, study) == ()

    assert browser.post(f"/api/studies/{study}/entries", act(key)).status_code == 200
    assert [entry.id for entry in entries_of(store, study)] == [key]
