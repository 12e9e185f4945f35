"""Keeps the engine at work: studies one after another, from their first file on, through crashes."""

from __future__ import annotations

import multiprocessing
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from fanlight import __version__
from fanlight.desk.engine_process import Job, serve
from fanlight.desk.errors import DeskError, told
from fanlight.desk.study_files import newest_files, request_of
from fanlight.intake import Limits
from fanlight.review.events import Event, ReviewFinished
from fanlight.review.opening import NamedFiles, ReadBefore
from fanlight.store import (
    LockedError,
    Store,
    StoreError,
    clip_readings,
    latest_assembly,
    moment,
    read_study,
    record_event,
)
from fanlight.study import ClipReading, House, ScaleSource

# All engineering judgement.
QUIET_S = 60.0  # a page that sent nothing for so long has gone; what is there is the study
STALL_S = 300.0  # the engine's own watchdog is quicker: it stops a decoder long before
_TRIES = 3  # of one study, before it is left alone
_LOOK_S = 2.0


@dataclass(slots=True)
class _Wanted:
    """A study that is to be read."""

    is_new: bool  # something came since it was read last
    is_sent: bool  # the page said that all files were sent, or it has gone
    heard_s: float  # when something came last, on the monotonic clock


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineState:
    """How far the engine is with a study."""

    state: str  # "receiving", "reading" or "idle"
    error: DeskError | None = None


