"""What was lost on the way out of the machine: scale, square pixels, fine detail, original size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import why_not_picture
from fanlight.critique.beam_moments import FrameSampler
from fanlight.study import Box, ClipTime, Finding, Picture, PictureChunk, Sector

# A single large frame holds some 400 000 neighbours; three guard against a frame that is unlike the rest.
ENOUGH_FRAMES = 3
# JPEG and the older MPEG codecs cut the picture in blocks of 8 x 8 pixels (ITU-T T.81, A.1.1; ISO/IEC 13818-2, 6.1.3).
BLOCK_PX = 8
# Pixels of the picture that must be lit to judge its grain.
FEWEST_PIXELS = 4000
# Grey levels between which a pixel counts: neither black nor burnt out, where all neighbours are equal anyway.
LIT_FROM, LIT_TO = 12, 243
# Speckle spans many pixels and hides what interpolation leaves in second differences; in fourth ones it is gone and the
# rounding of the first picture is left, which interpolation spreads in its own rhythm.
BEND_ORDER = 4
# Blocks have rhythms at all multiples of 1/8 cycles a pixel: enlarging by 1.6 and 4/3 has some of them too. Blocks are
# strongest at 1/8, and at 2/8, 3/8 and 4/8 stay below these shares of it (JPEG of quality 50 to 95 on clips of ring A:
# 0.6, 0.2, 0.05); what is more than that is not blocks.
BLOCK_OVERTONES = (1.0, 0.7, 0.35, 0.1)
# The spectra of rows and columns are compared at the same frequencies, so both get this length.
SPECTRUM_LENGTH = 4096
# Slower rhythms than this, in cycles a pixel, are the shape of the picture.
LOWEST_FREQUENCY = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """Sums over rows and columns of one picture, from which blocks and rescaling are read."""

    across_steps: NDArray[np.float64]  # mean absolute step between column i-1 and i, per column
    down_steps: NDArray[np.float64]  # the same per row
    across_bends: NDArray[np.float64]  # mean absolute fourth difference, per column
    down_bends: NDArray[np.float64]


def picture_box(picture: Picture, rows: int, cols: int) -> Box | None:
    """Return the upright box around the picture, cut to the screen."""
    if isinstance(picture, Sector):
        points = [picture.point(d, b) for d in (0.0, 1.0) for b in np.linspace(0, 1, 17)]
        low = [int(min(p[axis] for p in points)) for axis in (0, 1)]
        high = [int(max(p[axis] for p in points)) + 1 for axis in (0, 1)]
        return Box(row0=low[0], col0=low[1], row1=high[0], col1=high[1]).clipped_to(rows, cols)
    return picture.box.clipped_to(rows, cols)


def measure_grain(grey: NDArray[np.uint8]) -> Grain | None:
    """Return the steps and bends of one picture (row, col), or None when too little of it is lit."""
    level = grey.astype(np.int16)
    lit = (grey > LIT_FROM) & (grey < LIT_TO)
    if np.count_nonzero(lit) < FEWEST_PIXELS:
        return None

    def along(values: NDArray[np.int16], known: NDArray[np.bool_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        step = np.abs(np.diff(values, axis=1))
        pair = known[:, 1:] & known[:, :-1]
        bend = np.abs(np.diff(values, n=BEND_ORDER, axis=1))
        run = pair[:, : bend.shape[1]].copy()
        for place in range(1, BEND_ORDER):
            run &= pair[:, place : place + bend.shape[1]]
        steps = np.full(values.shape[1], np.nan)
        bends = np.full(values.shape[1], np.nan)
        # a column with few lit pixels says nothing
        enough = pair.sum(axis=0) > 12
        steps[1:][enough] = (step * pair).sum(axis=0)[enough] / pair.sum(axis=0)[enough]
        enough = run.sum(axis=0) > 12
        bends[BEND_ORDER // 2 : -(BEND_ORDER // 2)][enough] = (bend * run).sum(axis=0)[enough] / run.sum(axis=0)[enough]
        return steps, bends

    across_steps, across_bends = along(level, lit)
    down_steps, down_bends = along(level.T, lit.T)
    return Grain(
        across_steps=across_steps, down_steps=down_steps, across_bends=across_bends, down_bends=down_bends
    )  # fmt: skip


def blockiness_ratio(steps: NDArray[np.float64]) -> float:
    """Return how much larger steps are at one place in eight than at the next largest place (1: no blocks).

    The steps are divided by their running mean first, so that the shape of the picture does not count. The place is
    not known (pictures are cropped), so the largest of the eight is taken. Doubled pixels make every second place
    large, so they do not pass for blocks.
    """
    relative = _flattened(steps)
    places = np.arange(len(relative)) % BLOCK_PX
    levels = np.array([float(_mean_seen(relative[places == place])) for place in range(BLOCK_PX)])
    if not np.isfinite(levels).all():
        return 1.0
    second, first = np.sort(levels)[-2:]
    return float(first / max(second, 1e-6))


def rescaling_ratio(across: NDArray[np.float64], down: NDArray[np.float64]) -> float:
    """Return how far the strongest rhythm that columns and rows share stands out of the rest (about 4 to 9: none).

    Interpolated pixels follow from their neighbours, so differences of a high order rise and fall with the period of
    the rescaling, along rows and columns alike.

    Parameters
    ----------
    across, down : ndarray of shape (col,) and (row,)
        Mean absolute fourth differences.

    References
    ----------
    A. C. Gallagher, Detection of linear and cubic interpolation in JPEG compressed images, CRV 2005, 65-72.
    """
    frequency = np.fft.rfftfreq(SPECTRUM_LENGTH)
    usable = frequency > LOWEST_FREQUENCY
    height = np.sqrt(_rhythms(across, usable) * _rhythms(down, usable))
    # half the width of a line: two bins of the shorter side (Hann window)
    blur = 2.0 / min(len(across), len(down))
    of_blocks = [height[np.abs(frequency - k / BLOCK_PX) < blur].max() for k in range(1, BLOCK_PX // 2 + 1)]
    left = [h - share * of_blocks[0] for h, share in zip(of_blocks, BLOCK_OVERTONES, strict=True)]
    beside = np.abs(frequency * BLOCK_PX - np.round(frequency * BLOCK_PX)) >= BLOCK_PX * blur
    return float(max(height[usable & beside].max(initial=0.0), *left))


def _rhythms(bends: NDArray[np.float64], usable: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Spectrum against its own middle value, shape (frequency,)."""
    relative = np.nan_to_num(_flattened(bends) - 1.0, nan=0.0)[:SPECTRUM_LENGTH]
    spectrum = np.abs(np.fft.rfft(relative * np.hanning(len(relative)), SPECTRUM_LENGTH))
    return np.asarray(spectrum / max(float(np.median(spectrum[usable])), 1e-9))


