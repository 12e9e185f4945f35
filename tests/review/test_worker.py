"""The worker survives what decoders do: hanging, crashing, eating memory, raising."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Iterator
from typing import Any

import pytest

from fanlight.review.worker import Pulse, TaskDiedError, TaskFailedError, TaskStalledError, Worker

HERE = "tests.review.test_worker"


def add(a: int, b: int, *, beat: Any) -> int:
    beat("adding", done=1)
    return a + b


def hang(*, beat: Any) -> None:
    beat("hanging", within_s=0.3)
    time.sleep(60)


def crash(*, beat: Any) -> None:
    beat("crashing")
    os.kill(os.getpid(), signal.SIGSEGV)


def raise_value_error(*, beat: Any) -> None:
    beat("looking at frame 12")
    raise ValueError("not what it seems")


def eat_memory(*, beat: Any) -> int:
    beat("eating", within_s=30)
    return len(bytearray(8 * 1024**3))


@pytest.fixture
def worker() -> Iterator[Worker]:
    with Worker() as item:
        yield item


def test_answer_comes_after_the_pulses(worker: Worker) -> None:
    assert list(worker.run(f"{HERE}:add", 2, 3)) == [Pulse("adding", 1), 5]


def test_a_hanging_decoder_is_stopped_and_the_next_file_is_read(worker: Worker) -> None:
    with pytest.raises(TaskStalledError, match=r"no answer within 0.3 s while hanging"):
        worker.call(f"{HERE}:hang")

    assert worker.call(f"{HERE}:add", 1, 1) == 2


def burn(*, beat: Any) -> None:
    beat("burning", within_s=0.3)
    while True:
        pass


def test_a_decoder_in_an_endless_loop_is_stopped(worker: Worker) -> None:
    with pytest.raises(TaskStalledError, match=r"no answer within 0.3 s while burning"):
        worker.call(f"{HERE}:burn")


def test_a_crashing_decoder_takes_nothing_with_it(worker: Worker) -> None:
    with pytest.raises(TaskDiedError, match=r"exit code -11\) while crashing"):
        worker.call(f"{HERE}:crash")

    assert worker.call(f"{HERE}:add", 1, 1) == 2


def test_an_error_arrives_with_its_phase(worker: Worker) -> None:
    with pytest.raises(TaskFailedError, match=r"ValueError: not what it seems \(while looking at frame 12\)"):
        worker.call(f"{HERE}:raise_value_error")

    assert worker.call(f"{HERE}:add", 1, 1) == 2


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux has a limit on private memory")
def test_memory_is_limited(worker: Worker) -> None:
    with pytest.raises(TaskFailedError, match="MemoryError"):
        worker.call(f"{HERE}:eat_memory")
