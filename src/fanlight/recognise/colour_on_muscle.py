"""How much of the heart's muscle is painted in colour, as the masks of the network tell what is muscle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fanlight.recognise.beat_frames import Painted
from fanlight.recognise.structure_summary import SURE, likeliest, mask_grid
from fanlight.study import MUSCLE, ColourOnMuscle, Sector, Structure

# All engineering judgement, tried on ring A.
LEAST_MUSCLE_PX = 15  # of a mask, within reach of the colour: a quarter of a per cent of it
FEWEST_FRAMES = 3  # of six
LEAST_PAINTED_PX = 20  # of a mask, in any frame: less is no colour
PAINTED, EVER_PAINTED = 127, 64  # levels of a pixel from which it counts
OUTER_PERCENT = 1.0  # of the pixels ever painted that may lie beyond what is called their reach


def colour_on_muscle(
    shares: NDArray[np.float32], names: Sequence[str], frames: Sequence[int], sector: Sector, painted: Painted
) -> ColourOnMuscle:
    """Return how much of the muscle that lies among the colour is painted.

    Muscle counts between the first and last depth and beam at which any frame shows colour: about the colour box.

    Parameters
    ----------
    shares : ndarray of shape (frame, structure, side, side)
        Share of each structure in each pixel.
    names : sequence of str
        Of the structures, as the network's file has them.
    frames : sequence of int
        Indices of the frames in the clip.
    sector : Sector
        Of the square.
    painted : Painted
        Of the same frames.
    """
    side = shares.shape[-1]
    grid = mask_grid(sector, side)
    ever = _to_mask(painted.ever, side) > EVER_PAINTED
    if np.count_nonzero(ever) < LEAST_PAINTED_PX:
        return ColourOnMuscle(frames=0)
    ends = (OUTER_PERCENT, 100 - OUTER_PERCENT)
    near, far = np.percentile(grid.depth[ever], ends)
    left, right = np.percentile(grid.beam[ever], ends)
    among = grid.inside & (grid.depth >= near) & (grid.depth <= far) & (grid.beam >= left) & (grid.beam <= right)
    best, share = likeliest(shares)
    numbers = [index for index, name in enumerate(names) if Structure[name.upper()] in MUSCLE]
    muscle = np.isin(best, numbers) & (share >= SURE) & among
    found = []
    for index, part, colour in zip(frames, muscle, painted.frames, strict=True):
        if np.count_nonzero(part) >= LEAST_MUSCLE_PX:
            on_it = part & (_to_mask(colour, side) > PAINTED)
            found.append((np.count_nonzero(on_it) / np.count_nonzero(part), index, on_it))
    if len(found) < FEWEST_FRAMES:
        return ColourOnMuscle(frames=len(found))
    found.sort(key=lambda item: item[:2])
    _, frame, on_it = found[len(found) // 2]
    median = float(np.median([value for value, _, _ in found]))
    if not on_it.any():
        return ColourOnMuscle(frames=len(found), share=round(median, 4), frame=frame)
    depth, beam = grid.depth[on_it], grid.beam[on_it]
    return ColourOnMuscle(
        frames=len(found), share=round(median, 4), frame=frame, from_depth=round(float(depth.min()), 4),
        to_depth=round(float(depth.max()), 4), from_beam=round(float(beam.min()), 4),
        to_beam=round(float(beam.max()), 4),
    )  # fmt: skip


def _to_mask(square: NDArray[np.uint8], side: int) -> NDArray[np.float64]:
    """Return the mean of the square's pixels in each pixel of a mask."""
    step = square.shape[0] // side
    return np.asarray(square.reshape(side, step, side, step).mean(axis=(1, 3)))
