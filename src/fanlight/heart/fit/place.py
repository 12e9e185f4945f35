"""Slide and step over ribs, were they the same in all clips of a window: the hand that stands in one wrong place."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.habits import FAULTY, SCATTER_SD, SLAB_SD
from fanlight.heart.fit.offsets import offset_of
from fanlight.heart.fit.pose_values import Offset
from fanlight.heart.fit.posterior import BELIEVED, N_DRAWS, SEED
from fanlight.heart.fit.problem import Problem
from fanlight.heart.fit.solve import End
from fanlight.heart.movements import Movement

Floats = NDArray[np.float64]
KINDS = (ORDER.index(Movement.SPACE), ORDER.index(Movement.SLIDE))


def shared_place(problem: Problem, end: End, limits: Floats, unit_mm: float) -> tuple[Offset, ...]:
    """Return step over ribs and slide that all clips share.

    Notes
    -----
    Turns stay free in every clip. One picture confounds place and turn; several from one place tell them apart, since
    each view asks for another turn.
    """
    chosen = [problem.move_part(clip).start + kind for clip in range(problem.n_clips) for kind in KINDS]
    total = np.linalg.inv(np.linalg.inv(end.local.curvature)[np.ix_(chosen, chosen)])
    loose = np.diag(np.tile(1.0 / SLAB_SD[list(KINDS)] ** 2, problem.n_clips))
    same = np.tile(np.eye(2), (problem.n_clips, 1))
    values, vectors = np.linalg.eigh(same.T @ (total - loose) @ same)
    heard = BELIEVED * (vectors * np.maximum(values, 0.0)) @ vectors.T
    told = BELIEVED * same.T @ total @ end.numbers[chosen]
    draws = _draws(heard, told)
    return tuple(offset_of(draws[:, at], kind, float(limits[kind]), unit_mm) for at, kind in enumerate(KINDS))


def _draws(heard: Floats, told: Floats) -> Floats:
    """Return draws (N, 2) over the four sets of faults: none, either, both."""
    log_share, means, spreads = [], [], []
    for faults in product((False, True), repeat=2):
        sd = np.where(faults, SLAB_SD[list(KINDS)], SCATTER_SD[list(KINDS)])
        spread = np.linalg.inv(heard + np.diag(1.0 / sd**2))
        fact = 0.5 * (np.linalg.slogdet(spread)[1] + told @ spread @ told) - float(np.sum(np.log(sd)))
        log_share.append(fact + float(np.sum(np.log(np.where(faults, FAULTY, 1.0 - FAULTY)))))
        means.append(spread @ told)
        spreads.append(spread)
    share = np.exp(np.array(log_share) - max(log_share))
    rng = np.random.default_rng(SEED)
    counts = rng.multinomial(N_DRAWS, share / share.sum())
    return np.concatenate(
        [rng.multivariate_normal(mean, spread, n) for mean, spread, n in zip(means, spreads, counts, strict=True)]
    )
