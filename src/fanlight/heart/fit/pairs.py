"""Movements that one picture cannot tell apart: found in the posterior, told as one or the other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.forward import ORDER
from fanlight.heart.fit.habits import N_KINDS
from fanlight.heart.fit.pose_values import EitherOr
from fanlight.heart.fit.posterior import Draws

Floats = NDArray[np.float64]
ALIKE = 0.5  # correlation of two amounts from which on the landmarks are said to confound them (engineering judgement)
SURE = 0.95  # of the sense of a movement: then it needs no partner
WORTH = 0.10  # a partner less likely than this is no alternative


def either_or(draws: Draws, limits: Floats) -> tuple[EitherOr, ...]:
    """Return the confounded pairs of one clip of which at least one movement is off with `SURE`, likeliest first.

    A pair is confounded where the two amounts are correlated given the landmarks; neither is sure by itself.
    """
    beyond = {1: draws.amounts > limits, -1: draws.amounts < -limits}
    found = []
    for a, b in combinations(range(N_KINDS), 2):
        correlation = float(draws.correlation[a, b])
        if abs(correlation) < ALIKE:
            continue
        senses = [1 if beyond[1][:, kind].mean() >= beyond[-1][:, kind].mean() else -1 for kind in (a, b)]
        off = [beyond[sense][:, kind] for sense, kind in zip(senses, (a, b), strict=True)]
        single = [float(one.mean()) for one in off]
        together = float((off[0] | off[1]).mean())
        if together < SURE or max(single) >= SURE or min(single) < WORTH:
            continue
        first, second = (0, 1) if single[0] >= single[1] else (1, 0)
        kinds = (ORDER[a], ORDER[b])
        found.append(
            EitherOr(
                first=kinds[first],
                first_sense=senses[first],
                first_probability=single[first],
                second=kinds[second],
                second_sense=senses[second],
                second_probability=single[second],
                probability=together,
                correlation=correlation,
            )
        )
    return tuple(sorted(found, key=lambda pair: -pair.probability))
