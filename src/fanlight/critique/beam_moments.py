"""Mean and spread over time of every sample along the beams, with Doppler colour left out."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.applies import has_colour_overlay
from fanlight.critique.tissue import INNER_FROM, INNER_TO, rows_between
from fanlight.frames.polar import DEFAULT_BEAMS, DEFAULT_DEPTHS, polar_maps
from fanlight.study import Picture, PictureChunk

FULL_SCALE = 255.0
# Below this peak the screen holds no echo at all: 3 % of the range, the noise of a lossy codec on black.
BLACK_LEVEL = 8
# Spread between the colour channels above which a sample is Doppler colour and not grey. JPEG chroma noise on grey
# stays below about 10 levels; the darkest colours of a velocity map lie near 40 (engineering judgement).
COLOUR_SPREAD_LEVELS = 24
# A greyscale picture that is tinted as a whole (a colour map on the 2-D picture) is not Doppler: above this share of
# its lit samples the tint is taken for the picture's own.
TINT_SHARE = 0.75
# Long clips are sampled so that about this many frames are looked at (engineering judgement: the standard error of a
# sample's mean is then below 3 grey levels even for full speckle, SD about 26 levels).
ENOUGH_FRAMES = 96


def on_screen(picture: Picture, rows: int, cols: int) -> NDArray[np.bool_]:
    """Return which samples (depth, beam) of the upright beams lie on the screen."""
    map_cols, map_rows = polar_maps(picture, DEFAULT_DEPTHS, DEFAULT_BEAMS)
    return np.asarray((map_cols >= 0) & (map_cols <= cols - 1) & (map_rows >= 0) & (map_rows <= rows - 1))


def coloured_samples(pixels: NDArray[np.uint8], picture: Picture) -> NDArray[np.bool_]:
    """Return which samples (depth, beam) of one RGB frame, shape (row, col, 3), carry Doppler colour."""
    found = np.zeros((DEFAULT_DEPTHS, DEFAULT_BEAMS), np.bool_)
    samples, places = _in_order(picture, *pixels.shape[:2])
    if not len(samples):  # the picture lies off the screen: no colours to part
        return found
    levels = pixels.reshape(-1)
    # No place is off the screen, so none wraps round: the library then leaves out a test of each. It takes single bytes
    # far faster than three at once.
    red, green, blue = (levels[channel:].take(places, mode="wrap") for channel in range(3))
    most, least = np.maximum(np.maximum(red, green), blue), np.minimum(np.minimum(red, green), blue)
    spread = most - least > COLOUR_SPREAD_LEVELS
    lit = int(np.count_nonzero(most > COLOUR_SPREAD_LEVELS))
    if not (lit and np.count_nonzero(spread) > TINT_SHARE * lit):
        found.reshape(-1)[samples[spread]] = True
    return found


@lru_cache(maxsize=4)
def _in_order(picture: Picture, rows: int, cols: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the samples that lie on the screen, as they follow each other there, and the byte of red next to each.

    A frame is larger than the processor's cache: read in one sweep it comes twice as fast as beam by beam.
    """
    nearest, _ = cv2.convertMaps(
        *polar_maps(picture, DEFAULT_DEPTHS, DEFAULT_BEAMS), cv2.CV_16SC2, nninterpolation=True
    )
    col, row = (nearest[..., k].reshape(-1).astype(np.intp) for k in (0, 1))
    samples = np.flatnonzero((row >= 0) & (row < rows) & (col >= 0) & (col < cols))
    places = (row * cols + col)[samples]
    order = np.argsort(places, kind="stable")
    return samples[order], 3 * places[order]


class FrameSampler:
    """Which frames of a clip are looked at: evenly spread, about `enough` of them."""

    def __init__(self, n_frames: int, enough: int = ENOUGH_FRAMES) -> None:
        self.step = max(1, n_frames // enough)

    def pick(self, chunk: PictureChunk) -> list[int]:
        """Return places within the chunk."""
        return list(range((-chunk.first) % self.step, len(chunk), self.step))


class BeamMoments:
    """Running mean and standard deviation over time of each sample of the upright beams."""

    def __init__(self, context: ClipContext) -> None:
        picture = context.layout.picture
        assert picture is not None
        self._picture: Picture = picture
        self._overlay = has_colour_overlay(context)
        self._sampler = FrameSampler(context.clip.n_frames)
        shape = (DEFAULT_DEPTHS, DEFAULT_BEAMS)
        self._sum = np.zeros(shape, np.float32)
        self._squares = np.zeros(shape, np.float32)
        self._count = np.zeros(shape, np.float32)
        self.valid = on_screen(picture, context.layout.rows, context.layout.cols)
        inner = np.zeros(shape, np.bool_)
        inner[rows_between(DEFAULT_DEPTHS, INNER_FROM, INNER_TO)] = True
        self._inner = inner & self.valid
        self.inner_histogram = np.zeros(256, np.int64)  # grey levels between the inner depths
        self.n_frames = 0
        self._next = 0  # the first frame that was not shown yet

    @staticmethod
    def of_clip(context: ClipContext) -> BeamMoments:
        """Return the moments that all families of a clip share; the first family that asks begins them."""
        if "beam moments" not in context.shared:
            context.shared["beam moments"] = BeamMoments(context)
        moments = context.shared["beam moments"]
        assert isinstance(moments, BeamMoments)
        return moments

    def add(self, chunk: PictureChunk) -> None:
        """Take in the sampled frames of a chunk, once, whichever family shows it first."""
        if chunk.beams is None or chunk.first < self._next:
            return
        self._next = chunk.first + len(chunk)
        for place in self._sampler.pick(chunk):
            frame = chunk.beams[place]
            keep = self.valid
            if self._overlay and chunk.pixels.ndim == 4:
                keep = self.valid & ~coloured_samples(chunk.pixels[place], self._picture)
            mask = keep.view(np.uint8)
            cv2.accumulate(frame, self._sum, mask)
            cv2.accumulateSquare(frame, self._squares, mask)
            self._count += mask
            inner = (keep & self._inner).view(np.uint8)
            self.inner_histogram += cv2.calcHist([frame], [0], inner, [256], [0, 256]).reshape(256).astype(np.int64)
            self.n_frames += 1

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Samples (depth, beam) that were grey in at least a third of the frames."""
        return np.asarray(self._count >= max(1.0, self.n_frames / 3))

    @property
    def mean(self) -> NDArray[np.float32]:
        """Mean grey level over time of each sample (depth, beam); 0 where nothing was seen."""
        return np.asarray(self._sum / np.maximum(self._count, 1), np.float32)

    @property
    def spread(self) -> NDArray[np.float32]:
        """Standard deviation over time of each sample (depth, beam), in grey levels."""
        mean = self.mean
        return np.asarray(np.sqrt(np.maximum(self._squares / np.maximum(self._count, 1) - mean * mean, 0)), np.float32)

    @property
    def peak(self) -> int:
        """Brightest grey level met by at least one sample in 10 000: less is a stray letter or a caliper."""
        above = np.cumsum(self.inner_histogram[::-1])[::-1]
        lit = np.nonzero(above > 1e-4 * max(1, above[0]))[0]
        return int(lit[-1]) if len(lit) else 0
