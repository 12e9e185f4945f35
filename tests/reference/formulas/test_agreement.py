"""Agreement against brute force and a reference library."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from fanlight.reference.formulas.agreement import (
    CvForm,
    Weights,
    bland_altman,
    cohen_kappa,
    count_agreement,
    duplicate_cv_percent,
    intraclass_correlations,
    repeatability,
    within_sd,
)
from fanlight.reference.formulas.domain import RatingsError

SEEDS = range(5)


@pytest.mark.parametrize("seed", SEEDS)
def test_single_rating_correlation_agrees_with_the_f_of_scipy(seed: int) -> None:
    """ICC1 is (F - 1)/(F + k - 1) with F of a one-way analysis of variance (scipy.stats.f_oneway)."""
    rng = np.random.default_rng(seed)
    ratings = rng.normal(size=(7, 1)) + 0.5 * rng.normal(size=(7, 3))

    f = stats.f_oneway(*ratings).statistic

    assert intraclass_correlations(ratings).icc1 == pytest.approx((f - 1) / (f + 2))


@pytest.mark.parametrize("seed", SEEDS)
def test_consistency_is_cronbachs_alpha(seed: int) -> None:
    """ICC3 of the mean of k ratings equals k/(k-1)·(1 - Σ var/var of the sum), worked out from variances alone."""
    rng = np.random.default_rng(seed)
    ratings = rng.normal(size=(9, 1)) + rng.normal(size=(9, 4))

    alpha = 4 / 3 * (1 - ratings.var(axis=0, ddof=1).sum() / ratings.sum(axis=1).var(ddof=1))

    assert intraclass_correlations(ratings).icc3k == pytest.approx(alpha)


def test_a_constant_offset_lowers_absolute_agreement_only() -> None:
    """A rater who always says more changes ICC2 but not ICC3."""
    rng = np.random.default_rng(3)
    ratings = rng.normal(size=(12, 1)) + 0.1 * rng.normal(size=(12, 2))
    shifted = ratings + np.array([0.0, 2.0])

    before, after = intraclass_correlations(ratings), intraclass_correlations(shifted)

    assert after.icc3 == pytest.approx(before.icc3)
    assert after.icc2 < before.icc2 - 0.2


@pytest.mark.parametrize("weights", list(Weights))
@pytest.mark.parametrize("seed", SEEDS)
def test_kappa_agrees_with_counting_pairs(seed: int, weights: Weights) -> None:
    """Kappa is one less the observed cost over the cost of pairing every rating of one with every of the other."""
    rng = np.random.default_rng(seed)
    first = rng.integers(0, 4, size=40)
    second = np.clip(first + rng.integers(-1, 2, size=40), 0, 3)

    def cost(a: int, b: int) -> float:
        return {Weights.NONE: a != b, Weights.LINEAR: abs(a - b), Weights.QUADRATIC: (a - b) ** 2}[weights]

    observed = np.mean([cost(int(a), int(b)) for a, b in zip(first, second, strict=True)])
    expected = np.mean([cost(int(a), int(b)) for a, b in itertools.product(first, second)])
    counts = count_agreement(first.tolist(), second.tolist(), 4)

    assert cohen_kappa(counts, weights) == pytest.approx(1 - observed / expected)


def test_limits_hold_95_percent_of_normal_differences() -> None:
    """Of many normal differences about 95 in 100 lie within the limits (scipy.stats.norm says 95.0)."""
    rng = np.random.default_rng(11)
    first = rng.normal(50, 5, size=20_000)
    second = first + rng.normal(-1.0, 2.0, size=20_000)

    agreement = bland_altman(first, second)
    inside = np.mean((first - second > agreement.lower) & (first - second < agreement.upper))

    assert agreement.bias == pytest.approx(1.0, abs=0.05)
    assert inside == pytest.approx(stats.norm.cdf(1.96) - stats.norm.cdf(-1.96), abs=0.005)
    assert agreement.se_bias == pytest.approx(stats.sem(first - second))


def test_within_sd_is_the_pooled_sd_of_pairs() -> None:
    """The within-subject SD squared is the mean of the variances of the pairs (numpy)."""
    rng = np.random.default_rng(5)
    first, second = rng.uniform(1, 2, size=(2, 30))

    pooled = np.stack([first, second]).var(axis=0, ddof=1).mean()

    assert within_sd(first, second) == pytest.approx(math.sqrt(pooled))


def test_the_forms_of_cv_agree_for_small_differences() -> None:
    """Three forms, one spread: for differences of 1 % they agree to a hundredth of a percent."""
    rng = np.random.default_rng(6)
    size = rng.uniform(3.0, 3.05, size=200)
    first, second = size * (1 + 0.01 * rng.normal(size=200)), size * (1 + 0.01 * rng.normal(size=200))

    values = [duplicate_cv_percent(first, second, form) for form in CvForm]

    assert max(values) - min(values) < 0.01
    assert values[0] == pytest.approx(1.0, abs=0.15)


def test_two_steady_values_rarely_differ_by_more_than_the_repeatability() -> None:
    """Pairs without any change exceed it in 5 % of cases."""
    rng = np.random.default_rng(8)
    pairs = rng.normal(0, 0.3, size=(2, 20_000))

    beyond = np.mean(np.abs(pairs[0] - pairs[1]) > repeatability(0.3))

    assert beyond == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bland_altman([1.0], [2.0]), "two lists of one length, 2 or more"),
        (lambda: bland_altman([1.0, float("nan")], [2.0, 3.0]), "leave out pairs with gaps"),
        (lambda: intraclass_correlations([[1.0, 2.0]]), "2 or more cases and raters"),
        (lambda: intraclass_correlations([[1.0, 2.0], [1.0, 2.0]]), "rate cases that differ"),
        (lambda: cohen_kappa([[5, 0], [0, 0]]), "spread over two or more classes"),
        (lambda: cohen_kappa([[5, -1], [0, 3]]), "count the cases again"),
        (lambda: duplicate_cv_percent([0.0, 1.0], [1.0, 1.0], CvForm.LOGARITHM), "needs sizes"),
        (lambda: count_agreement([0, 4], [0, 1], 2), "number the classes from 0"),
        (lambda: repeatability(-1.0), "a number from 0 up"),
    ],
)
def test_unusable_input_is_refused_with_a_remedy(call: object, words: str) -> None:
    """The message names what is wanted and what to do."""
    with pytest.raises(RatingsError, match=words):
        call()  # type: ignore[operator]
