"""When a trainee may be called competent: the learning-curve cumulative sum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fanlight.reference.formulas.domain import RateError


@dataclass(frozen=True, slots=True, kw_only=True)
class LearningWeights:
    """What a success adds and what a failure takes."""

    success: float
    failure: float


def learning_weights(adequate_failure_rate: float, inadequate_failure_rate: float) -> LearningWeights:
    """Return the log-likelihood ratios of a success and a failure.

    Parameters
    ----------
    adequate_failure_rate, inadequate_failure_rate : float
        Failure rates of somebody who may work alone and of somebody who may not, 0 to 1, the first the smaller.

    Raises
    ------
    RateError
        If the rates are not 0 < adequate < inadequate < 1.

    References
    ----------
    .. [Biau2008] BIAU2008, BIAU2010 (concept seen; this form is remembered).

    Examples
    --------
    >>> weights = learning_weights(0.10, 0.30)
    >>> round(weights.success, 4), round(weights.failure, 4)
    (0.2513, -1.0986)
    """
    good, bad = adequate_failure_rate, inadequate_failure_rate
    if not 0 < good < bad < 1:
        raise RateError("failure rates", "0 < adequate < inadequate < 1", (good, bad), "state both as shares")
    return LearningWeights(success=math.log((1 - good) / (1 - bad)), failure=math.log(good / bad))


def learning_curve(successes: Sequence[bool], weights: LearningWeights) -> tuple[float, ...]:
    """Return the sum after each attempt; it never falls below 0, so that early failures are forgiven."""
    score, scores = 0.0, []
    for success in successes:
        score = max(0.0, score + (weights.success if success else weights.failure))
        scores.append(score)
    return tuple(scores)


def shortest_clean_run(weights: LearningWeights, limit: float) -> int:
    """Return how many successes in a row reach the limit from the start; RateError when the limit is not above 0."""
    if not limit > 0:
        raise RateError("limit", "above 0", limit, "choose it from the error rates")
    # The small term keeps a limit that is a whole multiple of the weight from asking for one success more.
    return math.ceil(limit / weights.success - 1e-9)


def sign_off_probability(failure_rate: float, weights: LearningWeights, limit: float, attempts: int) -> float:
    """Return how likely the limit is reached within so many attempts at a constant failure rate, exactly.

    Parameters
    ----------
    failure_rate : float
        True failure rate, 0 to 1.
    weights : LearningWeights
        Of the chart.
    limit : float
        Sum at which competence is signalled, above 0.
    attempts : int
        Length of the watch.

    Raises
    ------
    RateError
        If an input is out of its range.

    Notes
    -----
    The sum can take only few values, because it is made of two weights and starts anew at 0: all of them are followed.
    """
    if not 0 <= failure_rate <= 1:
        raise RateError("failure rate", "0 to 1", failure_rate, "state it as a share")
    if not limit > 0:
        raise RateError("limit", "above 0", limit, "choose it from the error rates")
    if attempts < 0:
        raise RateError("attempts", "0 or more", attempts, "count them")
    states: dict[float, float] = {0.0: 1.0}
    signed_off = 0.0
    for _ in range(attempts):
        following: dict[float, float] = {}
        for score, probability in states.items():
            for step, chance in ((weights.success, 1 - failure_rate), (weights.failure, failure_rate)):
                # Twelve decimals join sums that differ only by the order of their terms.
                new = round(max(0.0, score + step), 12)
                if new >= limit - 1e-9:
                    signed_off += probability * chance
                else:
                    following[new] = following.get(new, 0.0) + probability * chance
        states = following
    return signed_off
