"""How well two hands, two readers or two visits agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fanlight.reference.formulas.domain import RatingsError


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Bias and limits of agreement, in the unit of the values."""

    n: int
    bias: float  # first minus second
    sd: float  # of the differences
    lower: float
    upper: float
    se_bias: float
    se_limit: float  # √(3·s²/n)


@dataclass(frozen=True, slots=True, kw_only=True)
class IntraclassCorrelations:
    """The six forms of Shrout and Fleiss: one rating, and the mean of k ratings."""

    icc1: float  # each case by other raters
    icc2: float  # the same raters, taken from many: use it for trainee against mentor
    icc3: float  # these raters only
    icc1k: float
    icc2k: float
    icc3k: float


class Weights(StrEnum):
    """How much a disagreement by more than one class counts."""

    NONE = "none"
    LINEAR = "linear"
    QUADRATIC = "quadratic"


class CvForm(StrEnum):
    """Three ways to a coefficient of variation of duplicates; name the one used."""

    WITHIN_SD_OVER_MEAN = "within-subject SD over the mean"
    ROOT_MEAN_SQUARE = "root mean square of the single coefficients"
    LOGARITHM = "from differences of logarithms"


def _pairs(first: ArrayLike, second: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if one.ndim != 1 or one.shape != two.shape or one.size < 2:
        raise RatingsError(
            "values", "two lists of one length, 2 or more", f"shapes {one.shape} and {two.shape}", "give every pair"
        )
    if not (np.isfinite(one).all() and np.isfinite(two).all()):
        raise RatingsError("values", "finite numbers", "a gap or an infinite value", "leave out pairs with gaps")
    return one, two


def bland_altman(first: ArrayLike, second: ArrayLike, factor: float = 1.96) -> Agreement:
    """Return bias and limits of agreement of two series taken from the same cases.

    Parameters
    ----------
    first, second : array_like of shape (N,)
        Paired values in one unit.
    factor : float
        1.96; the paper of 1986 takes 2.

    Raises
    ------
    RatingsError
        If the series differ in length, hold fewer than two pairs or have gaps.

    References
    ----------
    .. [BA1986] BA1986.
    """
    one, two = _pairs(first, second)
    difference = one - two
    n = difference.size
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    return Agreement(
        n=n,
        bias=bias,
        sd=sd,
        lower=bias - factor * sd,
        upper=bias + factor * sd,
        se_bias=sd / math.sqrt(n),
        se_limit=math.sqrt(3 * sd**2 / n),
    )


def intraclass_correlations(ratings: ArrayLike) -> IntraclassCorrelations:
    """Return the intraclass correlations of a complete table of ratings.

    Parameters
    ----------
    ratings : array_like of shape (cases, raters)
        At least 2 by 2, no gaps.

    Raises
    ------
    RatingsError
        If the table is too small, has gaps or the cases do not differ.

    References
    ----------
    .. [SF1979] SF1979.
    """
    table = np.asarray(ratings, dtype=float)
    if table.ndim != 2 or min(table.shape) < 2:
        raise RatingsError("ratings", "a table of 2 or more cases and raters", f"shape {table.shape}", "add ratings")
    if not np.isfinite(table).all():
        raise RatingsError("ratings", "complete", "gaps", "leave out cases that a rater did not rate")
    n, k = table.shape
    grand = table.mean()
    between = k * float(((table.mean(axis=1) - grand) ** 2).sum()) / (n - 1)
    within = float(((table - table.mean(axis=1, keepdims=True)) ** 2).sum()) / (n * (k - 1))
    raters = n * float(((table.mean(axis=0) - grand) ** 2).sum()) / (k - 1)
    residual = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0, keepdims=True) + grand
    error = float((residual**2).sum()) / ((n - 1) * (k - 1))
    if between == 0:
        raise RatingsError("ratings", "different between cases", "equal means of all cases", "rate cases that differ")
    return IntraclassCorrelations(
        icc1=(between - within) / (between + (k - 1) * within),
        icc2=(between - error) / (between + (k - 1) * error + k * (raters - error) / n),
        icc3=(between - error) / (between + (k - 1) * error),
        icc1k=(between - within) / between,
        icc2k=(between - error) / (between + (raters - error) / n),
        icc3k=(between - error) / between,
    )


