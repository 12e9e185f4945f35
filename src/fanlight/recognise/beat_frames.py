"""Frames of about one beat out of a clip that is read in chunks, small enough to keep until the beats are known."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import CHROMA_LEVEL, chroma
from fanlight.recognise.picture_square import Squares
from fanlight.study import ClipTime, PictureChunk, Sector

N_FRAMES = 6  # that the network was trained on, in even steps over one beat
MOST_KEPT = 96  # of a longer clip every second frame is kept, then every fourth, and so on
# Few frames are shown in the end. Up to this much they stay where they came, which costs no time: 72 frames of 1920 ×
# 1080 do. Beyond it, and where their memory is used again for the next frames, they are copied: pictures up to WHOLE_PX
# as they are, larger ones made small at once, to 0.1 MB or less, so that a clip never holds more than 50 MB of either.
HELD_BYTES = 160_000_000
WHOLE_PX = 500_000
_ABOUT_A_BEAT_MS = 500.0  # engineering judgement: where no beat was found, a dog's beat at 120 a minute
_ABOUT_A_BEAT_FRAMES = 25.0  # where nobody tells the time either


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Painted:
    """How much of each pixel of the square is painted in colour, 0 to 255."""

    frames: NDArray[np.uint8]  # (frame, side, side)
    ever: NDArray[np.uint8]  # (side, side), in any frame of the clip that was kept


class BeatFrames:
    """Collects pictures of a clip; `chosen` says which of them stand for a beat and brings those to squares."""

    def __init__(self, picture: Sector, *, with_colour: bool = False) -> None:
        self._picture = picture
        self._with_colour = with_colour
        self._coloured: dict[int, NDArray[np.uint8]] = {}  # by the frame's index: 255 where colour is painted, small
        self._squares: Squares | None = None
        self._step = 1
        self._held: dict[int, NDArray[np.uint8]] | None = {}  # parts where they came, by index; None: copied
        self._held_bytes = 0
        self._is_whole = False  # copied as it is, or small
        self._room = np.empty((MOST_KEPT, 0, 0), np.uint8)  # one piece: the system gives it out far cheaper than many
        self._free = list(range(MOST_KEPT))
        self._kept: dict[int, int] = {}  # places in the room by the frame's index
        self._n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames; the chunk's grey must stay as it is unless it is its pixels."""
        if self._squares is None:
            self._squares = Squares(self._picture, chunk.grey.shape[1:])
        squares = self._squares
        self._n_frames = chunk.first + len(chunk)
        self._held_bytes += chunk.grey.nbytes
        if self._held_bytes > HELD_BYTES or np.may_share_memory(chunk.grey, chunk.pixels):
            self._copy_held()
        for index, frame in enumerate(chunk.grey, chunk.first):
            if index % self._step == 0 and len(self._indices()) == MOST_KEPT:
                self._thin()
            if index % self._step == 0:
                self._keep(index, squares.part(frame))
                if self._with_colour and chunk.pixels.ndim == 4:
                    self._coloured[index] = self._painted(chunk.pixels[index - chunk.first])

    def _painted(self, frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return 255 where single pixels are coloured, small; channel by channel they are gathered fastest."""
        assert self._squares is not None
        channels = [self._squares.sparse(frame[..., channel]) for channel in range(3)]
        apart = chroma(np.asarray(cv2.merge(channels), np.uint8))
        return np.asarray(cv2.threshold(apart, CHROMA_LEVEL - 1, 255, cv2.THRESH_BINARY)[1], np.uint8)

    def _keep(self, index: int, part: NDArray[np.uint8]) -> None:
        if self._held is not None:
            self._held[index] = part
            return
        if not self._room.size:
            self._make_room(part)
        assert self._squares is not None
        self._kept[index] = place = self._free.pop()
        self._room[place] = part if self._is_whole else self._squares.small(part)

    def _make_room(self, part: NDArray[np.uint8]) -> None:
        assert self._squares is not None
        self._is_whole = part.size <= WHOLE_PX
        shape = part.shape if self._is_whole else self._squares.small(part).shape
        self._room = np.empty((MOST_KEPT, *shape), np.uint8)

    def _copy_held(self) -> None:
        """Copy what was held, and from now on each frame as it comes."""
        held, self._held = self._held or {}, None
        for index, part in held.items():
            self._keep(index, part)

    def _indices(self) -> Collection[int]:
        return self._kept if self._held is None else self._held

    def _thin(self) -> None:
        self._step *= 2
        if self._held is not None:
            self._held = {index: part for index, part in self._held.items() if index % self._step == 0}
        self._free += [place for index, place in self._kept.items() if index % self._step]
        self._kept = {index: place for index, place in self._kept.items() if index % self._step == 0}
        self._coloured = {index: painted for index, painted in self._coloured.items() if index % self._step == 0}

    def chosen(self, time: ClipTime) -> tuple[tuple[int, ...], NDArray[np.uint8]]:
        """Return the indices of the chosen frames, rising, and their squares (frame, side, side)."""
        squares = self._squares
        assert squares is not None  # of no frame nothing can be chosen
        there = np.array(sorted(self._indices()))
        wanted = beat_places(time, self._n_frames)
        nearest = sorted({int(there[np.abs(there - place).argmin()]) for place in wanted})
        return tuple(nearest), np.stack([squares.square(self._small(index)) for index in nearest])

    def _small(self, index: int) -> NDArray[np.uint8]:
        assert self._squares is not None
        kept = self._room[self._kept[index]] if self._held is None else self._held[index]
        return kept if self._held is None and not self._is_whole else self._squares.small(kept)

    def coloured(self, indices: Sequence[int]) -> Painted | None:
        """Return where colour is painted, in some of the frames kept and in any of them; None: it was not looked at."""
        if self._squares is None or not self._coloured:
            return None
        ever = np.maximum.reduce(list(self._coloured.values()))
        return Painted(
            frames=np.stack([self._squares.square(self._coloured[index]) for index in indices]),
            ever=self._squares.square(ever),
        )


def beat_places(time: ClipTime, n_frames: int) -> Sequence[float]:
    """Return fractional frame indices in even steps over one beat, from its end of diastole where that is known."""
    period = time.beat_period_frames or _guessed_period(time, n_frames)
    starts = [float(f) for f in time.end_diastole_frames] or [r for r in time.r_frames if r >= 0]
    span, last = period * (1 - 1 / N_FRAMES), n_frames - 1
    whole = [start for start in starts if start + span <= last]
    start = whole[0] if whole else max(0.0, min(starts[0] if starts else 0.0, last - span))
    return [float(place) for place in start + period * np.arange(N_FRAMES) / N_FRAMES if place <= last + 0.5]


def _guessed_period(time: ClipTime, n_frames: int) -> float:
    rate_hz = time.times.rate_hz
    frames = _ABOUT_A_BEAT_FRAMES if rate_hz is None else _ABOUT_A_BEAT_MS * rate_hz / 1000.0
    return min(max(frames, 1.0), float(n_frames))
