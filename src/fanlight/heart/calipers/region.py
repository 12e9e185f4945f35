"""One connected piece of tissues on a label map, with a border that is finer than a pixel.

The border lies where the share of the piece, averaged over about a pixel around a point, is one half. For a straight
border the average removes the steps of the pixels; for a border of radius R px it moves it inwards by
`BLUR_PX`² / 2R, 0.02 px at a radius of 16 px.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fanlight.heart.tissue import Tissue

BLUR_PX = 0.8  # engineering judgement: the least that smooths the steps of pixels (see the tests on turned shapes)
STEP_PX = 0.5  # engineering judgement: a border is found between two steps by a straight line
_PAD_PX = 4  # five BLUR_PX: beyond that the average is 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """A connected piece of tissues."""

    share: NDArray[np.float32]  # (row, col) of a cut-out, 0 outside, 1 inside, one half at the border
    row_px: int  # of the cut-out's first pixel on the map
    col_px: int
    area_px: int
    centre_px: NDArray[np.float64]  # (row, col) of the centre of its area
    spread_px2: NDArray[np.float64]  # (2, 2) second central moments of (row, col), with the pixels' own

    def at(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share at points (..., 2), between pixels by straight lines; 0 outside the cut-out."""
        rows = points_px[..., 0] - self.row_px
        cols = points_px[..., 1] - self.col_px
        n_rows, n_cols = self.share.shape
        within = (rows >= 0) & (rows <= n_rows - 1) & (cols >= 0) & (cols <= n_cols - 1)
        rows, cols = np.where(within, rows, 0.0), np.where(within, cols, 0.0)
        row = np.minimum(rows.astype(np.intp), n_rows - 2)
        col = np.minimum(cols.astype(np.intp), n_cols - 2)
        down, right = rows - row, cols - col
        upper = self.share[row, col] * (1 - right) + self.share[row, col + 1] * right
        lower = self.share[row + 1, col] * (1 - right) + self.share[row + 1, col + 1] * right
        return np.where(within, upper * (1 - down) + lower * down, 0.0)

    def near(self, points_px: NDArray[np.float64]) -> NDArray[np.float32]:
        """Return the share at the pixels nearest to points (..., 2); 0 outside the cut-out."""
        rows = np.floor(points_px[..., 0] - (self.row_px - 0.5)).astype(np.intp)
        cols = np.floor(points_px[..., 1] - (self.col_px - 0.5)).astype(np.intp)
        # the rim of the cut-out is 0
        rows, cols = (np.clip(place, 0, size - 1) for place, size in zip((rows, cols), self.share.shape, strict=True))
        return np.asarray(self.share[rows, cols])

    def reach_px(self) -> float:
        """Return a distance that is longer than any straight line within the piece."""
        return float(np.hypot(*self.share.shape))


def mask_of(tissue: NDArray[np.uint8], kinds: Iterable[Tissue]) -> NDArray[np.bool_]:
    """Return where the tissue is one of these kinds."""
    mask = np.zeros(tissue.shape, dtype=bool)
    for kind in kinds:  # comparing bytes is several times faster than a look-up table
        mask |= tissue == np.uint8(kind)
    return mask


def find_region(
    tissue: NDArray[np.uint8],
    kinds: Iterable[Tissue],
    *,
    near_px: NDArray[np.float64] | None = None,
    filled: bool = False,
) -> Region | None:
    """Return the largest connected piece of these tissues, or the one at a point; None where there is none.

    Parameters
    ----------
    tissue : ndarray of shape (row, col)
        Labels.
    kinds : iterable of Tissue
        What counts as the piece.
    near_px : ndarray of shape (2,), optional
        Take the piece that holds this point (row, col); where none does, the largest.
    filled : bool
        Count what the piece encloses on all sides as part of it.
    """
    mask = mask_of(tissue, kinds)
    rows, cols = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if rows.size == 0:
        return None
    top, left = int(rows[0]), int(cols[0])
    mask = mask[top : rows[-1] + 1, left : cols[-1] + 1]
    pieces, n_pieces = ndimage.label(mask)
    if n_pieces > 1:
        chosen = 0
        if near_px is not None:
            row, col = round(float(near_px[0])) - top, round(float(near_px[1])) - left
            if 0 <= row < mask.shape[0] and 0 <= col < mask.shape[1]:
                chosen = int(pieces[row, col])
        if not chosen:
            chosen = int(np.bincount(pieces.ravel())[1:].argmax()) + 1
        mask = pieces == chosen
    mask = np.pad(mask, _PAD_PX)
    if filled:
        outside, _ = ndimage.label(~mask)
        mask = outside != outside[0, 0]
    places = np.stack(np.divmod(np.flatnonzero(mask), mask.shape[1])).astype(float)
    centre = places.mean(axis=1)
    away = places - centre[:, None]
    return Region(
        share=ndimage.gaussian_filter(mask.astype(np.float32), BLUR_PX, mode="constant", truncate=4.0),
        row_px=top - _PAD_PX,
        col_px=left - _PAD_PX,
        area_px=places.shape[1],
        centre_px=centre + np.array([top - _PAD_PX, left - _PAD_PX]),
        # a pixel is a square, not a point: its own second moment is 1/12 px²
        spread_px2=away @ away.T / places.shape[1] + np.eye(2) / 12,
    )


