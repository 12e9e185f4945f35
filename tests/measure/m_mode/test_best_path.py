"""Paths through a few columns, against all paths that there are."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np

from fanlight.measure.m_mode.best_path import NEVER, best_pair, best_path

COST = 0.3
STEP = 2


def test_the_path_is_the_best_of_all() -> None:
    """Against every path of the rules, one by one."""
    scores = np.random.default_rng(1).normal(size=(5, 6)).astype(np.float32)

    path, total = best_path(scores, STEP, COST)

    assert np.isclose(total, max(_total(scores, rows) for rows in product(range(6), repeat=5)), atol=1e-4)
    assert np.isclose(total, _total(scores, tuple(path)), atol=1e-4)


def test_a_path_stays_on_the_rows_where_none_is_allowed() -> None:
    """Nothing but forbidden places, longer than single precision can add up: a row of the strip all the same."""
    scores = np.full((800, 7), NEVER, np.float32)

    path, _ = best_path(scores, STEP, COST)

    assert path.min() >= 0
    assert path.max() < scores.shape[1]


def test_the_pair_is_the_best_of_all() -> None:
    """Against every pair of paths of the rules, one by one."""
    scores = np.random.default_rng(2).normal(size=(3, 4, 4)).astype(np.float32)
    paths = list(product(range(4), repeat=3))

    upper, lower, total = best_pair(scores, STEP, COST)

    every = (
        sum(scores[col, up[col], low[col]] for col in range(3)) - _moves(up) - _moves(low)
        for up in paths
        for low in paths
    )
    assert np.isclose(total, max(every), atol=1e-4)
    own = sum(scores[col, upper[col], lower[col]] for col in range(3)) - _moves(tuple(upper)) - _moves(tuple(lower))
    assert np.isclose(total, own, atol=1e-4)


def _total(scores: np.ndarray, rows: tuple[int, ...]) -> float:
    return float(sum(scores[col, row] for col, row in enumerate(rows))) - _moves(rows)


def _moves(rows: tuple[int, ...]) -> float:
    steps = [abs(int(b) - int(a)) for a, b in pairwise(rows)]
    return float("inf") if any(step > STEP for step in steps) else COST * sum(steps)
