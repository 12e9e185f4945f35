"""From the ends of the search to a posterior over the movements of one clip.

The search holds every movement loosely, so that its ends carry what the landmarks say. Then every set of movements
that may be faults together is weighed: those of the set may be far off, the others scatter as hands do. What the
landmarks cannot tell apart shows as sets that are about as likely.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.habits import SLAB_SD, habits
from fanlight.heart.fit.problem import N_MOVE, Problem
from fanlight.heart.fit.solve import End

Floats = NDArray[np.float64]
# The curvature at the end makes the landmarks surer than they are: both moments show one heart, and a real one is not
# of the family. Share of their information that is believed; set on ring A so that 90 % intervals hold 90 %.
BELIEVED = 0.85
N_DRAWS = 3000
SEED = 8  # of the draws: the same landmarks give the same answer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """What is left possible of one clip's movement."""

    amounts: Floats  # (N, 6), in the order and units of the fit
    none_probability: float  # that no movement is a fault
    correlation: Floats  # (6, 6) of the amounts, all held loosely


def draw_movements(problem: Problem, ends: Sequence[End], clip: int) -> Draws:
    """Return draws of the movement of one clip, over all ends and all sets of faults."""
    part = problem.move_part(clip)
    weights, means, covariances, is_none = [], [], [], []
    for end in ends:
        covariance = np.asarray(np.linalg.inv(end.local.curvature), np.float64)
        fact = 0.5 * np.linalg.slogdet(covariance)[1] - end.local.cost
        heard, told = _heard(covariance[part, part], end.numbers[part])
        evidence, mean, spread = _weighed(heard, told)
        loose = _loose_evidence(heard, told)
        weights.append(fact + evidence - loose)
        means.append(mean)
        covariances.append(spread)
        is_none.append(~habits().is_fault.any(axis=1))
    log_weight = np.concatenate(weights)
    share = np.exp(log_weight - log_weight.max())
    share /= share.sum()
    best = np.linalg.inv(ends[0].local.curvature)[part, part]
    deviation = np.sqrt(np.diag(best))
    return Draws(
        amounts=_drawn(share, np.concatenate(means), np.concatenate(covariances)),
        none_probability=float(share[np.concatenate(is_none)].sum()),
        correlation=best / np.outer(deviation, deviation),
    )


def _heard(covariance: Floats, mean: Floats) -> tuple[Floats, Floats]:
    """Return what the landmarks say of a movement beside the loose prior: inverse covariance, and that times mean."""
    total = np.linalg.inv(covariance)
    values, vectors = np.linalg.eigh(total - np.diag(1.0 / SLAB_SD**2))
    heard = (
        vectors * np.maximum(values, 0.0)
    ) @ vectors.T  # rounding must not make the landmarks say less than nothing
    return BELIEVED * heard, BELIEVED * (total @ mean)


def _weighed(heard: Floats, told: Floats) -> tuple[Floats, Floats, Floats]:
    """Return logarithmic weights (H,), means (H, 6) and covariances (H, 6, 6) of all sets of faults."""
    sets = habits()
    prior = np.zeros((len(sets.log_prior), N_MOVE, N_MOVE))
    prior[:, range(N_MOVE), range(N_MOVE)] = 1.0 / sets.variances
    spread = np.asarray(np.linalg.inv(heard + prior), np.float64)
    mean = spread @ told
    evidence = 0.5 * (np.linalg.slogdet(spread)[1] - np.sum(np.log(sets.variances), axis=1) + mean @ told)
    return np.asarray(sets.log_prior + evidence), mean, spread


def _loose_evidence(heard: Floats, told: Floats) -> float:
    spread = np.linalg.inv(heard + np.diag(1.0 / SLAB_SD**2))
    return float(0.5 * (np.linalg.slogdet(spread)[1] - np.sum(np.log(SLAB_SD**2)) + told @ spread @ told))


def _drawn(share: Floats, mean: Floats, covariance: Floats) -> Floats:
    rng = np.random.default_rng(SEED)
    counts = rng.multinomial(N_DRAWS, share)
    chosen = np.nonzero(counts)[0]
    rows = [mean[i] + rng.standard_normal((counts[i], N_MOVE)) @ np.linalg.cholesky(covariance[i]).T for i in chosen]
    return np.concatenate(rows)
