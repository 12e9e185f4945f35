"""Colour of one clip, read once for all families: velocities, grey and the beams' geometry inside the coloured part."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.frames.colour_box import CHROMA_LEVEL, chroma, picture_mask
from fanlight.frames.doppler.colour_bar import ColourBar, find_colour_bar
from fanlight.frames.doppler.colour_velocity import colour_table, velocity_shares
from fanlight.study import MODE_WORDS, Box, Mode, PictureChunk

# How sure a finding is called while no table tells how often these criteria are right: too little for a letter.
UNMEASURED = 0.4
# A speck is smaller than this share of the coloured part; flow is larger (engineering judgement).
LARGEST_SPECK_SHARE = 0.003
_SHARED_NAME = "doppler.colour_frames"
_BESIDE_BAR_PX = 40  # from the bar to its numbers
_ROOM_PX = 3  # round the coloured part


def is_colour(context: ClipContext) -> bool:
    """Whether criteria of colour Doppler are asked of this clip at all: of other modes they say nothing."""
    return context.mode.mode in (Mode.COLOUR, Mode.POWER)


def why_not_colour(context: ClipContext) -> str:
    """Return why criteria of colour Doppler do not apply to this clip, or "" when they do."""
    mode = context.mode.mode
    if mode is None:
        return "the mode of this clip is not sure"
    if mode is not Mode.COLOUR:
        return f"this clip is {MODE_WORDS[mode]}, not colour Doppler of velocity"
    if context.layout.picture is None:
        return f"the picture was not found on the screen: {context.layout.picture_reason}"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourChunk:
    """Some frames of the coloured part of the picture."""

    first: int
    coloured: NDArray[np.bool_]  # (frame, row, col), inside the picture
    shares: NDArray[np.float32] | None  # of the scale; None without a bar
    grey: NDArray[np.uint8]


@dataclass(slots=True)
class ColourFrames:
    """Reads each chunk once, whichever family asks first."""

    context: ClipContext
    box: Box | None = None  # of the screen, that is looked at
    bar: ColourBar | None = None
    inside: NDArray[np.bool_] | None = None  # (row, col) of the box
    _table: NDArray[np.float32] | None = None
    _last: ColourChunk | None = None
    _settled: bool = field(default=False)

    def read(self, chunk: PictureChunk) -> ColourChunk:
        """Return the colour of a chunk."""
        if self._last is not None and self._last.first == chunk.first:
            return self._last
        if not self._settled:
            self._settle(chunk)
        assert self.box is not None
        assert self.inside is not None
        rows, cols = slice(self.box.row0, self.box.row1), slice(self.box.col0, self.box.col1)
        grey = chunk.grey[:, rows, cols]
        if chunk.pixels.ndim == 3:
            coloured, shares = np.zeros(grey.shape, np.bool_), None
        else:
            pixels = np.ascontiguousarray(chunk.pixels[:, rows, cols])
            coloured = np.stack([chroma(frame) for frame in pixels]) >= CHROMA_LEVEL
            coloured &= self.inside
            shares = None if self._table is None else velocity_shares(pixels, self._table)
        self._last = ColourChunk(first=chunk.first, coloured=coloured, shares=shares, grey=grey)
        return self._last

    def _settle(self, chunk: PictureChunk) -> None:
        """Find the bar and what is to be looked at, from the first chunk."""
        self._settled = True
        layout = self.context.layout
        assert layout.picture is not None
        rows, cols = chunk.grey.shape[1:]
        mask = picture_mask(layout.picture, rows, cols) > 0
        box = layout.colour_box
        if box is None:
            ys, xs = np.nonzero(mask)
            box = Box(row0=int(ys.min()), col0=int(xs.min()), row1=int(ys.max()) + 1, col1=int(xs.max()) + 1)
        self.box = Box(
            row0=max(box.row0 - _ROOM_PX, 0), col0=max(box.col0 - _ROOM_PX, 0),
            row1=min(box.row1 + _ROOM_PX, rows), col1=min(box.col1 + _ROOM_PX, cols),
        )  # fmt: skip
        self.inside = mask[self.box.row0 : self.box.row1, self.box.col0 : self.box.col1]
        if chunk.pixels.ndim == 4:
            self.bar = find_colour_bar(np.ascontiguousarray(chunk.pixels[0]), layout.picture)
            self._table = None if self.bar is None else colour_table(self.bar)


def scale_cm_s(context: ClipContext, bar: ColourBar) -> float | None:
    """Return the velocity at the ends of the bar as the screen says it beside the bar, cm/s; None where it does not."""
    near = bar.box.width_px + _BESIDE_BAR_PX
    found = []
    for text in context.layout.texts:
        apart_cols = max(text.box.col0 - bar.box.col1, bar.box.col0 - text.box.col1)
        apart_rows = max(text.box.row0 - bar.box.row1, bar.box.row0 - text.box.row1)
        if apart_cols > near or apart_rows > near:
            continue
        factor = {"cm/s": 1.0, "m/s": 100.0}
        found += [abs(q.value) * factor[q.unit] for q in text.quantities if q.unit in factor]
    return max(found) if found else None


def colour_frames(context: ClipContext) -> ColourFrames:
    """Return the reader that all families of this clip share."""
    if _SHARED_NAME not in context.shared:
        context.shared[_SHARED_NAME] = ColourFrames(context=context)
    found = context.shared[_SHARED_NAME]
    assert isinstance(found, ColourFrames)
    return found


def small_parts(mask: NDArray[np.bool_], largest_px: float) -> NDArray[np.bool_]:
    """Return the connected parts of a mask that are no larger than this."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    small = stats[:, cv2.CC_STAT_AREA] <= largest_px
    small[0] = False
    return np.asarray(small[labels])
