"""A mark followed through its clip, in a process of its own: decoders meet hostile bytes there."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from fanlight.frames.polar import to_grey
from fanlight.intake import Item, Limits, open_frames
from fanlight.measure.followed_mark import FollowedMark, follow_mark
from fanlight.measure.shapes import Pixel
from fanlight.reference.tracking import TrackSettings
from fanlight.review.worker import Beat
from fanlight.study import Clip, FrameDamageError, Point

_CHUNK = 16
_WITHIN_S = 60.0  # a frame deep inside a video is reached by decoding all before it
_LONGEST_S = 90.0  # engineering judgement: nobody waits longer for one mark
_BYTES = 600_000_000  # of grey frames at once: 750 frames of 1024 x 768, well below the worker's limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One mark and how it is to be followed."""

    kind: str
    points: tuple[Point, ...]
    frame: int  # on which it stands
    first: int  # frames to be followed, both ends among them
    last: int
    pixel: Pixel | None
    period_frames: float | None
    settings: TrackSettings


class TooLongError(RuntimeError):
    """Following took longer than anybody waits."""


def track_mark(item: Item, clip: Clip, limits: Limits, wanted: Wanted, *, beat: Beat) -> FollowedMark:
    """Return the mark on the frames wanted, up to one that cannot be decoded; worker task."""
    ends_at = time.monotonic() + _LONGEST_S

    def alive(phase: str, done: int, within_s: float) -> None:
        if time.monotonic() > ends_at:
            raise TooLongError(f"not finished after {_LONGEST_S:g} s")
        beat(phase, within_s=within_s, done=done)

    frames: list[np.ndarray] = []
    size = 0
    alive("decoding", 0, _WITHIN_S)
    with open_frames(item, clip, limits) as source:
        try:
            for chunk in source.chunks(_CHUNK, wanted.first):
                grey = to_grey(np.asarray(chunk.pixels))[: wanted.last + 1 - chunk.first]
                frames += list(grey)
                size += grey.nbytes
                if chunk.first + len(grey) > wanted.last or size > _BYTES:
                    break
                alive("decoding", len(frames), _WITHIN_S)
        except FrameDamageError:
            if len(frames) <= wanted.frame - wanted.first:
                raise  # the mark's own frame is not among those before the damage
    return follow_mark(
        np.stack(frames), wanted.kind, wanted.points, wanted.frame - wanted.first, wanted.settings,
        pixel=wanted.pixel, period_frames=wanted.period_frames, first=wanted.first,
        alive=lambda done: alive("following", done, 20.0),
    )  # fmt: skip
