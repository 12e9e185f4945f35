"""Paths over time of the highest score: one row a column, or two rows a column found together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
NEVER = np.float32(-1e9)  # score of what cannot be


def best_path(scores: Floats, most_step: int, cost_per_row: float) -> tuple[NDArray[np.intp], float]:
    """Return the row of each column, and the score of the path.

    Parameters
    ----------
    scores : ndarray of shape (column, row)
        What each place gives; ``NEVER`` where the path must not go.
    most_step : int
        Rows that a path may move from one column to the next.
    cost_per_row : float
        Taken off for each of them.

    Notes
    -----
    Dynamic programming (Viterbi): no other path of these rules scores higher.
    """
    n_cols, n_rows = scores.shape
    # Small moves first: of equal ones the first counts.
    moves = np.array(sorted(range(-most_step, most_step + 1), key=abs), np.intp)
    costs = (cost_per_row * np.abs(moves)).astype(np.float32)
    rows = np.arange(n_rows)
    starts = most_step + rows[:, None] - moves[None, :]  # in a column padded by the largest move
    # Below any sum of NEVER: a path never leaves the rows.
    padded = np.full(n_rows + 2 * most_step, -np.inf, np.float32)
    came = np.zeros((n_cols, n_rows), np.intp)
    total = scores[0].copy()
    for col in range(1, n_cols):
        padded[most_step : most_step + n_rows] = total
        reached = padded[starts] - costs
        best = reached.argmax(axis=1)
        came[col] = moves[best]
        total = reached[rows, best] + scores[col]
    path = np.empty(n_cols, np.intp)
    path[-1] = int(total.argmax())
    for col in range(n_cols - 1, 0, -1):
        path[col - 1] = path[col] - came[col, path[col]]
    return path, float(total.max())


def best_pair(scores: Floats, most_step: int, cost_per_row: float) -> tuple[NDArray[np.intp], NDArray[np.intp], float]:
    """Return two rows of each column that score highest together, and their score.

    Parameters
    ----------
    scores : ndarray of shape (column, row, row)
        What an upper and a lower row give together; ``NEVER`` where they exclude each other.
    most_step, cost_per_row
        As of `best_path`, for each of the two.
    """
    n_cols, n_rows, _ = scores.shape
    came_up = np.zeros((n_cols, n_rows, n_rows), np.int8)
    came_low = np.zeros_like(came_up)
    total = scores[0].copy()
    for col in range(1, n_cols):
        total, came_up[col] = _after_step(total, 0, most_step, cost_per_row)
        total, came_low[col] = _after_step(total, 1, most_step, cost_per_row)
        total = total + scores[col]
    up, low = np.empty(n_cols, np.intp), np.empty(n_cols, np.intp)
    up[-1], low[-1] = np.unravel_index(int(total.argmax()), total.shape)
    for col in range(n_cols - 1, 0, -1):
        low[col - 1] = low[col] - came_low[col, up[col], low[col]]
        up[col - 1] = up[col] - came_up[col, up[col], low[col - 1]]
    return up, low, float(total.max())


def _after_step(total: Floats, axis: int, most_step: int, cost_per_row: float) -> tuple[Floats, NDArray[np.int8]]:
    """Return the best score of each place after a step along one axis, and the step that led to it."""
    best, step = total.copy(), np.zeros(total.shape, np.int8)
    n = total.shape[axis]
    for move in range(1, min(most_step, n - 1) + 1):
        cost = np.float32(cost_per_row * move)
        ahead = [slice(None)] * total.ndim
        behind = [slice(None)] * total.ndim
        ahead[axis], behind[axis] = slice(move, None), slice(None, n - move)
        for to, start, signed in ((tuple(ahead), tuple(behind), move), (tuple(behind), tuple(ahead), -move)):
            better = total[start] - cost > best[to]
            best[to] = np.where(better, total[start] - cost, best[to])
            step[to] = np.where(better, signed, step[to])
    return best, step
