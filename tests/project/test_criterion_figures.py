"""How the accuracy page counts: intervals, what is left out, and a design in which nothing is over-represented."""

from collections import Counter

import pytest
from scipy.stats import binomtest

from fanlight.simulate.faults.fault import STRENGTHS
from fanlight.study import Verdict
from measure._criterion_cases import CASES, FAULT_KEYS, strengths_of
from measure._criterion_clips import HEARTS, VIEWS, views_of
from measure._criterion_record import Answer, FaultyClip, GoodClip, SubjectRecord, from_json, to_json
from measure._criterion_subject import turn_of
from measure._criterion_table import count, hits
from measure._wilson import wilson
from measure.criteria import N_SUBJECTS


def _answer(verdict: Verdict) -> Answer:
    return Answer(criterion="rib_shadow", verdict=verdict.value, value=0.1, reason="")


@pytest.mark.parametrize(("k", "n"), [(0, 10), (7, 21), (40, 40), (299, 315)])
def test_the_interval_is_that_of_a_statistics_library(k, n):
    """Against scipy.stats.binomtest, method "wilson"."""
    expected = binomtest(k, n).proportion_ci(method="wilson")

    assert wilson(k, n) == pytest.approx((expected.low, expected.high), abs=1e-4)


def test_borderline_counts_as_raised_and_not_assessable_as_neither():
    found = count(map(_answer, (Verdict.MET, Verdict.BORDERLINE, Verdict.MISSED, Verdict.NOT_ASSESSABLE)))

    assert (found.raised, found.judged, found.left_out) == (2, 3, 1)


def test_a_claim_counts_only_its_strengths():
    case = next(case for case in CASES if case.criterion == "rib_shadow")
    clips = tuple(
        FaultyClip(
            seed=0, view=VIEWS[0], heart="normal", fault="rib_shadow", strength=strength,
            answers=(_answer(Verdict.MISSED if strength > 2 else Verdict.MET),),
        )
        for strength in STRENGTHS
    )  # fmt: skip
    records = [SubjectRecord(seed=0, good=(), faulty=clips)]

    assert hits(records, case, range(3, 6)).raised == 3
    assert hits(records, case, STRENGTHS).judged == 5


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.fault}-{case.criterion}")
def test_a_claim_rests_on_a_hundred_clips_of_all_classes_and_strengths(case):
    dealt = [
        (HEARTS[seed % len(HEARTS)], strength)
        for seed in range(N_SUBJECTS)
        for strength in strengths_of(case.fault, turn_of(seed))
    ]
    claimed = Counter(heart for heart, strength in dealt if strength >= case.from_strength)

    assert claimed.total() >= 100
    assert max(claimed.values()) - min(claimed.values()) <= 3
    assert {strength for _, strength in dealt} == set(STRENGTHS)


def test_each_subject_asks_for_all_views_and_the_first_lie_apart():
    assert all(sorted(views_of(seed)) == sorted(VIEWS) for seed in range(len(VIEWS)))
    first = Counter(view for seed in range(len(VIEWS)) for view in views_of(seed)[:3])
    assert set(first.values()) == {3}


def test_enough_clips_are_made():
    """The issue asks for at least 300 good clips, and 100 faulty ones a fault."""
    assert 3 * N_SUBJECTS >= 300
    assert N_SUBJECTS >= 100
    assert len(FAULT_KEYS) == len(set(FAULT_KEYS))


def test_a_record_comes_back_as_it_was_kept():
    clip = GoodClip(
        seed=1, view=VIEWS[0], heart="normal", species="dog", weight_kg=9.5, chest="deep", layout="corners",
        grey_map="even", echo_mhz=6.0, array="phased", breath=0.0, answers=(_answer(Verdict.MET),),
    )  # fmt: skip
    record = SubjectRecord(seed=1, good=(clip,), faulty=())

    assert from_json(to_json(record)) == record
