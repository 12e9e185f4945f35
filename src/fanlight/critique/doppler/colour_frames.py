"""Colour of one clip, read once for all families: velocities, grey and the beams' geometry inside the coloured part."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.frames.colour_box import CHROMA_LEVEL, chroma, coloured_pixels, picture_mask
from fanlight.frames.doppler.colour_bar import ColourBar, find_colour_bar
from fanlight.frames.doppler.colour_outline import ColourOutline, find_outline, painted_outline
from fanlight.frames.doppler.colour_velocity import colour_places, colour_tables, shares_at, wrapped_borders
from fanlight.study import MODE_WORDS, Box, Mode, Picture, PictureChunk

# A speck is smaller than this share of the coloured part; flow is larger (engineering judgement).
LARGEST_SPECK_SHARE = 0.003
FEWEST_FRAMES = 6  # for frames to be told apart by what flows in them
# Of the frames, from the calmest on: at some moment of a beat nothing flows fast enough for colour.
CALM_PERCENTILE = 20.0
# Noise has every speed side by side. From this share of the box on, in its calmest frames, it is noise all over: 0.08
# and more with a gain that paints snow, below 0.01 with any other setting (simulated clips of ring A).
NOISE_SHARE, NOISE_FROM_SPEED = 0.04, 0.4
_SHARED_NAME = "doppler.colour_frames"
_ROOM_PX = 3  # round the coloured part
_LINE_PX = 2  # of the outline and its soft rim, which are no colour
_FEWEST_PX = 60  # coloured in the whole clip: less is no colour


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourChunk:
    """Some frames of the coloured part of the picture."""

    first: int
    coloured: NDArray[np.bool_]  # (frame, row, col), inside the picture
    shares: NDArray[np.float32] | None  # of the scale, NaN where nothing is coloured; None without a bar
    grey: NDArray[np.uint8]
    scatter: NDArray[np.float32] | None = None  # how turbulent flow is, 0 to 1; None where the bar shows none


@dataclass(slots=True)
class ColourFrames:
    """Reads each chunk once, whichever family asks first."""

    context: ClipContext
    box: Box | None = None  # of the screen, that is looked at
    bar: ColourBar | None = None
    inside: NDArray[np.bool_] | None = None  # (row, col) of the box
    _tables: tuple[NDArray[np.float32], ...] = ()  # of shares, and of scatter where the bar shows turbulence
    _is_on_screen: bool | None = None  # None: not looked yet
    _last: ColourChunk | None = None
    _settled: bool = field(default=False)
    _ever: NDArray[np.bool_] | None = None  # (row, col) of the box: coloured in any frame
    _darkest: NDArray[np.uint8] | None = None  # (row, col, 3) of the screen, while no outline was found
    _picture_rows: slice = field(default_factory=lambda: slice(None))  # of the screen, with some room
    _drawn: ColourOutline | None = None
    _disorder: list[float] = field(default_factory=list)  # share of the box where fast colours of both ends meet

    @property
    def is_asked(self) -> bool:
        """Whether criteria of colour Doppler are asked of this clip at all: of other modes they say nothing."""
        return self.context.mode.mode in (Mode.COLOUR, Mode.POWER)

    @property
    def why_not(self) -> str:
        """Why criteria of colour Doppler do not apply to this clip, or ""."""
        mode = self.context.mode.mode
        if mode is None:
            return "the mode of this clip is not sure"
        if mode is not Mode.COLOUR:
            return f"this clip is {MODE_WORDS[mode]}, not colour Doppler of velocity"
        if self.context.layout.picture is None:
            return f"the picture was not found on the screen: {self.context.layout.picture_reason}"
        if not self._lies_on_screen():
            return "the picture, as it was found or marked, lies off the screen: mark it anew"
        return ""

    def _lies_on_screen(self) -> bool:
        """Whether any pixel of the screen lies in the picture."""
        if self._is_on_screen is None:
            layout = self.context.layout
            assert layout.picture is not None
            self._is_on_screen = bool(picture_mask(layout.picture, layout.rows, layout.cols).any())
        return self._is_on_screen

    def read(self, chunk: PictureChunk) -> ColourChunk:
        """Return the colour of a chunk."""
        if self._last is not None and self._last.first == chunk.first:
            return self._last
        if not self._settled:
            self._settle(chunk)
        elif self._drawn is None and chunk.pixels.ndim == 4:
            self._darken(chunk.pixels)
        assert self.box is not None
        assert self.inside is not None
        rows, cols = slice(self.box.row0, self.box.row1), slice(self.box.col0, self.box.col1)
        grey = chunk.grey[:, rows, cols]
        if chunk.pixels.ndim == 3:
            coloured, shares, scatter = np.zeros(grey.shape, np.bool_), None, None
        else:
            pixels = np.ascontiguousarray(chunk.pixels[:, rows, cols])
            coloured = np.stack([chroma(frame) for frame in pixels]) >= CHROMA_LEVEL
            coloured &= self.inside
            looked_up = shares_at(colour_places(pixels), coloured, *self._tables) if self._tables else ()
            shares, scatter = (*looked_up, None, None)[:2]
            self._gather(coloured, shares)
        self._last = ColourChunk(first=chunk.first, coloured=coloured, shares=shares, grey=grey, scatter=scatter)
        return self._last

    def _gather(self, coloured: NDArray[np.bool_], shares: NDArray[np.float32] | None) -> None:
        """Keep what is told only once all frames were shown: noise, and how far colour reaches."""
        assert self.inside is not None
        if shares is not None:
            whole = max(int(np.count_nonzero(self.inside)), 1)
            self._disorder += [_disorder(*pair) / whole for pair in zip(shares, coloured, strict=True)]
        ever = np.asarray(coloured.any(axis=0), np.bool_)
        self._ever = ever if self._ever is None else self._ever | ever

    def _darken(self, pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return the least that each pixel of the picture was so far; screen above and below it is left black."""
        darkest = pixels[:, self._picture_rows].min(axis=0)
        if self._darkest is None:
            self._darkest = np.zeros(pixels.shape[1:], np.uint8)
            self._darkest[self._picture_rows] = darkest
        else:
            np.minimum(self._darkest[self._picture_rows], darkest, out=self._darkest[self._picture_rows])
        return self._darkest

    def noise_share(self) -> float | None:
        """Return the share of the box where fast colours of both ends meet in its calmest frames; None: not known."""
        if self.bar is None or len(self._disorder) < FEWEST_FRAMES:
            return None
        return float(np.percentile(self._disorder, CALM_PERCENTILE))

    def is_noise(self) -> bool:
        """Whether noise lies over the box even when no blood flows: its colours mean nothing."""
        share = self.noise_share()
        return share is not None and share >= NOISE_SHARE

    def outline(self) -> ColourOutline | None:
        """Return the colour box: as it is drawn, else as far as colour was painted; None without either."""
        picture = self.context.layout.picture
        if self._ever is None or self.box is None or picture is None:
            return None
        if self._drawn is not None:
            return self._drawn
        is_painted = np.count_nonzero(self._ever) >= _FEWEST_PX
        painted = painted_outline(self._ever, picture, self.box.row0, self.box.col0) if is_painted else None
        if self._darkest is not None:
            self._drawn, self._darkest = find_outline(self._darkest, picture, painted), None
        return self._drawn or painted

    def _settle(self, chunk: PictureChunk) -> None:
        """Find the bar, the drawn box and what is to be looked at, from the first chunk."""
        self._settled = True
        layout = self.context.layout
        assert layout.picture is not None
        rows, cols = chunk.grey.shape[1:]
        mask = picture_mask(layout.picture, rows, cols) > 0
        ys, xs = np.nonzero(mask)
        self._picture_rows = slice(max(int(ys.min()) - _ROOM_PX, 0), int(ys.max()) + 1 + _ROOM_PX)
        box = layout.colour_box
        if box is None:
            box = Box(row0=int(ys.min()), col0=int(xs.min()), row1=int(ys.max()) + 1, col1=int(xs.max()) + 1)
        if chunk.pixels.ndim == 4:
            self.bar = find_colour_bar(np.ascontiguousarray(chunk.pixels[0]), layout.picture)
            if self.bar is not None:
                self._tables = tuple(table for table in colour_tables(self.bar) if table is not None)
            coloured = coloured_pixels(chunk.pixels, layout.picture) > 0
            painted = painted_outline(coloured, layout.picture) if np.count_nonzero(coloured) >= _FEWEST_PX else None
            self._drawn = find_outline(self._darken(chunk.pixels), layout.picture, painted)
        if self._drawn is not None:
            drawn = outline_mask(self._drawn, layout.picture, rows, cols)
            ys, xs = np.nonzero(drawn)
            if len(ys):  # an outline at the apex may leave nothing inside its own line
                mask &= drawn
                box = Box(row0=int(ys.min()), col0=int(xs.min()), row1=int(ys.max()) + 1, col1=int(xs.max()) + 1)
        self.box = Box(
            row0=max(box.row0 - _ROOM_PX, 0), col0=max(box.col0 - _ROOM_PX, 0),
            row1=min(box.row1 + _ROOM_PX, rows), col1=min(box.col1 + _ROOM_PX, cols),
        )  # fmt: skip
        self.inside = mask[self.box.row0 : self.box.row1, self.box.col0 : self.box.col1]


