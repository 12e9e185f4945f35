"""Search for the numbers that explain the landmarks best, from several starts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.habits import SLAB_SD
from fanlight.heart.fit.problem import Local, Problem
from fanlight.heart.movements import Movement

Floats = NDArray[np.float64]
START_SD = 1.2  # standard deviations of a fault from the standard plane at which the other starts lie
# The other starts. From the standard plane alone nearly all clips of ring A end where the best of eleven starts does;
# the rest were far off in tilt or rotation (docs/pose-fit.md).
STARTED = (Movement.ROTATE, Movement.TILT)
TRIAL_STEPS, MOST_STEPS = 5, 40
DAMPED, MOST_DAMPED = 1e-3, 1e8
SETTLED = 1e-3  # of the cost: a thousandth of a natural logarithm changes no probability
KEPT = 2  # starts that are followed to the end
SAME_SD = 0.3  # of a fault: two ends no further apart in any movement are one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class End:
    """Where a search ended."""

    numbers: Floats  # (P,)
    local: Local
    has_settled: bool


def descend(problem: Problem, start: Floats, most: int) -> End:
    """Return where a damped Newton search with expected curvature ends after at most so many steps."""
    numbers, damped = start.copy(), DAMPED
    local = problem.local(numbers)
    for _ in range(most):
        found = None
        while found is None and damped < MOST_DAMPED:
            damping = damped * np.diag(np.diag(local.curvature))
            trial = numbers - np.linalg.solve(local.curvature + damping, local.slope)
            if problem.cost(trial) < local.cost:
                found, damped = trial, max(damped / 8.0, 1e-9)
            else:
                damped *= 6.0
        if found is None:
            return End(numbers=numbers, local=local, has_settled=True)
        gained, numbers = local.cost, found
        local = problem.local(numbers)
        if gained - local.cost < SETTLED:
            return End(numbers=numbers, local=local, has_settled=True)
    return End(numbers=numbers, local=local, has_settled=False)


def starts(problem: Problem, clip: int) -> list[Floats]:
    """Return the standard plane, and each movement of `STARTED` of one clip alone, both ways."""
    plain = problem.start()
    out = [plain]
    for movement in STARTED:
        kind = ORDER.index(movement)
        for sense in (1.0, -1.0):
            one = plain.copy()
            one[problem.move_part(clip).start + kind] = sense * START_SD * SLAB_SD[kind]
            out.append(one)
    return out


def search(problem: Problem, begun: Sequence[Floats]) -> list[End]:
    """Return the different ends of a search from several starts, best first."""
    tried = begun if len(begun) == 1 else [descend(problem, one, TRIAL_STEPS).numbers for one in begun]
    best = sorted(tried, key=problem.cost)[:KEPT]
    ends = sorted((descend(problem, one, MOST_STEPS) for one in best), key=lambda end: end.local.cost)
    kept: list[Floats] = []
    out = []
    for end in ends:
        moves = end.numbers[-len(ORDER) * problem.n_clips :] / np.tile(SLAB_SD, problem.n_clips)
        if all(float(np.abs(moves - other).max()) > SAME_SD for other in kept):
            kept.append(moves)
            out.append(end)
    return out
