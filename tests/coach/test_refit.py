"""Probabilities of causes after judged studies: against scipy's Beta distribution, and what must not count."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta, binomtest

from fanlight.coach.refit import (
    JudgedStudy,
    Share,
    TooFewStudiesError,
    agreement,
    beta_posterior,
    counts_by_cause,
    outweighed,
    refit,
)
from fanlight.reference.cause_priors import RefitSettings
from fanlight.reference.causes import AnimalFact, read_causes
from fanlight.reference.load import load_house

ROWS = read_causes(load_house())
SETTINGS = RefitSettings(shipped_worth_studies=40, least_studies=5)
DEEP_CHEST = AnimalFact.CHEST_DEEP
counts = st.integers(0, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def study(*through: str, some: Iterable[str] = (), fact: AnimalFact | None = None, **more: Any) -> JudgedStudy:
    """A study of which every cause of pictures was asked."""
    asked = {key: fact if fact in row.before_if else None for key, row in ROWS.items()}
    made = JudgedStudy(trainee="t", through=frozenset(through), some=frozenset(some), asked=asked, engine=None)
    return replace(made, **more)


@settings(max_examples=150, deadline=None)
@given(shipped=st.floats(0.0003, 0.9), worth=st.floats(1, 200), counted=counts)
def test_the_posterior_is_the_beta_distribution_of_scipy(
    shipped: float, worth: float, counted: tuple[int, int]
) -> None:
    n_named, n = counted
    there = beta(shipped * worth + n_named, (1 - shipped) * worth + n - n_named)

    mean, low, high = beta_posterior(shipped, worth, n_named, n)

    assert mean == pytest.approx(there.mean(), rel=1e-9)
    assert (low, high) == pytest.approx(tuple(there.interval(0.95)), rel=1e-6, abs=1e-12)
    assert 0 < mean < 1


@settings(max_examples=100, deadline=None)
@given(shipped=st.floats(0.001, 0.9), counted=counts)
def test_it_lies_between_what_is_shipped_and_what_was_counted(shipped: float, counted: tuple[int, int]) -> None:
    n_named, n = counted
    share = n_named / n if n else shipped

    mean, _, _ = beta_posterior(shipped, 40, n_named, n)

    assert min(shipped, share) - 1e-12 <= mean <= max(shipped, share) + 1e-12


def test_only_what_runs_through_a_study_is_counted() -> None:
    studies = [study("depth_large"), study("depth_large", some=("gain_low",)), *(study() for _ in range(8))]

    found = {item.cause: item for item in refit(studies, ROWS, SETTINGS) if item.fact is None}

    deep, gain = found["depth_large"], found["gain_low"]
    assert (deep.n_named, deep.n_studies, gain.n_named) == (2, 10, 0)
    assert deep.fitted == pytest.approx((0.10 * 40 + 2) / 50)  # identity: mean of a Beta
    assert deep.fitted > deep.shipped == ROWS["depth_large"].before
    assert gain.fitted < gain.shipped
    assert counts_by_cause(studies, ["gain_low"]) == {"gain_low": (10, 0, 1)}


def test_a_cause_that_the_clips_could_not_show_learns_nothing() -> None:
    """A study without colour says nothing of the colour box."""
    asked = {"gain_low": None}
    found = refit([study(asked=asked) for _ in range(6)], ROWS, SETTINGS)

    assert [item.cause for item in found] == ["gain_low"]


def test_animals_of_which_the_sheet_tells_more_are_counted_apart() -> None:
    """Deep chests move the probability of deep chests, and no other."""
    worth = replace(SETTINGS, shipped_worth_studies=120)  # so that those of which nothing is told count for 1.2
    deep = [study("lung_over_heart", fact=DEEP_CHEST) for _ in range(5)]
    others = [study() for _ in range(7)]

    found = {(item.cause, item.fact): item for item in refit([*deep, *others], ROWS, worth)}

    told, untold = found["lung_over_heart", DEEP_CHEST], found["lung_over_heart", None]
    assert (told.n_named, told.n_studies, told.shipped) == (5, 5, 0.15)
    assert (untold.n_named, untold.n_studies) == (0, 7)
    assert found["gain_low", None].n_studies == 12


def test_what_one_study_would_outweigh_stays_as_shipped() -> None:
    """A large heart that nobody stated is in the chance of the criterion already: to count it here counts it twice."""
    studies = [*(study("heart_large", "depth_large") for _ in range(10)), *(study() for _ in range(20))]

    fitted = {(item.cause, item.fact) for item in refit(studies, ROWS, SETTINGS)}
    kept = {(item.cause, item.fact): item for item in outweighed(studies, ROWS, SETTINGS)}

    assert ("heart_large", None) not in fitted
    large = kept["heart_large", None]
    assert (large.shipped, large.n_named, large.n_studies) == (ROWS["heart_large"].before, 10, 30)
    assert large.worth_studies == pytest.approx(ROWS["heart_large"].before * 40)
    assert ("depth_large", None) in fitted - set(kept)
    assert fitted | set(kept) == {(key, None) for key in ROWS}  # each is one or the other


@pytest.mark.parametrize(("shipped", "is_fitted"), [(0.1, True), (0.099, False)])
def test_a_probability_must_count_for_one_study_to_learn(shipped: float, is_fitted: bool) -> None:
    rows = {"gain_low": replace(ROWS["gain_low"], before=shipped), "depth_large": ROWS["depth_large"]}
    worth = replace(SETTINGS, shipped_worth_studies=10)
    studies = [study() for _ in range(5)]

    assert ("gain_low" in {item.cause for item in refit(studies, rows, worth)}) is is_fitted
    assert ("gain_low" in {item.cause for item in outweighed(studies, rows, worth)}) is not is_fitted


def test_an_animal_in_which_a_cause_is_all_but_excluded_teaches_nothing() -> None:
    """One tick in 30 would make hard breathing 29 times likelier where the sheet says that it is normal."""
    normal = AnimalFact.BREATHING_NORMAL
    studies = [study("breathing_hard", fact=normal), *(study(fact=normal) for _ in range(29))]

    assert ("breathing_hard", normal) not in {(item.cause, item.fact) for item in refit(studies, ROWS, SETTINGS)}
    assert ("breathing_hard", normal) in {(item.cause, item.fact) for item in outweighed(studies, ROWS, SETTINGS)}


def test_of_what_was_not_asked_nothing_is_counted() -> None:
    assert counts_by_cause([study("gain_low", asked={})], ["gain_low"]) == {"gain_low": (0, 0, 0)}


def test_only_what_cannot_be_refitted_was_asked_about_often() -> None:
    with pytest.raises(
        TooFewStudiesError, match="of causes that can be re-fitted the one asked about most was judged in 0"
    ):
        refit([study("heart_large", asked={"heart_large": None}) for _ in range(40)], ROWS, SETTINGS)


def test_nothing_is_refitted_from_too_few_studies() -> None:
    with pytest.raises(TooFewStudiesError, match="judged in 4 studies, and re-fitting takes 5 or more"):
        refit([study("depth_large") for _ in range(4)], ROWS, SETTINGS)
    with pytest.raises(TooFewStudiesError, match="judged in 0 studies"):
        refit([], ROWS, SETTINGS)


def test_numbers_that_are_no_counts_are_refused() -> None:
    with pytest.raises(ValueError, match=r"0 <= n_named <= n_studies, got 0.1, 40, 3, 2"):
        beta_posterior(0.1, 40, 3, 2)
    with pytest.raises(ValueError, match="0 < shipped < 1"):
        beta_posterior(0.0, 40, 1, 2)


@settings(max_examples=60, deadline=None)
@given(counted=counts.filter(lambda pair: pair[1] > 0))
def test_the_interval_of_a_share_is_wilsons(counted: tuple[int, int]) -> None:
    n, of = counted
    there = binomtest(n, of).proportion_ci(0.95, method="wilson")

    assert Share(n=n, of=of).interval == pytest.approx((there.low, there.high), abs=1e-9)


def test_agreement_counts_causes_both_ways_and_whole_studies() -> None:
    same = study("depth_large", engine=frozenset({"depth_large"}))
    apart = study("gain_low", some=("depth_large",), engine=frozenset({"depth_large", "sector_narrow", "gain_high"}))
    none = study(engine=frozenset())
    gone = study("gain_low", engine=None)

    found = agreement([same, apart, none, gone])

    assert found.n_studies == 3
    assert (found.named_too, found.said_too) == (Share(n=2, of=3), Share(n=2, of=4))
    assert found.same == Share(n=2, of=3)
    assert Share(n=0, of=0).interval == (0.0, 1.0)
