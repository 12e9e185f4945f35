"""Processes branch off a server that has read our modules and does nothing else, or are fresh interpreters."""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from multiprocessing import forkserver
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NoReturn

import pytest

from fanlight.review import processes
from fanlight.review.processes import end_with_starter, get_ready, has_unknown_end, process_context
from fanlight.review.worker import TaskDiedError, TaskStalledError, Worker, is_the_machine_s_fault

HERE = "tests.review.test_processes"
ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120.0  # how long a busy machine may take for anything
on_linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only on Linux there is a server")


def what_is_there(*, beat: Any) -> tuple[int, int, bool, str]:
    beat("looking")
    has_read = "fanlight.review.clip_pass" in sys.modules
    return os.getpid(), os.getppid(), has_read, os.environ["OPENBLAS_NUM_THREADS"]


@on_linux
def test_a_process_finds_our_modules_read() -> None:
    with Worker() as first, Worker() as second:
        (own, server, has_read, threads), other = (each.call(f"{HERE}:what_is_there") for each in (first, second))

        assert (has_read, threads) == (True, "1")
        assert own != other[0]
        assert server == other[1] != os.getpid()


@on_linux
def test_the_server_has_one_thread() -> None:
    """What branches off has only the thread that asked (fork(2)): locks of others would never be released."""
    with Worker() as worker:
        _, server, _, _ = worker.call(f"{HERE}:what_is_there")

        assert len(list(Path(f"/proc/{server}/task").iterdir())) == 1


@on_linux
def test_a_long_name_of_the_temporary_folder_takes_fresh_interpreters(monkeypatch: pytest.MonkeyPatch) -> None:
    """unix(7): the address of a local socket has 108 bytes; here the whole path would have 112."""
    assert process_context().get_start_method() == "forkserver"
    monkeypatch.setattr(tempfile, "tempdir", "/" + "t" * 79)

    assert process_context().get_start_method() == "spawn"


@pytest.mark.parametrize("system", ["darwin", "win32"])
def test_other_systems_take_fresh_interpreters(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", system)

    assert process_context().get_start_method() == "spawn"


def refuse(*_: object) -> NoReturn:
    raise FileNotFoundError


@on_linux
def test_no_temporary_folder_takes_fresh_interpreters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "gettempdir", refuse)

    assert process_context().get_start_method() == "spawn"
    get_ready()


@on_linux
def test_a_server_that_cannot_be_started_fails_nothing_beforehand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("multiprocessing.forkserver.ensure_running", refuse)
    get_ready()

    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())


