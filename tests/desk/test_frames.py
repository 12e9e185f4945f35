"""Decoded frames for letters: remembered when they were had, asked for again when not."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fanlight.desk import Desk
from fanlight.desk.frames import FrameReaders
from fanlight.intake import Limits
from fanlight.review.worker import TaskError


def test_a_frame_that_could_not_be_had_once_is_asked_for_again(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker that broke down must not leave a hole in every later letter."""
    readers = FrameReaders(desk.files, Limits())
    answers: list[Any] = [TaskError("broke down"), np.ones((2, 2), np.uint8)]
    asked: list[str] = []

    def call(task: str, *_: Any) -> Any:
        asked.append(task)
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(desk.files, "clip", lambda *_: SimpleNamespace(item=None, clip=SimpleNamespace(key="a")))
    for _, worker in readers._workers:
        monkeypatch.setattr(worker, "call", call)

    assert readers.pixels("s", "a", 3) is None
    for _ in range(2):  # the second time it is remembered
        frame = readers.pixels("s", "a", 3)
        assert frame is not None
        assert frame.sum() == 4
    assert len(asked) == 2
    readers.close()
