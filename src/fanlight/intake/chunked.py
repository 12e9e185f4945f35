"""Frames handed on in chunks through one reused buffer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Self

import numpy as np
from numpy.typing import NDArray

from fanlight.intake.sign_of_life import SignOfLife, say_nothing
from fanlight.study import FrameChunk, FrameDamageError

Picture = NDArray[np.uint8]
# Writes one frame into the array it is given, shape (row, col) or (row, col, 3), and returns its time in ms, if known.
WriteFrame = Callable[[Picture], float | None]


class ChunkedFrames:
    """The `Frames` of every kind of file: a source of frame writers, a buffer, and something to close.

    Parameters
    ----------
    rows, cols, n_frames, is_colour
        As the header states them.
    start : callable
        Starts at the first frame and yields one writer a frame. Writer and source may raise FrameDamageError.
    may_end_early : bool
        The number of frames is a count of packets: fewer pictures, without an error, are no damage.
    chunk_bytes : int
        Upper bound of the buffer; large pictures come in shorter chunks.
    on_close : callable
        Called once, at the end.
    tell : callable
        Called after each frame with the number decoded so far.
    """

    def __init__(
        self,
        *,
        rows: int,
        cols: int,
        n_frames: int,
        is_colour: bool,
        start: Callable[[], Iterator[WriteFrame]],
        chunk_bytes: int,
        may_end_early: bool = False,
        on_close: Callable[[], None] = lambda: None,
        tell: SignOfLife = say_nothing,
    ) -> None:
        self._rows, self._cols, self._n_frames, self._is_colour = rows, cols, n_frames, is_colour
        self._start = start
        self._chunk_bytes = chunk_bytes
        self._may_end_early = may_end_early
        self._tell = tell
        self._on_close: Callable[[], None] | None = on_close

    @property
    def rows(self) -> int:
        """Height of a frame in pixels."""
        return self._rows

    @property
    def cols(self) -> int:
        """Width of a frame in pixels."""
        return self._cols

    @property
    def n_frames(self) -> int:
        """Frames as stated or counted."""
        return self._n_frames

    @property
    def is_colour(self) -> bool:
        """Whether the chunks have three channels."""
        return self._is_colour

    def chunks(self, size: int = 32, start: int = 0) -> Iterator[FrameChunk]:
        """Yield the frames in order, at most `size` at a time; see `Frames.chunks`.

        Frames before `start` are passed over, without being decoded where the file allows it.

        Raises
        ------
        FrameDamageError
            At the first frame that cannot be decoded; frames before it were delivered.
        """
        if size < 1:
            raise ValueError(f"a chunk holds at least one frame, got {size}")
        if not 0 <= start < max(self._n_frames, 1):
            raise ValueError(f"start must be a frame of the clip, 0 to {self._n_frames - 1}, got {start}")
        shape = (self._rows, self._cols, 3) if self._is_colour else (self._rows, self._cols)
        size = max(1, min(size, self._n_frames, self._chunk_bytes // int(np.prod(shape))))
        buffer = np.empty((size, *shape), dtype=np.uint8)
        first, filled, passed = start, 0, 0
        times: list[float] = []
        damage: FrameDamageError | None = None
        source = self._start()
        while first + filled < self._n_frames:
            try:
                write = next(source, None)
                if write is None:
                    if first + filled == 0 or not self._may_end_early:
                        damage = FrameDamageError(first + filled, "the file ends before this frame")
                    break
                if passed < start:
                    passed += 1
                    continue
                time_ms = write(buffer[filled])
            except FrameDamageError as error:
                damage = error
                break
            if time_ms is not None:
                times.append(time_ms)
            filled += 1
            self._tell(first + filled)
            if filled == size:
                yield self._chunk(buffer, first, filled, times)
                first, filled, times = first + filled, 0, []
        if filled:
            yield self._chunk(buffer, first, filled, times)
        if damage is not None:
            raise damage

    @staticmethod
    def _chunk(buffer: Picture, first: int, filled: int, times: list[float]) -> FrameChunk:
        return FrameChunk(first=first, pixels=buffer[:filled], times_ms=tuple(times) if len(times) == filled else ())

    def close(self) -> None:
        """Close the file; can be called twice."""
        if self._on_close is not None:
            self._on_close()
            self._on_close = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()
