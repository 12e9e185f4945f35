"""The lines of a strip read off its picture, in a process of its own: decoders meet hostile bytes there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fanlight.intake import Item, Limits, open_frames
from fanlight.measure.from_strip import StripCase
from fanlight.measure.strip_lines import StripLines, read_lines
from fanlight.review.worker import Beat
from fanlight.study import Clip, House

_WITHIN_S = 60.0  # a frame deep inside a video is reached by decoding all before it


def lines_of_strip(item: Item, clip: Clip, limits: Limits, case: StripCase, house: House, *, beat: Beat) -> StripLines:
    """Return the lines of a strip; worker task.

    Parameters
    ----------
    case : StripCase
        Without its picture, which is decoded here.
    """
    beat(f"decoding frame {case.frame + 1}", within_s=_WITHIN_S)
    with open_frames(item, clip, limits) as frames:
        pixels = np.array(next(frames.chunks(1, case.frame)).pixels[0])
    beat("reading the lines", within_s=_WITHIN_S)
    return read_lines(replace(case, pixels=pixels), house)
