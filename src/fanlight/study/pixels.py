"""Moving pictures read in chunks, so that a long clip never has to fit in memory."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

GreyArray = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameChunk:
    """Some frames in a row. The arrays may be a reused buffer: copy what must outlive the next chunk."""

    first: int  # index of the first frame, counted from 0
    pixels: NDArray[np.uint8]  # (frame, row, col) grey or (frame, row, col, 3) RGB
    times_ms: tuple[float, ...] = ()  # from the container, where it tells a time for each frame

    def __len__(self) -> int:
        return int(self.pixels.shape[0])


class Frames(Protocol):
    """Frames of one clip. Reading starts anew with each call of `chunks`."""

    @property
    def rows(self) -> int: ...
    @property
    def cols(self) -> int: ...
    @property
    def n_frames(self) -> int: ...
    @property
    def is_colour(self) -> bool: ...
    def chunks(self, size: int = 32) -> Iterator[FrameChunk]:
        """Yield the frames in order, `size` at a time.

        Raises
        ------
        FrameDamageError
            At the first frame that cannot be decoded; chunks before it were delivered.
        """
        ...

    def close(self) -> None: ...
    def __enter__(self) -> Self: ...
    def __exit__(self, *exc: object) -> None: ...


class FrameDamageError(ValueError):
    """A frame of a clip cannot be decoded; frames before it can be used."""

    def __init__(self, frame: int, found: str) -> None:
        self.frame = frame
        self.found = found
        super().__init__(f"frame {frame + 1} cannot be decoded: {found}; send the original file again")


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureChunk:
    """What the criteria look at: the frames, their grey values, and the beams laid upright.

    `grey` is the luma of `pixels` with coloured Doppler pixels kept as they are; `beams` has the face in
    row 0 and the left edge in column 0 (see ``frames.polar``), or is None where no picture was found.
    """

    first: int
    pixels: NDArray[np.uint8]
    grey: GreyArray  # (frame, row, col)
    beams: NDArray[np.uint8] | None  # (frame, depth, beam)

    def __len__(self) -> int:
        return int(self.grey.shape[0])
