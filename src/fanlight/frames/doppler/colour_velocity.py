"""Colours back to velocities: each coloured pixel's place on the bar, as a share of the scale."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import CHROMA_LEVEL, chroma
from fanlight.frames.doppler.colour_bar import ColourBar

# Colours are looked up in steps of 8 levels of red, green and blue.
_STEP_BITS = 3
_N = 1 << (8 - _STEP_BITS)
# Farther from every colour of the bar than this (root of squared levels) a pixel is a mixture, or no Doppler colour:
# compression and interpolation at borders make them (engineering judgement).
MOST_APART_LEVELS = 55.0
UNKNOWN = np.float32(np.nan)  # no flow, or a colour that is not on the bar


def colour_table(bar: ColourBar) -> NDArray[np.float32]:
    """Return the share of the scale for each colour in steps of 8 levels, (32, 32, 32); NaN where no colour fits."""
    return _table(bar, bar.shares)


def scatter_table(bar: ColourBar) -> NDArray[np.float32] | None:
    """Return how turbulent the flow of each colour is, 0 to 1, likewise; None: the bar tells nothing of it."""
    return None if bar.scatter is None else _table(bar, bar.scatter)


def _table(bar: ColourBar, values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return for each colour the value of the place on the bar that has it, or is nearest to it."""
    pure = chroma(bar.colours[None])[0] >= CHROMA_LEVEL // 2
    # the bar's colours in steps of 4 levels, each with the mean of its places
    steps, where = np.unique(bar.colours[pure] >> 2, axis=0, return_inverse=True)
    counts = np.bincount(where.ravel(), minlength=len(steps))
    means = (np.bincount(where.ravel(), weights=values[pure], minlength=len(steps)) / counts).astype(np.float32)
    colours = (steps.astype(np.int32) << 2) + 2
    levels = (np.arange(_N) << _STEP_BITS) + (1 << (_STEP_BITS - 1))
    grid = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1).reshape(-1, 3)
    out = np.full(len(grid), UNKNOWN, np.float32)
    worth = (grid.max(axis=1) - grid.min(axis=1)) >= CHROMA_LEVEL - 8
    asked = grid[worth].astype(np.float32)
    square = (asked**2).sum(axis=1)[:, None] - 2.0 * asked @ colours.T.astype(np.float32)
    square += (colours.astype(np.float32) ** 2).sum(axis=1)[None, :]
    nearest = square.argmin(axis=1)
    near = square[np.arange(len(asked)), nearest] <= MOST_APART_LEVELS**2
    out[np.flatnonzero(worth)[near]] = means[nearest[near]]
    return out.reshape(_N, _N, _N)


def velocity_shares(
    frames: NDArray[np.uint8], table: NDArray[np.float32], coloured: NDArray[np.bool_] | None = None
) -> NDArray[np.float32]:
    """Return the share of the scale at each pixel, 1 at the top of the bar and -1 at its foot; NaN without flow.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col, 3)
        RGB.
    table : ndarray of shape (32, 32, 32)
        From `colour_table`; with that of `scatter_table`, it is how turbulent the flow is that comes back.
    coloured : ndarray of shape (frame, row, col), optional
        Where colours are asked for; without it wherever there are some.

    Returns
    -------
    ndarray of shape (frame, row, col), float32
    """
    out = np.full(frames.shape[:3], UNKNOWN, np.float32)
    looked_up = table.reshape(-1)
    for place, frame in enumerate(frames):
        # Most of a frame is grey: colours are looked up only where there are some.
        painted = chroma(np.ascontiguousarray(frame)) >= CHROMA_LEVEL if coloured is None else coloured[place]
        asked = np.flatnonzero(painted)
        steps = (frame.reshape(-1, 3).take(asked, axis=0) >> _STEP_BITS).astype(np.int32)
        out[place].reshape(-1)[asked] = looked_up.take((steps[:, 0] * _N + steps[:, 1]) * _N + steps[:, 2])
    return out


def wrapped_borders(shares: NDArray[np.float32], from_share: float = 0.55) -> NDArray[np.bool_]:
    """Return where velocity jumps from one end of the scale to the other within two pixels: it has wrapped round.

    A reversal passes through black, and a slow speed on both sides of it; a wrap has fast ones on both sides.

    Parameters
    ----------
    shares : ndarray of shape (row, col)
        From `velocity_shares`, of one frame.
    from_share : float
        Share of the scale from which a speed counts as near its end.

    Returns
    -------
    ndarray of shape (row, col), bool
    """
    high, low = shares >= from_share, shares <= -from_share  # nothing compares with NaN
    if not (high.any() and low.any()):
        return np.zeros_like(high)
    around = np.ones((5, 5), np.uint8)
    return np.asarray((cv2.dilate(high.view(np.uint8), around) & cv2.dilate(low.view(np.uint8), around)) > 0)


# Pieces thinner than this share of the root of the box's area are a mosaic; a stream that is wrapped as a whole has
# larger ones (engineering judgement, from simulated jets and normal streams of ring A).
_PIECE_SHARE, _LEAST_WRAPPED_PX = 0.06, 60


def mosaic_share(
    shares: NDArray[np.float32], coloured: NDArray[np.bool_], wrapped: NDArray[np.bool_], box_px: int
) -> float:
    """Return the share of the colour of one frame that lies in small pieces of either direction where it wraps.

    Turbulent blood and fast jets have many speeds side by side, each wrapped another number of times.

    Parameters
    ----------
    shares : ndarray of shape (row, col)
        From `velocity_shares`.
    coloured : ndarray of shape (row, col)
        Where flow is painted, without specks.
    wrapped : ndarray of shape (row, col)
        Where it wraps: the `wrapped_borders` that are coloured.
    box_px : int
        Size of the colour box.
    """
    if np.count_nonzero(wrapped) < _LEAST_WRAPPED_PX:
        return 0.0
    size = max(5, int(_PIECE_SHARE * np.sqrt(box_px)) | 1)
    piece = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    near = coloured & (cv2.dilate(wrapped.astype(np.uint8), piece) > 0)
    small = 0
    for side in (shares > 0, shares < 0):
        part = (coloured & side).astype(np.uint8)
        small += int(np.count_nonzero(near & (part > cv2.morphologyEx(part, cv2.MORPH_OPEN, piece))))
    return small / int(np.count_nonzero(coloured))
