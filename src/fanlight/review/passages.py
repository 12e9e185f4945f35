"""Passages of clips, cut out in the process that decodes: only small pictures leave it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fanlight.intake import Item, Limits, open_frames
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError, encode_passage, need_picture
from fanlight.report.passage import Passage
from fanlight.review.worker import Beat
from fanlight.study import Clip, FrameChunk, FrameDamageError

_CHUNK = 4
_WITHIN_S = 60.0  # a frame deep inside a video is reached by decoding all before it


def cut_passage(
    item: Item, clip: Clip, limits: Limits, passage: Passage, cutting: Cutting, *, beat: Beat
) -> CutPassage | str:
    """Return a passage cut out, or why it cannot be; worker task."""
    try:
        need_picture(passage)
        with open_frames(item, clip, limits) as source:
            return encode_passage(_frames(source.chunks(_CHUNK, passage.frames[0]), passage, beat), passage, cutting)
    except FrameDamageError:
        return "some of its frames cannot be decoded"
    except ExcerptError as error:
        return str(error)


def _frames(chunks: Iterator[FrameChunk], passage: Passage, beat: Beat) -> Iterator[tuple[int, NDArray[np.uint8]]]:
    last = max(*passage.frames, passage.frame)
    beat("decoding", within_s=_WITHIN_S)
    for chunk in chunks:
        for place, pixels in enumerate(chunk.pixels, start=chunk.first):
            beat("cutting out", within_s=_WITHIN_S, done=place)
            if place <= last:
                yield place, pixels
        if chunk.first + len(chunk) > last:
            break
    beat("encoding", within_s=_WITHIN_S)
