"""The outer edge of a spectrum as one path through all columns: where the picture falls most from signal to ground.

The path is the global minimum of a cost (dynamic programming; Dijkstra's principle on a grid, as in Bellman 1957):
a single speck, a gap or a click cannot pull it away, because what comes before and after has a say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathCost:
    """What a path pays. Engineering judgement, all, in units of a fall from body to ground."""

    inside_px: int  # rows inside the edge that are looked at
    outside_px: int
    bend: float  # for each row of climb or fall between two columns
    step_px: int  # most rows between two columns
    leap_px: int  # the same from and to the baseline: a valve opens at once
    beyond: float  # for signal left outside, so many rows of it:
    beyond_px: int
    least_fall: float = 0.30  # of body to ground: a weaker edge is none, and the path lies on the baseline
    bright: float = 0.4  # from which brightness it counts
    unseen: float = 0.5  # brightness taken for what lies beyond the end of the strip


def fall_cost(share: Floats, cost: PathCost) -> Floats:
    """Return the cost of an edge beyond each row, (row + 1, column); row 0: no signal, on the baseline.

    Parameters
    ----------
    share : ndarray of shape (row, column)
        Brightness from ground (0) to body (1), outwards.
    """
    rows, cols = share.shape
    total = np.concatenate([np.zeros((1, cols)), np.cumsum(share, axis=0)])
    at = np.arange(rows + 1)
    inner, outer = np.maximum(at - cost.inside_px, 0), np.minimum(at + cost.outside_px, rows)
    inside = (total[at] - total[inner]) / np.maximum(at - inner, 1)[:, None]
    cut_px = (at + cost.outside_px - outer)[:, None]  # of the window, that lie beyond the strip
    outside = (total[outer] - total[at] + cost.unseen * cut_px) / cost.outside_px
    stray = np.maximum(share - cost.bright, 0.0)
    beyond = (
        stray.sum(axis=0)[None] - np.concatenate([np.zeros((1, cols)), np.cumsum(stray, axis=0)])
    ) / cost.beyond_px
    found = cost.least_fall - (inside - outside) + cost.beyond * beyond
    found[0] = cost.beyond * beyond[0]
    return np.asarray(found, np.float64)


def cheapest_path(costs: Floats, cost: PathCost) -> NDArray[np.int64]:
    """Return for each column the row of the path with the least sum of cost and bends, shape (column,).

    Parameters
    ----------
    costs : ndarray of shape (row, column)
        Of passing a place; see `fall_cost`.
    cost : PathCost
        What bends cost, and how far it may climb or fall between columns.
    """
    rows, cols = costs.shape
    bend, leap_px = cost.bend, cost.leap_px
    best = costs[:, 0].copy()
    came = np.zeros((rows, cols), np.int64)
    own = np.arange(rows)
    for col in range(1, cols):
        value, source = best.copy(), own.copy()
        for step in range(1, min(cost.step_px, rows - 1) + 1):
            toll = bend * step
            for part, other in ((slice(step, None), slice(None, -step)), (slice(None, -step), slice(step, None))):
                better = best[other] + toll < value[part]
                value[part] = np.where(better, best[other] + toll, value[part])
                source[part] = np.where(better, own[other], source[part])
        leap = np.where(own <= leap_px, best[0] + bend * own, np.inf)
        jumps = leap < value
        value, source = np.where(jumps, leap, value), np.where(jumps, 0, source)
        drop = np.where(own <= leap_px, best + bend * own, np.inf)
        k = int(np.argmin(drop))
        if drop[k] < value[0]:
            value[0], source[0] = drop[k], k
        came[:, col] = source
        best = value + costs[:, col]
    path = np.zeros(cols, np.int64)
    path[-1] = int(np.argmin(best))
    for col in range(cols - 1, 0, -1):
        path[col - 1] = came[path[col], col]
    return path
