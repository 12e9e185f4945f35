"""A process of its own that opens hostile bytes, with a watchdog and a memory limit.

Decoders written in C meet whatever a practice sends. They run here, never in the process that
holds the study: one that hangs is killed, one that crashes takes nothing with it.
"""

from __future__ import annotations

import contextlib
import importlib
import logging
import multiprocessing
import os
import signal
import sys
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Protocol

from fanlight.review.processes import end_with_starter, has_unknown_end, start_process

# Engineering judgement: a chunk of 32 frames at 1024 x 768 decodes in under 0.2 s here; 5 s is the longest that a
# mentor would wait for one broken file.
STALL_S = 5.0
# The longest phases (loading the models of the screen reader on a cold disk) announce a limit of their own.
# Engineering judgement: twice the 1.5 GB that a 20 s clip may take; a laptop with 8 GB keeps its desk.
MEMORY_LIMIT_BYTES = 3 * 1024**3
_PATIENCE = 6  # engineering judgement: two cores shared by a dozen busy programs
STARTING = "starting"  # the phase before a task's first sign of life
_START_S = 60.0  # no file is open yet: a cold disk and a loaded machine may take their time


class TaskError(RuntimeError):
    """A task did not finish; the worker is ready for the next one."""


class TaskStalledError(TaskError):
    """Nothing was heard from the worker for too long; it was stopped.

    `was_at_work` says whether it had its time on the processor, `was_held_up` whether it wanted to go on and the
    machine did not let it: both are False of a task that slept, and where the system does not tell.
    """

    def __init__(self, phase: str, limit_s: float, *, was_at_work: bool = False, was_held_up: bool = False) -> None:
        self.phase = phase
        self.limit_s = limit_s
        self.was_at_work = was_at_work
        self.was_held_up = was_held_up
        super().__init__(f"no answer within {limit_s:g} s while {phase or 'starting'}")


class TaskDiedError(TaskError):
    """The worker process ended: a decoder crashed or the memory limit was met."""

    def __init__(self, phase: str, exit_code: int | None) -> None:
        self.phase = phase
        self.exit_code = exit_code
        how = "how is not known" if exit_code is None else f"exit code {exit_code}"
        super().__init__(f"the decoding process ended ({how}) while {phase or 'starting'}")


class TaskFailedError(TaskError):
    """The task raised an error that it did not turn into a refusal itself."""

    def __init__(self, phase: str, kind: str, message: str, trace: str) -> None:
        self.phase = phase
        self.kind = kind
        self.trace = trace
        super().__init__(f"{kind}: {message} (while {phase or 'starting'})")


def _processor_s(pid: int | None) -> float | None:
    """Seconds that a process had on the processor, or None where the system does not tell (only Linux does, here)."""
    try:
        # proc(5): fields 14 and 15 are user and system time in clock ticks; the name in field 2 may hold blanks.
        fields = Path(f"/proc/{pid}/stat").read_text("ascii", "replace").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, IndexError, ValueError, AttributeError):
        return None


def _is_held_up(pid: int | None) -> bool:
    """Whether a thread of a process waits for the processor or a disk, not for itself; False where nobody tells."""
    # proc(5): field 3 of stat is the state; R waits for the processor or has it, D waits for a disk.
    for stat in Path(f"/proc/{pid}/task").glob("*/stat"):
        with contextlib.suppress(OSError):  # that thread has ended
            if stat.read_text("ascii", "replace").rpartition(")")[2].split()[:1] in (["R"], ["D"]):
                return True
    return False


def is_the_machine_s_fault(error: TaskError) -> bool:
    """Return whether a task failed for a reason that is not the file's: it may come through at the next try."""
    if isinstance(error, TaskStalledError):
        return error.was_held_up or error.phase == STARTING
    # Killed from outside: a machine without memory does so, a file cannot; Windows has no such signal. Or nobody knows.
    not_by_file = (-getattr(signal, "SIGKILL", 9), None)
    return isinstance(error, TaskDiedError) and (error.phase == STARTING or error.exit_code in not_by_file)


class Beat(Protocol):
    """Tells the watchdog that the task is alive; call it before each phase and after each chunk."""

    def __call__(self, phase: str, *, within_s: float = STALL_S, done: int = 0) -> None: ...


@dataclass(frozen=True, slots=True)
class Pulse:
    """One sign of life, as the parent sees it."""

    phase: str
    done: int


def _limit_memory(limit_bytes: int) -> None:
    # RLIMIT_DATA counts private writable memory since Linux 4.7 and leaves mapped libraries out. Elsewhere there is no
    # such limit to set (macOS, Windows); the watchdog and the limits of intake still hold there.
    if sys.platform.startswith("linux"):
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (limit_bytes, limit_bytes))


