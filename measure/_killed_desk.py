"""Kill the desk's service, its engine, or both at random moments, again and again, and check after each kill."""

from __future__ import annotations

import os
import random
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import httpx

from fanlight.store import add_file, add_study, latest_review, new_id, open_store
from measure._desk_samples import desk_draft, desk_house, keep_draft
from measure._killed_checks import check_store, need, read_numbers
from measure._killed_page import Memory, Page, small_clip
from measure._service import Service

PHASES = ("upload", "reading", "deciding", "signing")
# The kill comes after fewer answers than these, in the middle of the next; counted, since a busy machine is slow.
ANSWERS = {"upload": 30, "deciding": 40, "signing": 6}
READING_S = 2.0  # longest time from the first sign of the engine to the kill: several clips fit into it
READING_CLIPS = 24
DRAFT_CLIPS = 6
_WITHIN_S = 1800.0  # for what must come; a machine that is busy takes its time


@dataclass
class Tally:
    """What the rounds of one phase saw."""

    rounds: int = 0
    killed_service: int = 0  # the service alone; what is below it must notice
    killed_engine: int = 0  # the engine alone; the service goes on
    killed_all: int = 0
    in_the_middle: int = 0  # a request was sent and not answered, or a clip was being read
    answered: int = 0  # requests that were answered before the kill, or clips that were read


class KillLoop:
    """Rounds on one folder. Each starts the service, works in one phase, kills, and checks.

    Parameters
    ----------
    folder : Path
        Of the store; made here.
    seed : int
        Of phases' moments and of what is sent.
    n_clips : int
        Of the studies that are read.
    """

    def __init__(self, folder: Path, seed: int, n_clips: int = READING_CLIPS) -> None:
        self._folder, self._rng, self._seed, self._n_clips = folder, random.Random(seed), seed, n_clips
        self.memory = Memory()
        self.tallies = {phase: Tally() for phase in PHASES}
        house = desk_house()
        with open_store(folder) as store:
            self._upload = add_study(store, new_id(), title="files").id
            self._draft = desk_draft(DRAFT_CLIPS, "s", house)
            self._ready = keep_draft(store, self._draft, house)
        self._reading = ""
        self._n_reading = 0

    def round(self, phase: str) -> None:
        """One life of the service; raises `LostError` when something is missing after it."""
        if phase == "reading":
            self._need_reading()
        tally, n_before = self.tallies[phase], len(self.memory.kept)
        read_before = self._read()
        service = Service(self._folder)
        page = Page(service.enter(), self.memory, random.Random(self._rng.random()))
        page.finished |= read_before
        with self._working(page, phase) as thread:
            self._wait_for_a_moment(thread, phase)
            at_clip = page.at_clip
            self._kill(service, page, phase, tally)
        service.wait_until_gone()
        with open_store(self._folder) as store:
            check_store(store, self.memory)
        read_now = self._read()
        need(read_before <= read_now, f"readings of clips {sorted(read_before - read_now)} are gone")
        need(not page.read_again, f"clips {sorted(page.read_again)} had been read and were read again")
        tally.rounds += 1
        if phase == "reading":
            tally.in_the_middle += bool(at_clip)
            tally.answered += len(read_now - read_before)
        else:
            tally.in_the_middle += self.memory.pending is not None
            tally.answered += len(self.memory.kept) - n_before

    def _wait_for_a_moment(self, thread: threading.Thread, phase: str) -> None:
        """Wait until the moment of the kill: after some answers, somewhere in the next one."""
        part = self._rng.random()
        if phase == "reading":
            time.sleep(part * READING_S)
            return
        n, before, start = self._rng.randrange(ANSWERS[phase]), len(self.memory.kept), time.monotonic()
        wait_until(lambda: len(self.memory.kept) >= before + n or not thread.is_alive(), f"{phase} did not go on")
        time.sleep(part * (time.monotonic() - start) / n if n else part)

    def _kill(self, service: Service, page: Page, phase: str, tally: Tally) -> None:
        """Kill one or all of the processes; the whole service is gone afterwards."""
        victim = self._rng.choice(("service", "all", "engine" if phase == "reading" else "service"))
        if victim == "engine" and (engine := service.engine()) is not None:
            os.kill(engine, signal.SIGKILL)
            tally.killed_engine += 1
            wait_until(lambda: page.is_read or service.engine() not in (None, engine), "no other engine was started")
            n = page.n_heard
            wait_until(lambda: page.is_read or page.n_heard > n, "the other engine did not go on")
            service.kill_all()
        elif victim == "service":
            tally.killed_service += 1
            service.kill()
        else:
            tally.killed_all += 1
            service.kill_all()

    def _read(self) -> set[int]:
        """Return the numbers of the clips that were read of the study that is in the middle."""
        if not self._reading:
            return set()
        with open_store(self._folder) as store:
            return read_numbers(store, self._reading)

    def finish(self) -> None:
        """Let a last service read every study to its end."""
        studies = [study for study in (self._upload, self._reading) if study]
        service = Service(self._folder)
        with closing(service.enter()) as client:
            page = Page(client, self.memory, self._rng)
            page.run(lambda: None)  # what was not answered goes again
            need(page.trouble is None, f"what was sent again was not kept: {page.trouble}")
            for study in studies:
                client.post(f"/api/studies/{study}/complete").raise_for_status()
                wait_until(partial(_is_idle, client, study), f"study {study} was not read to its end")
        service.kill_all()
        service.wait_until_gone()
        with open_store(self._folder) as store:
            check_store(store, self.memory)
        need(not self._reading or len(self._read()) == self._n_clips, "not every clip was read in the end")

    @contextmanager
    def _working(self, page: Page, phase: str) -> Iterator[threading.Thread]:
        """Let the page work; it ends when the service is gone."""
        work: dict[str, Callable[[], None]] = {
            "upload": lambda: page.send_files_on(self._upload),
            "reading": lambda: page.watch_on(self._reading),
            "deciding": lambda: page.decide_on(self._ready, self._draft),
            "signing": lambda: page.sign_on(self._ready),
        }
        thread = threading.Thread(target=page.run, args=(work[phase],))
        thread.start()
        page.began.wait()
        if phase == "reading":
            wait_until(lambda: page.n_heard > 0 or page.is_read or not thread.is_alive(), "the engine did not begin")
        yield thread
        thread.join()
        page.client.close()
        if page.trouble is not None:
            raise page.trouble

    def _need_reading(self) -> None:
        """Make a study whose clips are to be read, unless one is in the middle."""
        with open_store(self._folder) as store:
            if self._reading and latest_review(store, self._reading) is None:
                return
            study = add_study(store, new_id(), title="to be read").id
            for k in range(self._n_clips):
                self._n_reading += 1
                data = small_clip(self._seed * 10_000 + self._n_reading)
                add_file(store, study, file=new_id(), name=f"IM{k + 1}.dcm", chunks=[data])
        self._reading = study


def _is_idle(client: httpx.Client, study: str) -> bool:
    engine = client.get(f"/api/studies/{study}").json()["engine"]
    need(engine["error"] is None, f"study {study} could not be read: {engine['error']}")
    return bool(engine["state"] == "idle")


def wait_until(is_true: Callable[[], bool], words: str) -> None:
    """Wait for something that must come."""
    end = time.monotonic() + _WITHIN_S
    while not is_true():
        need(time.monotonic() < end, words)
        time.sleep(0.005)