class Engine:
    """Reads studies in a process of its own; started by the first study. Close it at the end.

    Parameters
    ----------
    store : Store
        Takes what the engine says.
    house : House
        Tables of the teaching group.
    on_event : callable
        Called with study and event once the store has kept it, in the engine's thread.
    on_failure : callable
        Called with study and error when a study cannot be read at all.
    cache : Path or None
        Folder for results that can be made again.
    scratch : Path
        Folder for what is unpacked.
    limits : Limits
    quiet_s : float
        See `QUIET_S`.
    """

    def __init__(
        self, store: Store, house: House, *, on_event: Callable[[str, Event], None],
        on_failure: Callable[[str, DeskError], None], cache: Path | None, scratch: Path, limits: Limits,
        quiet_s: float = QUIET_S,
    ) -> None:  # fmt: skip
        self._store = store
        self._house = house
        self._fingerprint = house.fingerprint()
        self._on_event = on_event
        self._on_failure = on_failure
        self._cache = cache
        self._scratch = scratch
        self._limits = limits
        self._quiet_s = quiet_s
        self._wanted: dict[str, _Wanted] = {}
        self._now = ""  # the study that is being read
        self._failed: dict[str, DeskError] = {}
        self._changed = threading.Condition()
        self._is_closed = False
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._thread = threading.Thread(target=self._work, name="engine", daemon=True)
        self._thread.start()

    @property
    def pid(self) -> int | None:
        """Id of the engine's process, when there is one."""
        return self._process.pid if self._process is not None else None

    def file_came(self, study: str) -> None:
        """Read a study, as far as it has come; more will follow."""
        self._want(study, is_sent=False)

    def all_sent(self, study: str) -> None:
        """Read a study to its end: no more files will follow."""
        self._want(study, is_sent=True)

    def _want(self, study: str, *, is_sent: bool) -> None:
        with self._changed:
            self._wanted[study] = _Wanted(True, is_sent, time.monotonic())
            self._failed.pop(study, None)
            self._changed.notify_all()

    def state(self, study: str) -> EngineState:
        """Return how far the engine is with a study."""
        with self._changed:
            error = self._failed.get(study)
            wanted = self._wanted.get(study)
            if wanted is None:
                return EngineState(state="reading" if study == self._now else "idle", error=error)
            return EngineState(state="reading" if wanted.is_sent else "receiving", error=error)

    def close(self) -> None:
        """Stop reading; what was read is kept."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()
        self._end_process()
        self._thread.join(10)
        self._end_process()  # one that was started in between

    def _work(self) -> None:
        while (study := self._next()) is not None:
            try:
                self._read(study)
            except StoreError as error:
                self._stop(study, told(error))
            except Exception as error:  # the thread must live: told to the user, and the other studies go on
                self._stop(study, _fault(study, f"{type(error).__name__}: {error}"))
            with self._changed:
                self._now = ""

    def _next(self) -> str | None:
        with self._changed:
            while not self._is_closed:
                for study, wanted in self._wanted.items():
                    if not wanted.is_sent and time.monotonic() - wanted.heard_s > self._quiet_s:
                        wanted.is_sent = wanted.is_new = True
                    if wanted.is_new:
                        wanted.is_new = False
                        self._wanted[study] = self._wanted.pop(study)  # the others come first next time
                        self._now = study
                        return study
                self._changed.wait(_LOOK_S)
        return None

    def _read(self, study: str) -> None:
        why = ""
        for _ in range(_TRIES):
            try:
                seen_at = moment(self._store, study)
                job = self._job(study)
                if not job.files.files:
                    self._done(study)
                    return
                pipe = self._start()
                pipe.send(job)
                self._listen(study, pipe, seen_at)
            except _EngineFailedError as error:
                self._give_up(study, _fault(study, str(error)))
                return
            except (EOFError, OSError, TimeoutError, LockedError) as error:
                why = f", at last: {error}" if isinstance(error, TimeoutError) and str(error) else ""
                self._end_process()
                if self._is_closed:
                    return
                continue  # what was read is kept: the next try goes on from there
            return
        self._give_up(study, _fault(study, f"the engine broke down {_TRIES} times{why}"))

    def _job(self, study: str) -> Job:
        title = read_study(self._store, study).title
        return Job(
            files=NamedFiles(title=title, files=newest_files(self._store, study)),
            house=self._house,
            limits=self._limits,
            request=request_of(self._store, study),
            before=self._before(study),
            cache=str(self._cache) if self._cache else "",
            scratch=str(self._scratch),
        )

    def _before(self, study: str) -> ReadBefore | None:
        assembled = latest_assembly(self._store, study)
        if assembled is None:
            return None
        kept = clip_readings(self._store, study).values()
        mine = (item for item in kept if (item.engine_version, item.house) == (__version__, self._fingerprint))
        readings = (item.reading for item in mine if item.reading is not None)
        # A reading with a marked scale holds only while the mark does.
        return ReadBefore(patient=assembled.patient, readings=tuple(item for item in readings if not _is_marked(item)))

    def _listen(self, study: str, pipe: Connection, seen_at: str) -> None:
        while True:
            if not pipe.poll(STALL_S):
                raise TimeoutError
            match pipe.recv():
                case ("event", ReviewFinished() as event):
                    self._finish(study, event, seen_at)
                case ("event", event):
                    self._keep(study, event)
                case ("broke down", words):
                    raise TimeoutError(words)
                case ("failed", words, _):
                    raise _EngineFailedError(words)
                case _:
                    return

    def _keep(self, study: str, event: Event) -> None:
        record_event(self._store, study, event, house=self._fingerprint)
        self._on_event(study, event)

    def _finish(self, study: str, event: Event, seen_at: str) -> None:
        """Keep the draft, unless files are still to come: then a later one holds them all."""
        with self._changed:
            wanted = self._wanted.get(study)
            is_last = wanted is None or (wanted.is_sent and not wanted.is_new)
        if is_last:
            record_event(self._store, study, event, house=self._fingerprint, seen_at=seen_at)
            self._done(study)
            self._on_event(study, event)

    def _done(self, study: str) -> None:
        """Take a study for read, unless more is wanted of it; from here on it is idle, before anybody is told."""
        with self._changed:
            wanted = self._wanted.get(study)
            if wanted is not None and wanted.is_sent and not wanted.is_new:
                del self._wanted[study]
            self._now = ""

    def _stop(self, study: str, error: DeskError) -> None:
        """Give up a study in the middle: what the process still says of it is not heard."""
        self._end_process()
        if not self._is_closed:
            self._give_up(study, error)

    def _give_up(self, study: str, error: DeskError) -> None:
        with self._changed:
            self._wanted.pop(study, None)
            self._failed[study] = error
            self._now = ""
        self._on_failure(study, error)

    def _start(self) -> Connection:
        if self._process is not None and self._process.is_alive() and self._pipe is not None:
            return self._pipe
        if self._is_closed:
            raise OSError("the desk is being closed")
        self._end_process()
        for left in self._scratch.glob("fanlight-*"):
            shutil.rmtree(left, ignore_errors=True)  # of a process that was killed
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        # Not a daemon: it has a process of its own below it, in which decoders run.
        process = context.Process(target=serve, args=(theirs,), name="engine", daemon=False)
        process.start()
        theirs.close()
        self._process, self._pipe = process, ours
        return ours

    def _end_process(self) -> None:
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if process is not None:
            process.kill()
            process.join(10)
        if pipe is not None:
            pipe.close()


def _is_marked(reading: ClipReading) -> bool:
    scale = reading.layout.scale
    return scale is not None and ScaleSource.MARKED in (scale.source, *(item.source for item in scale.witnesses))


class _EngineFailedError(RuntimeError):
    """The engine met an error of its own."""


def _fault(study: str, words: str) -> DeskError:
    remedy = "This looks like a fault of Fanlight: please report it. Files and everything done so far are kept."
    return DeskError(500, f"the study could not be read ({words})", f"study {study}", remedy)


def scratch_folder(store: Store) -> Path:
    """Return a fresh folder for what is unpacked; what a crash left a day ago is removed."""
    root = store.folder / "scratch"
    root.mkdir(mode=0o700, exist_ok=True)
    for left in root.iterdir():
        if time.time() - left.stat().st_mtime > 24 * 3600:
            shutil.rmtree(left, ignore_errors=True)
    return Path(tempfile.mkdtemp(dir=root))