def _mean_seen(values: Sequence[NDArray[np.float64]] | NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over the first axis of what is not NaN; NaN where nothing is left."""
    stack = np.asarray(values)
    seen = np.isfinite(stack)
    total = np.where(seen, stack, 0.0).sum(axis=0)
    return np.where(seen.any(axis=0), total / np.maximum(seen.sum(axis=0), 1), np.nan)


def _flattened(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Divide by the running mean over four blocks, within the columns that were seen."""
    seen = np.flatnonzero(np.isfinite(values))
    if len(seen) < 8 * BLOCK_PX:
        return np.ones(8 * BLOCK_PX)
    part = values[seen[0] - seen[0] % BLOCK_PX : seen[-1] + 1]
    known = np.isfinite(part)
    box = np.ones(4 * BLOCK_PX)
    total = np.convolve(np.where(known, part, 0.0), box, "same")
    count = np.convolve(known.astype(float), box, "same")
    mean = total / np.maximum(count, 1)
    return np.where(known & (mean > 0.2), part / np.maximum(mean, 0.2), np.nan)


class _Export:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        self._sampler = FrameSampler(context.clip.n_frames, ENOUGH_FRAMES)
        picture = context.layout.picture
        self._box = None if picture is None else picture_box(picture, context.layout.rows, context.layout.cols)
        self._grains: list[Grain] = []
        self._equal = [0, 0]  # lit neighbour pairs, and those of them that are equal
        self._n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        if self._reason or self._box is None:
            return
        box = self._box
        for place in self._sampler.pick(chunk):
            if self._n_frames >= ENOUGH_FRAMES:
                return
            self._n_frames += 1
            part = chunk.grey[place, box.row0 : box.row1, box.col0 : box.col1]
            grain = measure_grain(part)
            if grain is not None:
                self._grains.append(grain)
                equal, pairs = equal_neighbours(part)
                self._equal[0] += pairs
                self._equal[1] += equal

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        del time
        if self._reason:
            return tuple(not_assessable(self._context, FAMILY, key, self._reason) for key in self._context.criteria)
        return (*self._scale(), self._lossy_ratio(), *self._grain())

    def _scale(self) -> tuple[Finding, ...]:
        layout = self._context.layout
        known = judged(
            self._context,
            FAMILY,
            "scale_known",
            float(layout.scale is not None),
            confidence=0.95,
            note=layout.scale_reason,
        )
        aspect, whence = self._pixel_aspect()
        if aspect is None:
            square = not_assessable(
                self._context, FAMILY, "pixel_aspect", "neither file nor picture tells a pixel's shape"
            )
        else:
            square = judged(
                self._context, FAMILY, "pixel_aspect", aspect, confidence=0.8, uncertainty=0.01, note=f"from {whence}"
            )
        return known, square

    def _pixel_aspect(self) -> tuple[float | None, str]:
        """Width of a pixel divided by its height, and what told it."""
        layout, tags = self._context.layout, self._context.clip.tags
        if layout.scale is not None:
            return layout.scale.mm_per_col_px / layout.scale.mm_per_row_px, layout.scale.source.value
        if tags.pixel_aspect is not None:
            vertical, horizontal = tags.pixel_aspect  # PS3.3 C.7.6.3.1.7: vertical size, then horizontal
            return horizontal / vertical, "Pixel Aspect Ratio (0028,0034)"
        if isinstance(layout.picture, Sector):
            return layout.picture.col_stretch, "the shape of the sector"
        return None, ""

    def _lossy_ratio(self) -> Finding:
        tags = self._context.clip.tags
        if tags.lossy_ratio is not None:
            return judged(
                self._context, FAMILY, "lossy_ratio", tags.lossy_ratio, confidence=0.9,
                note="Lossy Image Compression Ratio (0028,2112)",
            )  # fmt: skip
        if tags.lossy is False:
            return judged(self._context, FAMILY, "lossy_ratio", 1.0, confidence=0.9, note="the file states no loss")
        reason = "compressed with loss, by how much is not stated" if tags.lossy else "the file does not tell"
        return not_assessable(self._context, FAMILY, "lossy_ratio", reason)

    def _grain(self) -> tuple[Finding, ...]:
        keys = ("compression_blocks", "rescaled")
        if not self._grains:
            return tuple(
                not_assessable(self._context, FAMILY, key, "too little of the picture is lit to judge its grain")
                for key in keys
            )
        across = _mean_seen([grain.across_steps for grain in self._grains])
        down = _mean_seen([grain.down_steps for grain in self._grains])
        blocks = max(blockiness_ratio(across), blockiness_ratio(down))
        bends = [_mean_seen([getattr(g, name) for g in self._grains]) for name in ("across_bends", "down_bends")]
        rhythm = rescaling_ratio(*bends)
        equal_share = self._equal[1] / max(1, self._equal[0])
        note = f"{equal_share:.0%} of neighbouring pixels are equal"
        return (
            judged(self._context, FAMILY, "compression_blocks", blocks, confidence=0.8),
            judged(self._context, FAMILY, "rescaled", rhythm, confidence=0.6, note=note),
        )


def equal_neighbours(grey: NDArray[np.uint8]) -> tuple[int, int]:
    """Return how many lit neighbours in a row are equal, and how many pairs there are."""
    lit = (grey > LIT_FROM) & (grey < LIT_TO)
    pair = lit[:, 1:] & lit[:, :-1]
    return int(np.count_nonzero((grey[:, 1:] == grey[:, :-1]) & pair)), int(np.count_nonzero(pair))


FAMILY = Family(name="export", version=3, start=_Export)
