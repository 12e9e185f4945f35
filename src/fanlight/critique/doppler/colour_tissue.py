"""Colour where no blood flows: specks of a gain that is too high, flashes of tissue that moves, colour over muscle."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import (
    LARGEST_SPECK_SHARE,
    UNMEASURED,
    colour_frames,
    is_colour,
    small_parts,
    why_not_colour,
)
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

SPECKS, FLASH, OVER = "colour_specks", "colour_flash", "colour_over_tissue"
FEWEST_FRAMES = 6
FEWEST_TISSUE_PX = 150
# Tissue is what is bright whenever it is not coloured; blood is dark (engineering judgement: above the middle between
# both, and not below a level at which nothing is painted).
LEAST_TISSUE_LEVEL = 40.0
# Of the frames in which a place must show its grey, to be known at all: flow pauses once a beat at least.
LEAST_SEEN_SHARE, LEAST_SEEN_FRAMES = 0.08, 2
MERGED_SHARE = 0.2  # of the tissue in colour, from which specks of noise touch each other
MOST_UNKNOWN_SHARE = 0.25  # of the coloured part
# In a flash colour covers so much of the tissue at once, and so much more than it mostly does.
FLASH_SHARE, FLASH_MORE = 0.4, 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Coloured:
    """One frame: where it was coloured, packed to bits."""

    bits: NDArray[np.uint8]

    def mask(self, shape: tuple[int, int]) -> NDArray[np.bool_]:
        return np.unpackbits(self.bits, count=shape[0] * shape[1]).astype(np.bool_).reshape(shape)


class _ColourTissue:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_colour(context)
        self._frames = colour_frames(context)
        self._asked = is_colour(context)
        self._kept: list[_Coloured] = []
        self._sum: NDArray[np.float64] | None = None
        self._seen: NDArray[np.int64] | None = None

    def add(self, chunk: PictureChunk) -> None:
        if self._reason:
            return
        read = self._frames.read(chunk)
        if self._sum is None or self._seen is None:
            self._sum, self._seen = np.zeros(read.grey.shape[1:]), np.zeros(read.grey.shape[1:], np.int64)
        for coloured, grey in zip(read.coloured, read.grey, strict=True):
            self._kept.append(_Coloured(bits=np.packbits(coloured)))
            self._sum += np.where(coloured, 0, grey)
            self._seen += ~coloured

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._asked:
            return ()
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        if len(self._kept) < FEWEST_FRAMES or self._sum is None or self._seen is None:
            return none_assessable(
                self._context, FAMILY, f"{len(self._kept)} frames are too few to tell tissue from flow"
            )
        inside = self._frames.inside
        assert inside is not None
        tissue = tissue_mask(self._sum, self._seen, len(self._kept), inside)
        if np.count_nonzero(tissue) < FEWEST_TISSUE_PX:
            return none_assessable(self._context, FAMILY, "there is too little tissue in the colour box")
        masks = [item.mask(tissue.shape) for item in self._kept]
        covered = np.asarray([mask[tissue].mean() for mask in masks])
        flashes = np.flatnonzero(covered >= max(FLASH_SHARE, float(np.median(covered)) + FLASH_MORE))
        calm = [mask for k, mask in enumerate(masks) if k not in set(flashes)]
        largest = LARGEST_SPECK_SHARE * inside.sum()
        specks = flicker(masks, tissue, set(flashes.tolist()), largest)
        over = [(mask & ~small_parts(mask, largest) & tissue).sum() / tissue.sum() for mask in calm]
        unknown = float((inside & (self._seen < least_seen(len(masks)))).sum() / inside.sum())
        flash = judged(
            self._context, FAMILY, FLASH, len(flashes) / len(masks), confidence=UNMEASURED,
            frames=tuple(int(k) for k in flashes[:20]), note=f"{len(flashes)} of {len(masks)} frames",
        )  # fmt: skip
        if not calm:
            reason = "every frame is covered with colour"
            return tuple(
                finding if finding.criterion != FLASH else flash
                for finding in none_assessable(self._context, FAMILY, reason)
            )
        return (
            judged(self._context, FAMILY, SPECKS, specks, confidence=UNMEASURED, uncertainty=0.003),
            flash,
            self._over(float(np.median(over)), unknown),
        )

    def _over(self, share: float, unknown: float) -> Finding:
        if unknown > MOST_UNKNOWN_SHARE and self._context.criteria[OVER].band.judge(share)[0] is Verdict.MET:
            reason = f"{100 * unknown:.0f} % of the coloured part never shows its grey: what lies under it is not known"
            return not_assessable(self._context, FAMILY, OVER, reason)
        return judged(self._context, FAMILY, OVER, share, confidence=UNMEASURED, uncertainty=0.02)


def flicker(masks: list[NDArray[np.bool_]], tissue: NDArray[np.bool_], without: set[int], largest_px: float) -> float:
    """Return the share of tissue that is coloured in one frame and neither in the one before nor in the one after.

    Noise is thrown anew in each frame, flow and walls stay for some. Parts larger than a speck count where so much of
    the tissue is coloured that specks must have merged; elsewhere a fast valve or the rim of flow makes them.
    """
    found = []
    for k in range(1, len(masks) - 1):
        if without & {k - 1, k, k + 1}:
            continue
        lit = masks[k] & ~masks[k - 1] & ~masks[k + 1]
        merged = masks[k][tissue].mean() >= MERGED_SHARE
        found.append(float((lit if merged else lit & small_parts(masks[k], largest_px))[tissue].mean()))
    return float(np.median(found)) if found else 0.0


def least_seen(n_frames: int) -> float:
    """Return in how many frames a place must show its grey to be known."""
    return max(LEAST_SEEN_SHARE * n_frames, LEAST_SEEN_FRAMES)


def tissue_mask(
    total: NDArray[np.float64], seen: NDArray[np.int64], n_frames: int, inside: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return where tissue lies: places whose grey is bright on average whenever it is shown."""
    known = (seen >= least_seen(n_frames)) & inside
    mean = np.where(known, total / np.maximum(seen, 1), 0.0)
    if not known.any():
        return known
    smooth = cv2.blur(mean.astype(np.float32), (3, 3))
    level, _ = cv2.threshold(smooth[known].astype(np.uint8), 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    bright = known & (smooth >= max(float(level), LEAST_TISSUE_LEVEL))
    # a rim of two pixels beside blood moves with the wall: it is neither
    return np.asarray(cv2.erode(bright.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)


FAMILY = Family(name="doppler_colour_tissue", version=1, start=_ColourTissue)
