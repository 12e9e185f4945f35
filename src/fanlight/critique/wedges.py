"""Shadows told by their sides: two straight edges along the beams, with less echo between them at every depth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.dark_beams import DarkRun
from fanlight.critique.tissue import rows_between, smooth_beams

# Depths in which the sides are followed: below the tissue that lies on a rib, down to the end of the echo.
FROM, TO = 0.2, 0.95
# A row tells something about a side where there is echo beside it: grey levels, and share of the brighter quarter's.
LIT_LEVEL, LIT_SHARE = 20.0, 0.3
FEWEST_LIT_ROWS = 25  # of 192: a single border or its side lobes make no edge
# On this share of these rows the echo must fall across the side to less than this ratio. No wall of a heart does so
# from the chest wall to the bottom; the haze that a machine lays over everything keeps a shadow from being black. All
# engineering judgement.
LEAST_SHARE, DARK_RATIO = 0.75, 0.6
# Beams (of 128) that are compared on either side, and those left out between them, over which a side is blurred.
SIDE_BEAMS, BLURRED_BEAMS = 4, 2
# Width of a shadow, as share of the picture's.
NARROWEST_SHARE, WIDEST_SHARE = 0.03, 0.4
INNER_SHARE = 0.8  # of its beams, which must be dark as well


def find_wedges(mean: NDArray[np.float32], valid: NDArray[np.bool_]) -> tuple[DarkRun, ...]:
    """Return the runs of beams that lie in shadow between two straight sides.

    Parameters
    ----------
    mean : ndarray of shape (depth, beam)
        Mean grey level over time.
    valid : ndarray of shape (depth, beam)
        Samples that may be used.
    """
    level = smooth_beams(mean, valid, 7, 1)[rows_between(mean.shape[0], FROM, TO)]
    lit = max(LIT_LEVEL, LIT_SHARE * float(np.percentile(level, 75)))
    falls, rises = side_shares(level, lit)
    narrowest, widest = (share * level.shape[1] for share in (NARROWEST_SHARE, WIDEST_SHARE))
    found: list[DarkRun] = []
    for first in _tops(falls):
        for stop in _tops(rises):
            if narrowest <= stop - first <= widest and _is_dark_between(level, first, stop, lit):
                found.append(DarkRun(first=first, stop=stop))
    found.sort(key=lambda run: run.first - run.stop)  # widest first
    apart: list[DarkRun] = []
    for run in found:
        if not any(run.first < other.stop and other.first < run.stop for other in apart):
            apart.append(run)
    return tuple(apart)


def side_shares(level: NDArray[np.float32], lit: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return, for each beam, on which share of the lit rows the echo falls there from left to right, and rises."""
    left = _mean_of(level, -BLURRED_BEAMS - SIDE_BEAMS, -BLURRED_BEAMS)
    right = _mean_of(level, BLURRED_BEAMS, BLURRED_BEAMS + SIDE_BEAMS)

    def share(bright: NDArray[np.float32], dark: NDArray[np.float32]) -> NDArray[np.float64]:
        with np.errstate(invalid="ignore"):
            told = bright > lit
            crossed = told & (dark < DARK_RATIO * bright)
        n = told.sum(axis=0)
        return np.where(n >= FEWEST_LIT_ROWS, crossed.sum(axis=0) / np.maximum(n, 1), 0.0)

    return share(left, right), share(right, left)


def _mean_of(level: NDArray[np.float32], start: int, stop: int) -> NDArray[np.float32]:
    """Mean of the beams from `start` to `stop` beside each beam; NaN where they leave the picture."""
    n = level.shape[1]
    total = np.concatenate([np.zeros((len(level), 1)), np.cumsum(level, axis=1, dtype=np.float64)], axis=1)
    beam = np.arange(max(0, -start), min(n, n + 1 - stop))
    out = np.full(level.shape, np.nan, np.float32)
    out[:, beam] = (total[:, beam + stop] - total[:, beam + start]) / (stop - start)
    return out


def _tops(share: NDArray[np.float64]) -> list[int]:
    """Middle of the highest part of each stretch of beams that reaches the least share."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (share >= LEAST_SHARE).view(np.int8), [0]])))
    return [
        int(a) + round(float(np.flatnonzero(share[a:b] >= share[a:b].max()).mean()))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _is_dark_between(level: NDArray[np.float32], first: int, stop: int, lit: float) -> bool:
    """Whether nearly all beams between two sides are dark on the rows that are lit on either side."""
    out = BLURRED_BEAMS + SIDE_BEAMS
    sides = (level[:, max(0, first - out) : first - BLURRED_BEAMS], level[:, stop + BLURRED_BEAMS : stop + out])
    beside = np.maximum(*(side.mean(axis=1) for side in sides))
    rows = beside > lit
    margin = BLURRED_BEAMS if stop - first > 2 * BLURRED_BEAMS + 1 else 1
    inner = level[rows, first + margin : stop - margin + 1]
    dark = (inner < DARK_RATIO * beside[rows, None]).mean(axis=0)
    return bool(np.mean(dark >= LEAST_SHARE) >= INNER_SHARE)
