"""The learning chart against simulation and brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fanlight.reference.formulas.domain import RateError
from fanlight.reference.formulas.learning import (
    learning_curve,
    learning_weights,
    shortest_clean_run,
    sign_off_probability,
)

WEIGHTS = learning_weights(0.10, 0.30)


@pytest.mark.parametrize("rate", [0.1, 0.3, 0.5])
def test_exact_probability_agrees_with_every_sequence(rate: float) -> None:
    """Adding up all 4096 sequences of twelve attempts gives the same probability."""
    total = 0.0
    for outcomes in itertools.product((True, False), repeat=12):
        if max(learning_curve(outcomes, WEIGHTS)) >= 1.5:
            total += float(np.prod([1 - rate if good else rate for good in outcomes]))

    assert sign_off_probability(rate, WEIGHTS, 1.5, 12) == pytest.approx(total)


def test_exact_probability_agrees_with_simulated_trainees() -> None:
    """4000 simulated trainees sign off as often as the exact figure says, within three standard errors."""
    rng = np.random.default_rng(17)
    exact = sign_off_probability(0.10, WEIGHTS, 3.0, 50)

    signed = [max(learning_curve((rng.random(50) >= 0.10).tolist(), WEIGHTS)) >= 3.0 for _ in range(4000)]

    assert np.mean(signed) == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 4000))


# Worked out apart from the code: limit, sign-off at 30 % and at 10 % failures within 50, shortest clean run.
TABLE = [(2.0, 0.623, 0.999, 8), (3.0, 0.207, 0.977, 12), (3.5, 0.112, 0.950, 14), (4.0, 0.060, 0.915, 16)]


@pytest.mark.parametrize(("limit", "false", "true", "run"), TABLE)
def test_error_rates_agree_with_the_table(limit: float, false: float, true: float, run: int) -> None:
    """Error rates and shortest run agree with the table to its last digit."""
    assert sign_off_probability(0.30, WEIGHTS, limit, 50) == pytest.approx(false, abs=0.0005)
    assert sign_off_probability(0.10, WEIGHTS, limit, 50) == pytest.approx(true, abs=0.0005)
    assert shortest_clean_run(WEIGHTS, limit) == run


def test_other_rates_agree_with_the_table() -> None:
    """5 % and 15 % failures with limit 3.5: 2.6 % false sign-off, 49 % true sign-off within 50."""
    weights = learning_weights(0.05, 0.15)

    assert sign_off_probability(0.15, weights, 3.5, 50) == pytest.approx(0.026, abs=0.0005)
    assert sign_off_probability(0.05, weights, 3.5, 50) == pytest.approx(0.49, abs=0.005)


def test_worse_trainees_sign_off_less_often() -> None:
    """The probability falls as the failure rate grows."""
    chances = [sign_off_probability(rate, WEIGHTS, 3.0, 40) for rate in np.linspace(0, 1, 21)]

    assert chances[0] == pytest.approx(1.0)
    assert (np.diff(chances) <= 1e-12).all()


def test_exchanged_rates_are_refused() -> None:
    """The message shows the order that is wanted."""
    with pytest.raises(RateError, match="0 < adequate < inadequate < 1"):
        learning_weights(0.30, 0.10)
    with pytest.raises(RateError, match="choose it from the error rates"):
        sign_off_probability(0.1, WEIGHTS, 0.0, 10)