@on_linux
def test_a_kernel_that_sends_no_signal_for_a_pipe_lets_the_process_serve(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = multiprocessing.Pipe()
    with ours, theirs:
        monkeypatch.setattr(multiprocessing, "parent_process", lambda: SimpleNamespace(sentinel=ours.fileno()))
        monkeypatch.setattr("fcntl.fcntl", refuse)

        end_with_starter()


def hang(*, beat: Any) -> None:
    """Hang in C as a decoder may: no Python runs meanwhile, in no thread."""
    beat("hanging", within_s=0.2)
    while True:
        ctypes.PyDLL(None).pause()  # keeps the interpreter's lock, as `CDLL` would not


def is_running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def wait_until_gone(pid: int) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while is_running(pid):
        assert time.monotonic() < end_s, f"process {pid} still runs"
        time.sleep(0.02)


@on_linux
def test_a_killed_server_takes_nothing_with_it() -> None:
    """What has branched off goes on where it was; what starts next finds another server."""
    with Worker() as before, Worker() as after:
        own, server, _, _ = before.call(f"{HERE}:what_is_there")
        os.kill(server, signal.SIGKILL)
        wait_until_gone(server)

        assert is_running(own)
        assert after.call(f"{HERE}:what_is_there")[1] != server
        assert before.call(f"{HERE}:what_is_there")[2]


@on_linux
def test_a_server_that_is_killed_while_it_is_asked_is_asked_again() -> None:
    """It took the question and dies before it answers: that much can happen between a look at it and its answer."""
    with Worker() as first, Worker() as second:
        _, server, _, _ = first.call(f"{HERE}:what_is_there")
        os.kill(server, signal.SIGSTOP)
        killing = threading.Timer(0.5, os.kill, (server, signal.SIGKILL))
        killing.start()
        try:
            assert second.call(f"{HERE}:what_is_there")[1] != server
        finally:
            killing.join()


@on_linux
def test_a_server_whose_socket_was_cleared_away_is_done_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cleaners of the temporary folder take files that nobody touched for days."""
    monkeypatch.setattr(processes, "_is_done_without_server", False)  # and put back afterwards
    with Worker() as first, Worker() as second:
        first.call(f"{HERE}:what_is_there")
        socket = Path(vars(forkserver._forkserver)["_forkserver_address"])
        cleared = socket.rename(socket.with_name("cleared"))
        try:
            assert second.call(f"{HERE}:what_is_there")[1] == os.getpid()
            assert process_context().get_start_method() == "spawn"
        finally:
            cleared.rename(socket)


@on_linux
def test_how_a_process_ended_is_not_known_once_its_server_has_gone() -> None:
    """multiprocessing gives 255 then, whatever it was; one that has a server tells the signal that ended it."""
    with Worker() as worker, Worker() as other:
        _, server, _, _ = worker.call(f"{HERE}:what_is_there")
        other.call(f"{HERE}:what_is_there")
        for one, is_unknown in ((other, False), (worker, True)):
            process = one._process
            assert process is not None
            assert process.pid is not None
            if is_unknown:
                os.kill(server, signal.SIGKILL)
                wait_until_gone(server)
            os.kill(process.pid, signal.SIGKILL)
            process.join(PATIENCE_S)
            assert has_unknown_end(process) is is_unknown


@on_linux
def test_no_process_at_all_is_the_machines_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing was opened: no file is blamed, and no error but the worker's own comes through."""

    def refuse(*_: Any) -> None:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(processes, "_start", refuse)
    monkeypatch.setattr(processes, "_PAUSES_S", (0.0,))
    with Worker() as worker, pytest.raises(TaskDiedError) as raised:
        worker.call(f"{HERE}:what_is_there")

    assert is_the_machine_s_fault(raised.value)


@on_linux
def test_a_worker_killed_at_rest_is_no_files_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """It goes between the look whether it is there and the task."""
    with Worker() as one:
        own, *_ = one.call(f"{HERE}:what_is_there")
        start = one._start

        def killed_after() -> Any:
            pipe = start()
            os.kill(own, signal.SIGKILL)
            wait_until_gone(own)
            return pipe

        monkeypatch.setattr(one, "_start", killed_after)
        with pytest.raises(TaskDiedError) as raised:
            one.call(f"{HERE}:what_is_there")

        assert is_the_machine_s_fault(raised.value)


@on_linux
def test_the_watchdog_ends_what_hangs_though_its_server_is_gone() -> None:
    with Worker() as one:
        own, server, _, _ = one.call(f"{HERE}:what_is_there")
        run = one.run(f"{HERE}:hang")
        next(run)
        os.kill(server, signal.SIGKILL)
        wait_until_gone(server)
        with pytest.raises(TaskStalledError):
            next(run)

        wait_until_gone(own)


def script(program: str) -> subprocess.Popen[str]:
    """Start a program that leads a group of its own, as one in a terminal does."""
    return subprocess.Popen(
        [sys.executable, "-c", program], cwd=ROOT, start_new_session=True, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


@on_linux
@pytest.mark.parametrize("way", ["forkserver", "spawn"])
def test_what_hangs_ends_with_the_process_that_started_it(way: str, tmp_path: Path) -> None:
    """The desk is killed: its watchdog is gone, and nothing that hangs stays behind; nor does the server."""
    long_name = tmp_path / ("t" * 90)  # holds no server's socket
    long_name.mkdir()
    program = f"""
import sys, tempfile
if __name__ == "__main__":
    tempfile.tempdir = {str(long_name)!r} if {way!r} == "spawn" else None
    from fanlight.review.processes import process_context
    from fanlight.review.worker import Worker
    assert process_context().get_start_method() == {way!r}
    with Worker() as worker:
        own, server, *_ = worker.call("{HERE}:what_is_there")
        for _ in worker.run("{HERE}:hang"):
            print(own, server, flush=True)
            sys.stdin.read()
"""
    with script(program) as desk:
        assert desk.stdout is not None
        own, server = (int(each) for each in desk.stdout.readline().split())
        assert is_running(own)
        desk.kill()
        desk.wait()

        for pid in {own, server} - {desk.pid}:
            wait_until_gone(pid)


@on_linux
def test_ctrl_c_does_not_meet_the_server_while_it_reads() -> None:
    """A terminal sends it to all of the group: the server would die with the words of an error."""
    program = f"""
import os, signal, sys
if __name__ == "__main__":
    from fanlight.review.processes import get_ready
    from fanlight.review.worker import Worker
    signal.signal(signal.SIGINT, lambda *_: None)  # one that is ignored would be inherited
    get_ready()
    os.killpg(0, signal.SIGINT)
    with Worker() as worker:
        print(worker.call("{HERE}:what_is_there")[2])
"""
    done = script(program)
    said, errors = done.communicate(timeout=PATIENCE_S)

    assert (said, errors) == ("True\n", "")