def cohen_kappa(counts: ArrayLike, weights: Weights = Weights.NONE) -> float:
    """Return by how much two raters agree beyond chance (1 in everything, 0 as by chance).

    Parameters
    ----------
    counts : array_like of shape (C, C)
        How often the first rater said the row's class and the second the column's.
    weights : Weights
        For ordered classes: how the distance between two classes counts.

    Raises
    ------
    RatingsError
        If the table is not square, has negative or no counts, or holds one class only.

    References
    ----------
    .. [Cohen1960] COHEN1960.

    Examples
    --------
    >>> round(cohen_kappa([[20, 5], [10, 15]]), 3)
    0.4
    """
    table = np.asarray(counts, dtype=float)
    if table.ndim != 2 or table.shape[0] != table.shape[1] or table.shape[0] < 2:
        raise RatingsError("counts", "a square table of 2 or more classes", f"shape {table.shape}", "count every class")
    if not (np.isfinite(table).all() and (table >= 0).all() and table.sum() > 0):
        raise RatingsError("counts", "numbers from 0 up with a sum above 0", "other", "count the cases again")
    share = table / table.sum()
    classes = np.arange(len(table))
    apart = np.abs(classes[:, None] - classes[None, :]) / (len(table) - 1)
    cost = {Weights.NONE: (apart > 0).astype(float), Weights.LINEAR: apart, Weights.QUADRATIC: apart**2}[weights]
    expected = share.sum(axis=1)[:, None] * share.sum(axis=0)[None, :]
    by_chance = float((cost * expected).sum())
    if by_chance == 0:
        raise RatingsError("counts", "spread over two or more classes", "one class", "rate cases that differ")
    return 1 - float((cost * share).sum()) / by_chance


def within_sd(first: ArrayLike, second: ArrayLike) -> float:
    """Return the standard deviation of repeated measurement from pairs, √(Σd²/2n).

    Raises
    ------
    RatingsError
        As `bland_altman`.
    """
    one, two = _pairs(first, second)
    return math.sqrt(float(((one - two) ** 2).sum()) / (2 * one.size))


def duplicate_cv_percent(first: ArrayLike, second: ArrayLike, form: CvForm) -> float:
    """Return the coefficient of variation of duplicates, in percent, in the form that is named.

    Raises
    ------
    RatingsError
        As `bland_altman`, and for values that are not above 0.
    """
    one, two = _pairs(first, second)
    if not ((one > 0).all() and (two > 0).all()):
        raise RatingsError("values", "above 0", "0 or below", "a coefficient of variation needs sizes")
    if form is CvForm.WITHIN_SD_OVER_MEAN:
        return 100 * within_sd(one, two) / float(np.concatenate([one, two]).mean())
    if form is CvForm.ROOT_MEAN_SQUARE:
        single = (one - two) ** 2 / 2 / ((one + two) / 2) ** 2
        return 100 * math.sqrt(float(single.mean()))
    logs = np.log(one) - np.log(two)
    return 100 * (math.exp(math.sqrt(float((logs**2).sum()) / (2 * one.size))) - 1)


def repeatability(within: float) -> float:
    """Return the change between two values that repeated measurement alone exceeds in 5 % of cases, 2.77·SD.

    2.77 is 1.96·√2: two values scatter.
    """
    if not (math.isfinite(within) and within >= 0):
        raise RatingsError("within-subject SD", "a number from 0 up", within, "work it out from pairs")
    return 1.96 * math.sqrt(2) * within


def smallest_change(cv_percent: float, value: float) -> float:
    """Return the change of a value that lies beyond repeated measurement, from a coefficient of variation.

    Examples
    --------
    >>> round(smallest_change(10.0, 1.5), 2)
    0.42
    """
    return repeatability(cv_percent / 100 * value)


def count_agreement(first: Sequence[int], second: Sequence[int], classes: int) -> NDArray[np.int64]:
    """Return the table of counts of two lists of class numbers, for `cohen_kappa`.

    Raises
    ------
    RatingsError
        If the lists differ in length or a class number lies outside 0 to classes - 1.
    """
    if len(first) != len(second):
        raise RatingsError("lists", "of one length", f"{len(first)} and {len(second)}", "give every pair")
    table = np.zeros((classes, classes), dtype=np.int64)
    for one, two in zip(first, second, strict=True):
        if not (0 <= one < classes and 0 <= two < classes):
            raise RatingsError("class number", f"0 to {classes - 1}", (one, two), "number the classes from 0")
        table[one, two] += 1
    return table
