"""Frames of reviewed clips, fetched when a page needs them."""

from __future__ import annotations

from functools import lru_cache
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from fanlight.intake import Limits
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError
from fanlight.report.passage import Passage
from fanlight.review.opening import OpenStudy
from fanlight.review.worker import TaskError, Worker
from fanlight.study import StudyReview


class Pictures:
    """Port for reports: one frame of one clip, decoded in the worker. None where it cannot be had."""

    def __init__(self, opened: OpenStudy, review: StudyReview, limits: Limits | None = None) -> None:
        self._opened = opened
        self._clips = {item.clip.key: item.clip for item in review.readings}
        self._limits = limits or Limits()
        self._worker = Worker()
        self._fetch = lru_cache(maxsize=64)(self._decoded)

    def _decoded(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        try:
            pixels: Any = self._worker.call(
                "fanlight.review.clip_pass:grab_frame",
                self._opened.items[clip],
                self._clips[clip],
                self._limits,
                frame,
            )
        except TaskError:
            return None
        return np.asarray(pixels, np.uint8)

    def frame(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        """Return one frame, (row, col) grey or (row, col, 3) RGB, or None when it cannot be decoded."""
        return self._fetch(clip, frame)

    def cut(self, passage: Passage, cutting: Cutting) -> CutPassage:
        """Return a passage cut out; ExcerptError when it cannot be had."""
        try:
            got: Any = self._worker.call(
                "fanlight.review.passages:cut_passage",
                self._opened.items[passage.clip],
                self._clips[passage.clip],
                self._limits,
                passage,
                cutting,
            )
        except TaskError as error:
            raise ExcerptError("its frames cannot be decoded") from error
        if isinstance(got, str):
            raise ExcerptError(got)
        cut: CutPassage = got
        return cut

    def close(self) -> None:
        """End the worker."""
        self._worker.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
