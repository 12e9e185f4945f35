"""Processes branch off a server that has read our modules and does nothing else, or are fresh interpreters."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from fanlight.review.processes import process_context
from fanlight.review.worker import Worker

HERE = "tests.review.test_processes"
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
