"""Probabilities of causes, re-fitted from studies that were judged before proposals were shown. Pure arithmetic.

A cause runs through a study or does not, so that its probability has a Beta distribution: the shipped one counts as so
many studies of its own, and each judged study counts as one (Gelman et al. 2013, Bayesian Data Analysis, 3rd edition,
section 2.4: conjugate prior of a binomial model; from memory).

A shipped probability that counts for less than one study is left as it is: the first tick would outweigh it many times
over. Such a row says that a cause is all but excluded, or that the chance of the criterion holds what nobody stated
(`heart_large`); it is no frequency that was guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv, ndtri

from fanlight.reference.cause_priors import RefitSettings, prior_of
from fanlight.reference.causes import AnimalFact, CauseRow

_TAIL = 0.025  # left out on either side: 95 % intervals
_LEAST_WORTH = 1.0  # studies: below it a single tick outweighs what is shipped (engineering judgement)


class TooFewStudiesError(ValueError):
    """No cause that can be re-fitted was asked about in as many judged studies as re-fitting needs."""

    def __init__(self, n_most: int, least: int) -> None:
        self.n_most = n_most
        self.least = least
        studies = "study" if n_most == 1 else "studies"
        super().__init__(
            f"of causes that can be re-fitted the one asked about most was judged in {n_most} {studies}, and "
            f"re-fitting takes {least} or more; go on judging covered studies"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedStudy:
    """What was said of one study before its proposals were shown."""

    trainee: str
    through: frozenset[str]  # causes that run through it
    some: frozenset[str]  # causes in single clips only
    asked: Mapping[str, AnimalFact | None]  # causes that its clips could show, with the fact that the prior goes by
    engine: frozenset[str] | None  # causes that the engine held more likely than not; None: not known any more

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
class Outweighed:
    """One probability that stays as shipped since it counts for less than one study, with what was judged."""

    cause: str
    fact: AnimalFact | None
    shipped: float
    worth_studies: float  # of its own: for so many studies in which the cause acts it would count
    n_studies: int
    n_named: int


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
    """How far what was said first agrees with what the engine held more likely than not, cause by cause."""

    n_studies: int
    named_too: Share  # of causes that a person named: those that the engine held likely
    said_too: Share  # of causes that the engine held likely: those that a person named
    same: Share  # of studies: both have exactly the same causes


def refit(
    studies: Iterable[JudgedStudy], shipped: Mapping[str, CauseRow], settings: RefitSettings
) -> tuple[Refit, ...]:
    """Return the probabilities for which enough studies were judged, in the order of the table; see `outweighed`.

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
    worth = settings.shipped_worth_studies
    counts = [item for item in _counts(tuple(studies), shipped) if _own_studies(item, worth) >= _LEAST_WORTH]
    found = tuple(_refit(item, worth) for item in counts if item.n_studies >= settings.least_studies)
    if not found:
        raise TooFewStudiesError(max((item.n_studies for item in counts), default=0), settings.least_studies)
    return found


def outweighed(
    studies: Iterable[JudgedStudy], shipped: Mapping[str, CauseRow], settings: RefitSettings
) -> tuple[Outweighed, ...]:
    """Return the probabilities that were asked about and are never re-fitted, in the order of the table.

    Parameters
    ----------
    studies, shipped, settings
        As `refit` takes them.
    """
    worth = settings.shipped_worth_studies
    return tuple(
        Outweighed(
            cause=item.row.key, fact=item.fact, shipped=prior_of(item.row, item.fact),
            worth_studies=_own_studies(item, worth), n_studies=item.n_studies, n_named=item.n_named,
        )
        for item in _counts(tuple(studies), shipped)
        if item.n_studies and _own_studies(item, worth) < _LEAST_WORTH
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Count:
    """In how many studies a probability was asked about, and in how many of them the cause ran through."""

    row: CauseRow
    fact: AnimalFact | None
    n_studies: int
    n_named: int


def _counts(studies: tuple[JudgedStudy, ...], shipped: Mapping[str, CauseRow]) -> Iterator[_Count]:
    for row in shipped.values():
        for fact in (None, *row.before_if):
            asked = [item for item in studies if row.key in item.asked and item.asked[row.key] == fact]
            n_named = sum(row.key in item.through for item in asked)
            yield _Count(row=row, fact=fact, n_studies=len(asked), n_named=n_named)


def _own_studies(item: _Count, worth: float) -> float:
    """Return for how many studies in which the cause acts its shipped probability counts."""
    return prior_of(item.row, item.fact) * worth


def _refit(item: _Count, worth: float) -> Refit:
    shipped = prior_of(item.row, item.fact)
    fitted, low, high = beta_posterior(shipped, worth, item.n_named, item.n_studies)
    return Refit(
        cause=item.row.key, fact=item.fact, shipped=shipped, n_studies=item.n_studies, n_named=item.n_named,
        fitted=fitted, low=low, high=high,
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
    """Return how often a person named what the engine held likely; studies whose draft is gone do not count."""
    pairs = [(item.named, item.engine) for item in studies if item.engine is not None]
    both = sum(len(said & engine) for said, engine in pairs)
    return Agreement(
        n_studies=len(pairs), named_too=Share(n=both, of=sum(len(said) for said, _ in pairs)),
        said_too=Share(n=both, of=sum(len(engine) for _, engine in pairs)),
        same=Share(n=sum(said == engine for said, engine in pairs), of=len(pairs)),
    )  # fmt: skip


def counts_by_cause(studies: Sequence[JudgedStudy], causes: Iterable[str]) -> dict[str, tuple[int, int, int]]:
    """Return in how many studies each cause was asked about, ran through the study, and acted in single clips."""
    asked = {cause: [item for item in studies if cause in item.asked] for cause in causes}
    return {
        cause: (
            len(those),
            sum(cause in item.through for item in those),
            sum(cause in item.some for item in those),
        )
        for cause, those in asked.items()
    }
