"""Colour against tissue and blood: specks, flashes of tissue that moves, colour over muscle, blood without colour."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import (
    FEWEST_FRAMES,
    LARGEST_SPECK_SHARE,
    colour_frames,
    small_parts,
)
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.study import ClipTime, Finding, PictureChunk, Verdict

SPECKS, FLASH, OVER, FILLING = "colour_specks", "colour_flash", "colour_over_tissue", "colour_filling"
FEWEST_TISSUE_PX = 150
# Tissue is what is bright whenever it is not coloured; blood is dark (engineering judgement: above the middle between
# both, and not below a level at which nothing is painted).
LEAST_TISSUE_LEVEL = 40.0
# A place that is this dark in more than so many of the frames that show its grey is not tissue all the time.
DARK_LEVEL, MOST_DARK_SHARE = 25.0, 0.15
# Of the frames in which a place must show its grey, to be known at all: flow pauses once a beat at least.
LEAST_SEEN_SHARE, LEAST_SEEN_FRAMES = 0.08, 2
MERGED_SHARE = 0.2  # of the tissue in colour, from which specks of noise touch each other
MOST_UNKNOWN_SHARE = 0.25  # of the coloured part
LEAST_BLOOD_SHARE, WALL_PX, BUSY_PERCENTILE = 0.15, 4, 90.0
# In a flash colour covers so much of the tissue at once, and so much more than it mostly does.
FLASH_SHARE, FLASH_MORE = 0.4, 0.25
# Walls move at some moments of the beat, and slower than blood flows: below this share of the scale (engineering
# judgement; at a usual 60 to 80 cm/s it is 12 to 16 cm/s, as fast as the ring of a valve moves).
WALL_SPEED_SHARE, MOVING_PERCENTILE = 0.2, 95.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Coloured:
    """One frame: where it was coloured, and where as slow as walls move, packed to bits."""

    bits: NDArray[np.uint8]
    slow_bits: NDArray[np.uint8] | None  # None without a bar

    def mask(self, shape: tuple[int, int]) -> NDArray[np.bool_]:
        return _unpacked(self.bits, shape)

    def slow(self, shape: tuple[int, int]) -> NDArray[np.bool_]:
        """Return where colour is slow; nowhere where speeds are not known."""
        return np.zeros(shape, np.bool_) if self.slow_bits is None else _unpacked(self.slow_bits, shape)


class _ColourTissue:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)
        self._kept: list[_Coloured] = []
        self._sum: NDArray[np.float64] | None = None
        self._seen: NDArray[np.int64] | None = None
        self._dark: NDArray[np.int64] | None = None

    def add(self, chunk: PictureChunk) -> None:
        if self._frames.why_not:
            return
        read = self._frames.read(chunk)
        if self._sum is None or self._seen is None or self._dark is None:
            shape = read.grey.shape[1:]
            self._sum, self._seen, self._dark = np.zeros(shape), np.zeros(shape, np.int64), np.zeros(shape, np.int64)
        for k, (coloured, grey) in enumerate(zip(read.coloured, read.grey, strict=True)):
            slow = None if read.shares is None else coloured & (np.abs(read.shares[k]) < WALL_SPEED_SHARE)
            self._kept.append(
                _Coloured(bits=np.packbits(coloured), slow_bits=None if slow is None else np.packbits(slow))
            )
            bare = ~coloured
            cv2.accumulate(grey, self._sum, bare.view(np.uint8))
            self._seen += bare
            self._dark += (cv2.blur(grey, (3, 3)) < DARK_LEVEL) & bare

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        if len(self._kept) < FEWEST_FRAMES or self._sum is None or self._seen is None or self._dark is None:
            return none_assessable(
                self._context, FAMILY, f"{len(self._kept)} frames are too few to tell tissue from flow"
            )
        inside = self._frames.inside
        assert inside is not None
        unknown = float((inside & (self._seen < least_seen(len(self._kept)))).sum() / inside.sum())
        tissue = tissue_mask(self._sum, self._seen, len(self._kept), inside)
        # Where blood comes and goes a leaflet or a wall swings: colour there is flow.
        tissue &= self._dark <= MOST_DARK_SHARE * self._seen
        if np.count_nonzero(tissue) < FEWEST_TISSUE_PX:
            return self._without_tissue(unknown)
        masks = [item.mask(tissue.shape) for item in self._kept]
        covered = np.asarray([mask[tissue].mean() for mask in masks])
        usual = float(np.median(covered))
        flashes = np.flatnonzero(covered >= max(FLASH_SHARE, usual + FLASH_MORE))
        largest = LARGEST_SPECK_SHARE * inside.sum()
        specks = flicker(masks, tissue, set(flashes.tolist()), largest)
        flow = [mask & ~small_parts(mask, largest) for mask in masks]
        flash = not_assessable(
            self._context, FAMILY, FLASH, "colour covers the tissue in most frames, so a flash does not stand out"
        ) if usual >= FLASH_SHARE else judged(
            self._context, FAMILY, FLASH, len(flashes) / len(masks), confidence=UNMEASURED,
            frames=tuple(int(k) for k in flashes[:20]), note=f"{len(flashes)} of {len(masks)} frames",
        )  # fmt: skip
        return (
            self._unless_hidden(SPECKS, specks, unknown, 0.003),
            flash,
            self._over(flow, tissue, set(flashes.tolist()), unknown),
            self._filling(flow, tissue),
        )

    def _over(
        self, flow: list[NDArray[np.bool_]], tissue: NDArray[np.bool_], flashes: set[int], unknown: float
    ) -> Finding:
        """Judge how much tissue lies under colour as slow as walls while most of it does, or under any colour mostly.

        A high priority of colour paints walls while they move: a part of the beat, which may look like a flash. Gain
        and a low scale paint them most of the time and in all speeds; little of that may be flow in grey blood.
        """
        mostly = float(np.median([mask[tissue].mean() for k, mask in enumerate(flow) if k not in flashes]))
        is_mostly = mostly >= self._context.criteria[OVER].setting("mostly_from")
        if self._frames.bar is None and not is_mostly:
            reason = "no bar of velocity colours was found beside the picture: walls that move are not told from flow"
            return self._none(OVER, reason)
        slow = [(mask & item.slow(tissue.shape))[tissue].mean() for mask, item in zip(flow, self._kept, strict=True)]
        moving = float(np.percentile(slow, MOVING_PERCENTILE))
        return self._unless_hidden(OVER, max(moving, mostly) if is_mostly else moving, unknown, 0.01)

    def _without_tissue(self, unknown: float) -> tuple[Finding, ...]:
        """Return what can be said where hardly any tissue is seen: it may lie under colour all the time."""
        reason = "there is too little tissue in the colour box"
        if unknown > MOST_UNKNOWN_SHARE:
            reason = (
                f"{100 * unknown:.0f} % of the box is coloured in nearly all frames: what lies under it, tissue or "
                "blood that never rests, is not seen"
            )
        return none_assessable(self._context, FAMILY, reason)

    def _unless_hidden(self, key: str, share: float, unknown: float, uncertainty: float) -> Finding:
        """Judge what colour does over tissue, but clear nobody where tissue may lie under colour at all times."""
        if unknown > MOST_UNKNOWN_SHARE and self._context.criteria[key].band.judge(share)[0] is Verdict.MET:
            reason = f"{100 * unknown:.0f} % of the coloured part never shows its grey: what lies under it is not known"
            return not_assessable(self._context, FAMILY, key, reason)
        return judged(self._context, FAMILY, key, share, confidence=UNMEASURED, uncertainty=uncertainty)

    def _filling(self, flow: list[NDArray[np.bool_]], tissue: NDArray[np.bool_]) -> Finding:
        """Judge how much of the blood in the drawn box is painted when most is."""
        assert self._frames.inside is not None
        outline = self._frames.outline()
        if outline is None or not outline.is_drawn:
            return self._none(FILLING, "no drawn outline of the box was found: how much blood lies in it is not known")
        if self._frames.is_noise():
            return self._none(FILLING, "noise covers the box at all times")
        picture = self._context.layout.picture
        assert picture is not None
        if outline.area_share(picture) > self._context.criteria[FILLING].setting("most_box_share"):
            return self._none(FILLING, "the box is so large that blood lies in it which hardly flows")
        blood = blood_mask(tissue, self._frames.inside)
        if blood.sum() < LEAST_BLOOD_SHARE * self._frames.inside.sum():
            return self._none(FILLING, "there is little blood in the colour box")
        filled = [float((mask & blood).sum() / blood.sum()) for mask in flow]
        best = int(np.argmax(filled))
        return judged(
            self._context, FAMILY, FILLING, float(np.percentile(filled, BUSY_PERCENTILE)), confidence=UNMEASURED,
            uncertainty=0.05, frames=(best,), note="blood is what is dark in the box; when most of it flows",
        )  # fmt: skip

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)


def _unpacked(bits: NDArray[np.uint8], shape: tuple[int, int]) -> NDArray[np.bool_]:
    return np.unpackbits(bits, count=shape[0] * shape[1]).astype(np.bool_).reshape(shape)


def blood_mask(tissue: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return what lies in the box and neither is tissue nor touches it: walls move."""
    near = cv2.dilate(tissue.astype(np.uint8), np.ones((2 * WALL_PX + 1,) * 2, np.uint8)) > 0
    return np.asarray(inside & ~near)


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


FAMILY = Family(name="doppler_colour_tissue", version=4, start=_ColourTissue)