def _serve(pipe: Connection, limit_bytes: int) -> None:
    """Run tasks one after another: what the process does."""
    import fanlight.review.one_thread  # noqa: F401  # before the libraries that it holds back

    end_with_starter()
    _limit_memory(limit_bytes)
    # Libraries repeat values of the file in logs and warnings, and those may name somebody.
    logging.getLogger("pydicom").disabled = True
    warnings.simplefilter("ignore")
    import cv2

    cv2.setNumThreads(1)
    with contextlib.suppress(OSError):  # nobody is there any more: the loop below finds out
        pipe.send(("ready",))
    phase = ""

    def beat(name: str, *, within_s: float = STALL_S, done: int = 0) -> None:
        nonlocal phase
        phase = name
        pipe.send(("pulse", name, within_s, done))

    while True:
        try:
            target, arguments = pipe.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return
        try:
            module, _, name = target.partition(":")
            function = getattr(importlib.import_module(module), name)
            answer: tuple[Any, ...] = ("done", function(*arguments, beat=beat))
        except KeyboardInterrupt:
            return
        except BaseException as error:
            # The border between processes: everything is told to the parent, which names the file.
            import traceback

            answer = ("failed", phase, type(error).__name__, str(error), traceback.format_exc())
        try:
            pipe.send(answer)
        except (BrokenPipeError, OSError):
            return


class Worker:
    """One process at work on one task at a time; started when first needed, replaced when it dies."""

    def __init__(self, memory_limit_bytes: int = MEMORY_LIMIT_BYTES) -> None:
        self._limit = memory_limit_bytes
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def _start(self) -> Connection:
        if self._process is not None and self._process.is_alive() and self._pipe is not None:
            return self._pipe
        self.close()
        try:
            self._process, self._pipe = start_process(_serve, self._limit, name="worker", daemon=True)
        except (OSError, EOFError) as error:
            raise TaskDiedError(STARTING, None) from error
        self._receive(STARTING, _START_S)
        return self._pipe

    def _receive(self, phase: str, limit_s: float) -> Any:
        assert self._pipe is not None
        assert self._process is not None
        try:
            self._hear(phase, limit_s)
            return self._pipe.recv()
        except TaskStalledError:
            self.close()
            raise
        except (EOFError, ConnectionResetError) as error:
            raise self._died(phase) from error

    def _died(self, phase: str) -> TaskDiedError:
        assert self._process is not None
        self._process.join(2)
        code = None if has_unknown_end(self._process) else self._process.exitcode
        self.close()
        return TaskDiedError(phase, code)

    def _hear(self, phase: str, limit_s: float) -> None:
        """Wait until the process says something; TaskStalledError when it does not in time.

        On a machine that is busy with other things a healthy task gets little of the processor, or none: it may take
        longer by the clock, up to `_PATIENCE` times, as long as it has not had its time on the processor and does not
        sleep.
        """
        assert self._pipe is not None
        assert self._process is not None
        pid = self._process.pid
        before = last = _processor_s(pid)
        for _ in range(_PATIENCE):
            if self._pipe.poll(limit_s):
                return
            now = _processor_s(pid)
            if before is None or last is None or now is None:
                raise TaskStalledError(phase, limit_s)
            if now - before >= 0.8 * limit_s:
                raise TaskStalledError(phase, limit_s, was_at_work=True)
            if now == last and not _is_held_up(pid):
                raise TaskStalledError(phase, limit_s)
            last = now
        raise TaskStalledError(phase, limit_s * _PATIENCE, was_held_up=True)

    def run(self, target: str, *arguments: Any) -> Iterator[Pulse | Any]:
        """Run ``module:function`` in the process; yield each `Pulse`, then the answer as the last item.

        Raises
        ------
        TaskStalledError, TaskDiedError, TaskFailedError
            The worker can be used again afterwards.
        """
        pipe = self._start()
        try:
            pipe.send((target, arguments))
        except (BrokenPipeError, ConnectionResetError) as error:  # it was killed while nothing was asked of it
            raise self._died(STARTING) from error
        phase, limit_s = STARTING, _START_S  # until the task's first sign of life: its modules are loaded
        finished = False
        try:
            while not finished:
                message = self._receive(phase, limit_s)
                if message[0] == "pulse":
                    _, phase, limit_s, done = message
                    yield Pulse(phase, done)
                    continue
                finished = True
                if message[0] == "failed":
                    raise TaskFailedError(*message[1:])
                yield message[1]
        finally:
            if not finished:  # the caller went away in the middle: nobody will read what is still to come
                self.close()

    def call(self, target: str, *arguments: Any, on_pulse: Callable[[Pulse], None] | None = None) -> Any:
        """Run ``module:function`` and return its answer; errors as in `run`."""
        answer: Any = None
        for item in self.run(target, *arguments):
            if isinstance(item, Pulse):
                if on_pulse is not None:
                    on_pulse(item)
            else:
                answer = item
        return answer

    def close(self) -> None:
        """End the process, at once."""
        if self._pipe is not None:
            with contextlib.suppress(OSError):
                self._pipe.close()
        if self._process is not None:
            if self._process.is_alive():
                self._process.kill()
            self._process.join(5)
        self._process = self._pipe = None

    def __enter__(self) -> Worker:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()
