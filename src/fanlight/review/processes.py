"""How a process for hostile bytes is started and how it ends: branched off one that has read our modules already.

Reading our modules takes a process seconds, and one is started for each study, each row of pictures, and after each
crash. On Linux they branch off a server that has read them once and opened no file; each still has its own memory.
A server that is killed takes nothing with it: the next start finds it gone and starts another. One that lives and is
not found, since its socket was cleared away, is done without from then on.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from multiprocessing.context import ForkServerContext, SpawnContext

# `one_thread` first: what follows loads the libraries that it holds back. The rest is what tasks are found in.
_READ_ONCE = (
    "fanlight.review.one_thread",
    "fanlight.review.run",
    "fanlight.review.file_tasks",
    "fanlight.review.clip_pass",
    "fanlight.review.passages",
)
# unix(7): the address of a local socket has 108 bytes with its end; the server's stands in a folder below this one.
_ADDRESS_BYTES = 108
_BELOW = "/pymp-12345678/listener-12345678"
_is_done_without_server = False  # once the socket was gone: its server would not be found again
_PAUSES_S = (0.05, 0.2, 1.0)  # engineering judgement: a killed server has gone by then, and another can be started


def process_context() -> ForkServerContext | SpawnContext:
    """Return what starts processes: a server to branch off on Linux, else a fresh interpreter for each.

    Never a fork of this process: a child must not inherit the locks of its threads. Elsewhere than on Linux a system's
    own libraries do not bear to be branched off; nor does a folder for temporary files of a very long name hold the
    server's socket, nor is there one where no folder for temporary files can be written.
    """
    if sys.platform != "linux" or _is_done_without_server or not _has_room_for_socket():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_READ_ONCE))
    return context


def _has_room_for_socket() -> bool:
    try:
        folder = tempfile.gettempdir()
    except FileNotFoundError:
        return False
    return len(bytes(Path(folder + _BELOW))) < _ADDRESS_BYTES


def get_ready() -> None:
    """Let the server read the modules already; a process that is started later need not wait for them.

    Where no server can be started nothing happens here: the start of a process says so.
    """
    if process_context().get_start_method() != "forkserver":
        return
    from multiprocessing import forkserver, resource_tracker

    with contextlib.suppress(OSError):
        resource_tracker.ensure_running()  # before the mask: where it starts its process it lifts it
        # Ctrl-C goes to all processes of a terminal; the server ignores it only once it has read its modules.
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            forkserver.ensure_running()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)


def start_process(target: Callable[..., None], *more: Any, name: str, daemon: bool) -> tuple[BaseProcess, Connection]:
    """Start a process and return it with our end of a pipe; the other end is the first argument of what it runs.

    Raises
    ------
    OSError, EOFError
        If none can be started, at several tries: one that meets a server in its last moment fails. The last try does
        without a server: whatever clears old files away may have taken the socket of one that has run for weeks.
    """
    for pause_s in _PAUSES_S:
        try:
            get_ready()
            return _start(process_context(), target, more, name, daemon)
        except (OSError, EOFError):
            time.sleep(pause_s)
    started = _start(multiprocessing.get_context("spawn"), target, more, name, daemon)
    global _is_done_without_server
    _is_done_without_server = True
    return started


def has_unknown_end(process: BaseProcess) -> bool:
    """Return whether nobody knows how a process ended: it branched off a server that has gone before it.

    multiprocessing gives 255 then. A process that was started otherwise tells its own code, also if that is 255.
    """
    branched_off = getattr(multiprocessing.context, "ForkServerProcess", ())
    return process.exitcode == 255 and isinstance(process, branched_off)


def _start(
    context: ForkServerContext | SpawnContext,
    target: Callable[..., None],
    more: tuple[Any, ...],
    name: str,
    daemon: bool,
) -> tuple[BaseProcess, Connection]:
    """Start a process at a pipe of its own: one that a dying server still made listens at the pipe of its try."""
    ours, theirs = context.Pipe()
    process = context.Process(target=target, args=(theirs, *more), name=name, daemon=daemon)
    try:
        process.start()
    except BaseException:
        ours.close()
        raise
    finally:
        theirs.close()
    return process, ours


def end_with_starter() -> None:
    """Let the kernel end this process once the one that started it is gone, whatever it is at (on Linux).

    A decoder that hangs in C sees no closed pipe, and the watchdog has gone with the starter.
    """
    starter = multiprocessing.parent_process()
    if sys.platform != "linux" or starter is None:
        return
    import fcntl

    # The starter alone holds the other end of this pipe, and the kernel closes it. fcntl(2): O_ASYNC works for pipes,
    # and F_SETSIG chooses the signal; this one needs no moment in which Python runs.
    pipe = starter.sentinel
    with contextlib.suppress(OSError):  # a kernel that has no such thing (some sandboxes): it serves all the same
        fcntl.fcntl(pipe, fcntl.F_SETOWN, os.getpid())
        fcntl.fcntl(pipe, fcntl.F_SETSIG, signal.SIGKILL)
        fcntl.fcntl(pipe, fcntl.F_SETFL, fcntl.fcntl(pipe, fcntl.F_GETFL) | os.O_ASYNC)
    if wait([pipe], 0):  # it had gone before
        os.kill(os.getpid(), signal.SIGKILL)