def _disorder(shares: NDArray[np.float32], coloured: NDArray[np.bool_]) -> int:
    """Return at how many coloured pixels of a frame fast colours of both ends of the scale meet."""
    return int(np.count_nonzero(wrapped_borders(shares, NOISE_FROM_SPEED) & coloured))


def outline_mask(outline: ColourOutline, picture: Picture, rows: int, cols: int) -> NDArray[np.bool_]:
    """Return what lies inside an outline, without its line, (row, col)."""
    mask = np.zeros((rows, cols), np.uint8)
    points = np.array([[round(col), round(row)] for row, col in outline.points(picture)], np.int32)
    cv2.fillPoly(mask, [points], 1)
    return np.asarray(cv2.erode(mask, np.ones((2 * _LINE_PX + 1,) * 2, np.uint8)) > 0)


def colour_frames(context: ClipContext) -> ColourFrames:
    """Return the reader that all families of this clip share."""
    if _SHARED_NAME not in context.shared:
        context.shared[_SHARED_NAME] = ColourFrames(context=context)
    found = context.shared[_SHARED_NAME]
    assert isinstance(found, ColourFrames)
    return found


def small_parts(mask: NDArray[np.bool_], largest_px: float) -> NDArray[np.bool_]:
    """Return the connected parts of a mask that are no larger than this."""
    # Counted here: the library works out a box and a middle of each part as well, which takes twice as long.
    count, labels = cv2.connectedComponents(mask.view(np.uint8), connectivity=8)
    small = np.bincount(labels.ravel(), minlength=count) <= largest_px
    small[0] = False
    return small.take(labels) if small.any() else np.zeros(mask.shape, np.bool_)
