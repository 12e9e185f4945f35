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


# Colours asked at once: what is worked out for them fits into the processor's cache.
_ASKED_AT_ONCE = 512


def colour_tables(bar: ColourBar) -> tuple[NDArray[np.float32], NDArray[np.float32] | None]:
    """Return the share of the scale of each colour, and how turbulent its flow is, 0 to 1.

    Both are of shape (32, 32, 32), colours in steps of 8 levels, with NaN where no colour of the bar is near. The
    second is None where the bar tells nothing of turbulence.
    """
    pure = chroma(bar.colours[None])[0] >= CHROMA_LEVEL // 2
    # the bar's colours in steps of 4 levels, each with the mean of its places
    steps, where = np.unique(bar.colours[pure] >> 2, axis=0, return_inverse=True)
    counts = np.bincount(where.ravel(), minlength=len(steps))
    asked, nearest = _nearest((steps.astype(np.int32) << 2) + 2)

    def table(values: NDArray[np.float32]) -> NDArray[np.float32]:
        means = (np.bincount(where.ravel(), weights=values[pure], minlength=len(steps)) / counts).astype(np.float32)
        out = np.full(_N**3, UNKNOWN, np.float32)
        out[asked] = means[nearest]
        return out.reshape(_N, _N, _N)

    return table(bar.shares), None if bar.scatter is None else table(bar.scatter)


def _nearest(colours: NDArray[np.int32]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the places in a flat table that are near any of these colours, and which of them is the nearest."""
    levels = (np.arange(_N) << _STEP_BITS) + (1 << (_STEP_BITS - 1))
    grid = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1).reshape(-1, 3)
    worth = np.flatnonzero((grid.max(axis=1) - grid.min(axis=1)) >= CHROMA_LEVEL - 8)
    # Whole numbers below 2^24: sums of them are exact, in whatever order they are taken.
    asked, bar = grid[worth].astype(np.float32), colours.astype(np.float32)
    bar_squares, minus_twice = (bar**2).sum(axis=1), -2.0 * bar.T
    nearest, apart = np.empty(len(worth), np.int64), np.empty(len(worth), np.float32)
    for start in range(0, len(worth), _ASKED_AT_ONCE):
        part = slice(start, start + _ASKED_AT_ONCE)
        square = asked[part] @ minus_twice
        square += bar_squares
        least = square.argmin(axis=1)
        nearest[part], apart[part] = least, square[np.arange(len(square)), least]
    near = apart + (asked**2).sum(axis=1) <= MOST_APART_LEVELS**2
    return worth[near], nearest[near]


def colour_places(frames: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Return where the colour of each pixel stands in a table of colours that lies flat, (frame, row, col).

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col, 3)
        RGB, contiguous.
    """
    n, rows, cols, _ = frames.shape
    # Five bits each of red, green and blue, red uppermost: the order of the table, whose steps are five bits too.
    packed = np.asarray(cv2.cvtColor(frames.reshape(n * rows, cols, 3), cv2.COLOR_RGB2BGR555), np.uint8)
    return packed.view(np.uint16).reshape(n, rows, cols)


def shares_at(
    places: NDArray[np.uint16], coloured: NDArray[np.bool_], *tables: NDArray[np.float32]
) -> tuple[NDArray[np.float32], ...]:
    """Return what each table says of each coloured pixel, and NaN elsewhere; each of the shape of `places`.

    Parameters
    ----------
    places : ndarray of shape (frame, row, col)
        From `colour_places`.
    coloured : ndarray of shape (frame, row, col)
        Where colours are asked for: most of a frame is grey.
    tables : ndarray of shape (32, 32, 32)
        From `colour_tables`.
    """
    wanted = places[coloured]
    found = []
    for table in tables:
        out = np.full(places.shape, UNKNOWN, np.float32)
        out[coloured] = table.reshape(-1).take(wanted)
        found.append(out)
    return tuple(found)


def velocity_shares(frames: NDArray[np.uint8], table: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the share of the scale at each pixel, 1 at the top of the bar and -1 at its foot; NaN without flow.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col, 3)
        RGB.
    table : ndarray of shape (32, 32, 32)
        From `colour_tables`: of shares, or of how turbulent flow is, which then comes back.

    Returns
    -------
    ndarray of shape (frame, row, col), float32
    """
    frames = np.ascontiguousarray(frames)
    coloured = np.stack([chroma(frame) for frame in frames]) >= CHROMA_LEVEL
    return shares_at(colour_places(frames), coloured, table)[0]


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