def leave_px(region: Region, start_px: NDArray[np.float64], directions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far one can go from a point along each direction before leaving the region.

    Parameters
    ----------
    start_px : ndarray of shape (2,)
        Where to start, (row, col).
    directions : ndarray of shape (n, 2)
        Unit vectors (row, col).

    Returns
    -------
    ndarray of shape (n,)
        Distances in pixels; NaN for all where the start lies outside the region.
    """
    if float(region.at(start_px)) < 0.5:
        return np.full(len(directions), np.nan)
    corners = np.array([[0, 0], [0, 1], [1, 0], [1, 1]]) * region.share.shape + [region.row_px, region.col_px]
    reach = float(np.hypot(*(corners - start_px).T).max())
    coarse = np.arange(0.0, reach + 2.0)
    first = (region.near(start_px + coarse[None, :, None] * directions[:, None, :]) < 0.5).argmax(axis=1)
    steps = np.maximum(first[:, None] - 2.0, 0.0) + np.arange(0.0, 4.0, STEP_PX)
    values = region.at(start_px + steps[:, :, None] * directions[:, None, :])
    ray, after = np.arange(len(directions)), np.maximum((values < 0.5).argmax(axis=1), 1)
    inside, outside = values[ray, after - 1], values[ray, after]
    return np.asarray(steps[ray, after - 1] + STEP_PX * np.clip((inside - 0.5) / (inside - outside), 0.0, 1.0))


def chords_px(region: Region, start_px: NDArray[np.float64], direction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the stretches of a straight line that lie in the region.

    Parameters
    ----------
    start_px : ndarray of shape (2,)
        A point of the line, (row, col).
    direction : ndarray of shape (2,)
        Unit vector (row, col).

    Returns
    -------
    ndarray of shape (n, 2)
        Where each stretch begins and ends, in pixels from the start along the direction, in this order.
    """
    middle = np.array([region.row_px, region.col_px]) + np.array(region.share.shape) / 2
    to_middle = float((middle - start_px) @ direction)
    half = region.reach_px() / 2 + 2
    steps = to_middle + np.arange(-half, half + STEP_PX, STEP_PX)
    values = region.at(start_px + steps[:, None] * direction)
    crossed = np.flatnonzero((values[:-1] < 0.5) != (values[1:] < 0.5))
    share = (0.5 - values[crossed]) / (values[crossed + 1] - values[crossed])
    return (steps[crossed] + STEP_PX * share).reshape(-1, 2)


def longest_chord(
    region: Region, starts_px: NDArray[np.float64], direction: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return the ends (row, col) of the longest stretch in the region on parallel lines; None where none meets it.

    Parameters
    ----------
    starts_px : ndarray of shape (n, 2)
        A point of each line, (row, col), lines in the order of their places.
    direction : ndarray of shape (2,)
        Unit vector (row, col).
    """
    reach = region.reach_px()
    steps = np.arange(-reach, reach + 1.0)
    counts = (region.near(starts_px[:, None, :] + steps[:, None] * direction) > 0.5).sum(axis=1)
    best, ends = 0.0, None
    # counted by pixels, only those within two of the longest can be the longest
    for start in starts_px[counts >= max(int(counts.max()) - 2, 1)]:
        for first, second in chords_px(region, start, direction):
            if second - first > best:
                best, ends = float(second - first), (start + first * direction, start + second * direction)
    return ends
