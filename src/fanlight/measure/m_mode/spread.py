"""The mean over beats, and how sure it is: calibration, pixels, placement of borders and beats, taken together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student_t

# A few beats tell little of how much beats differ. They are taken together with what is usual, as if so many more beats
# had shown it (engineering judgement).
_USUAL_BEATS = 3
_TWO_SIDED_95 = 1.959964  # of a normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatMean:
    """Several beats' values in one number.

    Attributes
    ----------
    sd : float or None
        Between the beats, as it was; None for a single beat.
    error : float
        Of the mean, by the beats alone: 1.96 times it holds 95 of 100, however few beats there are.
    """

    value: float
    sd: float | None
    n: int
    error: float


def mean_of_beats(values: Sequence[float], usual_sd: float) -> BeatMean:
    """Return the mean of one value a beat.

    Parameters
    ----------
    values : sequence of float
    usual_sd : float
        How much beats usually differ, in the unit of the values.

    Raises
    ------
    ValueError
        If there is none.

    Notes
    -----
    Variances of the beats and of the usual spread are pooled by their degrees of freedom; Student's t of the pooled
    degrees widens the error (JCGM 100:2008, GUM, 4.2.3 and G.3).
    """
    if not len(values):
        raise ValueError("the mean over beats needs at least one beat")
    n, mean = len(values), float(np.mean(values))
    sd = float(np.std(values, ddof=1)) if n > 1 else None
    freedom = _USUAL_BEATS + n - 1
    pooled = _USUAL_BEATS * usual_sd**2 + (n - 1) * (sd or 0.0) ** 2
    widened = float(student_t.ppf(0.975, freedom)) / _TWO_SIDED_95
    return BeatMean(value=mean, sd=sd, n=n, error=widened * math.sqrt(pooled / freedom / n))


def combined(*errors: float) -> float:
    """Return the error of a sum of inputs that err independently (GUM 5.1.2)."""
    return math.sqrt(sum(error**2 for error in errors))
