"""Frames for a viewer, read in a process of their own: decoders meet hostile bytes there."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.intake import Item, Limits, ShownFrame, ShownFrames, open_frames, open_shown_frames
from fanlight.review.worker import Beat
from fanlight.study import Clip, FrameDamageError

_OPEN_CLIPS = 3
_WITHIN_S = 60.0  # a frame deep inside a video is reached by decoding all before it


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Some frames in a row. `damage` says why the next one cannot be had; "" when the row does not end early."""

    frames: tuple[ShownFrame, ...]
    n_frames: int
    damage: str = ""


@dataclass(slots=True)
class _Open:
    source: ShownFrames
    row: Iterator[ShownFrame]
    at: int  # the frame that comes next


_OPEN: OrderedDict[str, _Open] = OrderedDict()  # belongs to the worker process, which does one task at a time


def read_shown(
    item: Item, clip: Clip, limits: Limits, first: int, count: int, enough_bytes: int, *, beat: Beat
) -> Batch:
    """Return frames from `first` on: at most `count`, and no more once `enough_bytes` are reached; worker task."""
    beat("decoding", within_s=_WITHIN_S)
    there = _opened(item, clip, limits)
    frames: list[ShownFrame] = []
    size = 0
    try:
        if there.at != first:
            there.row, there.at = there.source.frames(first), first
        while len(frames) < count and size < enough_bytes:
            frame = next(there.row, None)
            if frame is None:
                there.at = -1
                break
            beat("decoding", within_s=_WITHIN_S, done=len(frames))
            frames.append(frame)
            size += len(frame.data)
            there.at = frame.index + 1
    except FrameDamageError as error:
        there.at = -1  # those after it may be whole
        return Batch(frames=tuple(frames), n_frames=there.source.n_frames, damage=str(error))
    except BaseException:
        _close(str(item.path))
        raise
    return Batch(frames=tuple(frames), n_frames=there.source.n_frames)


def read_pixels(item: Item, clip: Clip, limits: Limits, frame: int, *, beat: Beat) -> NDArray[np.uint8]:
    """Return one decoded frame, (row, col) or (row, col, 3); worker task."""
    beat(f"decoding frame {frame + 1}", within_s=_WITHIN_S)
    with open_frames(item, clip, limits) as frames:
        return np.array(next(frames.chunks(1, frame)).pixels[0])


def _opened(item: Item, clip: Clip, limits: Limits) -> _Open:
    key = str(item.path)
    if key not in _OPEN:
        source = open_shown_frames(item, clip, limits)
        _OPEN[key] = _Open(source, iter(()), -1)
        while len(_OPEN) > _OPEN_CLIPS:
            _close(next(iter(_OPEN)))
    _OPEN.move_to_end(key)
    return _OPEN[key]


def _close(key: str) -> None:
    if (there := _OPEN.pop(key, None)) is not None:
        there.source.close()


def say_ready(*, beat: Beat) -> bool:
    """Do nothing, once the modules are loaded; worker task."""
    beat("starting")
    return True
