"""Probabilities of causes, re-fitted from studies that were judged before proposals were shown. Pure arithmetic.

A cause runs through a study or does not, so that its probability has a Beta distribution: the shipped one counts as so
many studies of its own, and each judged study counts as one (Gelman et al. 2013, Bayesian Data Analysis, 3rd edition,
section 2.4: conjugate prior of a binomial model; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv, ndtri

from fanlight.reference.cause_priors import RefitSettings, prior_of
from fanlight.reference.causes import AnimalFact, CauseRow

_TAIL = 0.025  # left out on either side: 95 % intervals


class TooFewStudiesError(ValueError):
    """No cause was asked about in as many judged studies as re-fitting needs."""

    def __init__(self, n_most: int, least: int) -> None:
        self.n_most = n_most
        self.least = least
        studies = "study" if n_most == 1 else "studies"
        super().__init__(
            f"the cause asked about most was judged in {n_most} {studies}, and re-fitting takes {least} or more; "
            "go on judging covered studies"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedStudy:
    """What was said of one study before its proposals were shown."""

    trainee: str
    through: frozenset[str]  # causes that run through it
    some: frozenset[str]  # causes in single clips only
    asked: Mapping[str, AnimalFact | None]  # causes that its clips could show, with the fact that the prior goes by
    engine: frozenset[str] | None  # causes that the engine names; None: not known any more

    @property
    def named(self) -> frozenset[str]:
        """All causes that were named."""
        return self.through | self.some


@dataclass(frozen=True, slots=True, kw_only=True)
class Refit:
    """One probability: as shipped, and with what was judged."""

    cause: str
    fact: AnimalFact | None
    shipped: float
    n_studies: int
    n_named: int
    fitted: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many, with a 95 % interval (Wilson 1927)."""

    n: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """Lower and upper limit; 0 and 1 where there is nothing to count."""
        if self.of == 0:
            return 0.0, 1.0
        z, share = float(ndtri(1 - _TAIL)), self.n / self.of
        middle = (share + z * z / (2 * self.of)) / (1 + z * z / self.of)
        half = z / (1 + z * z / self.of) * math.sqrt(share * (1 - share) / self.of + z * z / (4 * self.of**2))
        return max(middle - half, 0.0), min(middle + half, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How far what was said first agrees with what the engine would have named, cause by cause."""

    n_studies: int
    named_too: Share  # of causes that a person named: those that the engine names
    said_too: Share  # of causes that the engine names: those that a person named
    same: Share  # of studies: both name exactly the same causes


def refit(
    studies: Iterable[JudgedStudy], shipped: Mapping[str, CauseRow], settings: RefitSettings
) -> tuple[Refit, ...]:
    """Return the probabilities for which enough studies were judged, in the order of the table.

    Parameters
    ----------
    studies : iterable of JudgedStudy
        Judged before proposals were shown; no others.
    shipped : mapping of str to CauseRow
        Causes as Fanlight ships them: one that was re-fitted before would count its studies twice.
    settings : RefitSettings
        Of the House.

    Raises
    ------
    TooFewStudiesError
        When there are enough for none of them.
    """
    studies = tuple(studies)
    found, most = [], 0
    for row in shipped.values():
        for fact in (None, *row.before_if):
            asked = [item for item in studies if row.key in item.asked and item.asked[row.key] == fact]
            most = max(most, len(asked))
            if len(asked) >= settings.least_studies:
                n_named = sum(row.key in item.through for item in asked)
                found.append(_refit(row, fact, n_named, len(asked), settings.shipped_worth_studies))
    if not found:
        raise TooFewStudiesError(most, settings.least_studies)
    return tuple(found)


def _refit(row: CauseRow, fact: AnimalFact | None, n_named: int, n_studies: int, worth: float) -> Refit:
    shipped = prior_of(row, fact)
    fitted, low, high = beta_posterior(shipped, worth, n_named, n_studies)
    return Refit(
        cause=row.key, fact=fact, shipped=shipped, n_studies=n_studies, n_named=n_named, fitted=fitted, low=low,
        high=high,
    )  # fmt: skip


def beta_posterior(shipped: float, worth_studies: float, n_named: int, n_studies: int) -> tuple[float, float, float]:
    """Return the mean of a probability after so many studies, and the limits of its 95 % interval.

    Parameters
    ----------
    shipped : float
        The probability before, above 0 and below 1.
    worth_studies : float
        For how many studies it counts.
    n_named, n_studies : int
        Studies in which it was so, of all.

    Examples
    --------
    >>> mean, low, high = beta_posterior(0.1, 40, 10, 40)
    >>> round(mean, 3), round(low, 3), round(high, 3)
    (0.175, 0.1, 0.265)
    """
    if not 0 < shipped < 1 or not worth_studies > 0 or not 0 <= n_named <= n_studies:
        raise ValueError(
            "needs 0 < shipped < 1, worth_studies > 0 and 0 <= n_named <= n_studies, got "
            f"{shipped}, {worth_studies}, {n_named}, {n_studies}"
        )
    yes, no = shipped * worth_studies + n_named, (1 - shipped) * worth_studies + n_studies - n_named
    low, high = betaincinv(yes, no, np.array([_TAIL, 1 - _TAIL]))
    return yes / (yes + no), float(low), float(high)


def agreement(studies: Iterable[JudgedStudy]) -> Agreement:
    """Return how often a person and the engine name the same causes; studies whose draft is gone do not count."""
    pairs = [(item.named, item.engine) for item in studies if item.engine is not None]
    both = sum(len(said & engine) for said, engine in pairs)
    return Agreement(
        n_studies=len(pairs), named_too=Share(n=both, of=sum(len(said) for said, _ in pairs)),
        said_too=Share(n=both, of=sum(len(engine) for _, engine in pairs)),
        same=Share(n=sum(said == engine for said, engine in pairs), of=len(pairs)),
    )  # fmt: skip


def counts_by_cause(studies: Sequence[JudgedStudy], causes: Iterable[str]) -> dict[str, tuple[int, int, int]]:
    """Return in how many studies each cause was asked about, ran through the study, and acted in single clips."""
    return {
        cause: (
            sum(cause in item.asked for item in studies),
            sum(cause in item.through for item in studies),
            sum(cause in item.some for item in studies),
        )
        for cause in causes
    }
