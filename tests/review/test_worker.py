"""The worker survives what decoders do: hanging, crashing, eating memory, raising."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from typing import Any

import pytest

from fanlight.review.worker import (
    STARTING,
    Pulse,
    TaskDiedError,
    TaskFailedError,
    TaskStalledError,
    Worker,
    _is_held_up,
    is_the_machine_s_fault,
)

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
    with pytest.raises(TaskStalledError, match=r"no answer within 0.3 s while burning") as caught:
        worker.call(f"{HERE}:burn")
    assert not is_the_machine_s_fault(caught.value)


def late(*, beat: Any) -> int:
    beat("waiting", within_s=0.2)
    time.sleep(0.7)
    return 1


def test_a_task_that_the_machine_holds_up_gets_more_time(worker: Worker, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that sleeps does not; one that is held up for good is stopped in the end, and it is said why."""
    with pytest.raises(TaskStalledError, match=r"no answer within 0.2 s") as slept:
        worker.call(f"{HERE}:late")
    monkeypatch.setattr("fanlight.review.worker._is_held_up", lambda _: True)

    assert worker.call(f"{HERE}:late") == 1
    with pytest.raises(TaskStalledError, match=r"no answer within 1.8 s while hanging") as held_up:
        worker.call(f"{HERE}:hang")
    assert [is_the_machine_s_fault(each.value) for each in (slept, held_up)] == [False, True]


def test_a_system_without_sigkill_tells_whose_fault_a_death_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows has none; an access violation there ends a process with 0xC0000005."""
    monkeypatch.delattr(signal, "SIGKILL", raising=False)
    died = [TaskDiedError(phase, 0xC0000005) for phase in (STARTING, "decoding")]

    assert [is_the_machine_s_fault(each) for each in died] == [True, False]


def test_an_end_that_nobody_knows_is_no_files_fault() -> None:
    assert is_the_machine_s_fault(TaskDiedError("decoding", None))
    assert not is_the_machine_s_fault(TaskDiedError("decoding", 255))


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells what a process waits for")
def test_who_waits_for_the_processor_is_told_from_who_sleeps() -> None:
    """State of a process, proc(5): R for the one that asks, S for one that sleeps."""
    assert _is_held_up(os.getpid())
    with subprocess.Popen(["sleep", "60"]) as other:
        time.sleep(0.5)
        assert not _is_held_up(other.pid)
        other.kill()
    assert not _is_held_up(None)


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
