"""What is said first, what is said next, and what is kept back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.coach.priorities import find_priorities, withheld_words, without_followers
from fanlight.coach.retakes import LABOURED, STOP, list_retakes
from fanlight.coach.strengths import find_strengths
from fanlight.study import (
    Advice,
    Band,
    Basis,
    Breathing,
    Criterion,
    Finding,
    Mode,
    ModeReading,
    Side,
    StudyReview,
    Verdict,
)
from tests.report.sample import finding, sample_review


def criterion(key: str, weight: float = 3.0, *, handling: bool = False, retake: str = "", right: str = "") -> Criterion:
    advice = Advice(means="means", cause="cause", correction="do this", handling=handling)
    return Criterion(
        key=key, family="sample", title=key, unit="1", band=Band(met_low=0.25), basis=Basis.HOUSE, source="",
        right=right, low=advice, high=None, weight=weight, retake=retake,
    )  # fmt: skip


def missed(key: str, number: int, confidence: float = 1.0, value: float = 0.1) -> Finding:
    return finding(key, number, Verdict.MISSED, value, side=Side.LOW, confidence=confidence)


def test_a_habit_outranks_a_single_slip_of_equal_weight() -> None:
    criteria = {key: criterion(key) for key in ("slip", "habit")}
    findings = [missed("slip", 1), missed("habit", 2), missed("habit", 3)]

    found = find_priorities(findings, criteria, Breathing.NORMAL, 0.5)

    assert [item.criterion for item in found] == ["habit", "slip"]
    assert found[0].clips == ("clip02", "clip03")


@pytest.mark.parametrize(
    ("depth", "counts"),
    [(Verdict.MET, True), (Verdict.BORDERLINE, False), (Verdict.MISSED, False), (Verdict.NOT_ASSESSABLE, False)],
)
def test_a_dark_far_field_counts_only_where_the_depth_is_right(depth: Verdict, counts: bool) -> None:
    """Behind a heart that ends half-way down there is lung: no fault of the sliders (common practice, no source)."""
    far = missed("far_field_loss", 1)
    use = Finding(
        criterion="depth_use", clip=far.clip, value=None if depth is Verdict.NOT_ASSESSABLE else 0.5, unit="1",
        band=far.band, verdict=depth, reason="nothing moves" if depth is Verdict.NOT_ASSESSABLE else "",
    )  # fmt: skip
    left = without_followers([far, use], {"far_field_loss": ("depth_use",)})

    assert (far in left) is counts
    assert use in left
    assert without_followers([far], {"far_field_loss": ("depth_use",)}) == [far]  # not asked at all: nothing known


def test_doubtful_findings_never_become_a_point() -> None:
    assert find_priorities([missed("a", 1, confidence=0.4)], {"a": criterion("a")}, Breathing.NORMAL, 0.5) == ()


def test_a_criterion_of_no_weight_is_neither_fault_nor_merit() -> None:
    fact = {"a": criterion("a", 0.0, right="Even beats.")}

    assert find_priorities([missed("a", 1)], fact, Breathing.NORMAL, 0.5) == ()
    assert find_strengths([finding("a", 1, Verdict.MET, 0.4)], fact, 0.8, 0.5) == ()


def test_the_worst_clip_lies_farthest_outside_the_band() -> None:
    findings = [missed("a", 1, value=0.2), missed("a", 2, value=0.05)]

    (found,) = find_priorities(findings, {"a": criterion("a")}, Breathing.NORMAL, 0.5)

    assert found.worst_clip == "clip02"


@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED, Breathing.DISTRESSED])
def test_handling_advice_is_withheld_unless_breathing_is_normal(breathing: Breathing) -> None:
    (found,) = find_priorities([missed("a", 1)], {"a": criterion("a", handling=True)}, breathing, 0.5)

    assert (found.correction, found.withheld) == ("", withheld_words(breathing))
    assert breathing.replace("_", " ") in found.withheld or breathing is Breathing.NOT_STATED


@pytest.mark.parametrize("breathing", list(Breathing))
def test_the_probe_is_not_moved_on_an_animal_that_fights_for_air(breathing: Breathing) -> None:
    row = criterion("a")
    assert row.low is not None
    row = replace(row, low=replace(row.low, moves=True, otherwise="widen the sector"))
    (found,) = find_priorities([missed("a", 1)], {"a": row}, breathing, 0.5)

    if breathing in (Breathing.LABOURED, Breathing.DISTRESSED):
        assert (found.correction, found.withheld) == ("widen the sector", withheld_words(breathing))
    else:
        assert (found.correction, found.withheld) == ("do this", "")


@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED])
def test_a_retake_that_touches_the_animal_says_what_was_seen_and_not_what_to_do(breathing: Breathing) -> None:
    row = replace(criterion("a", retake="Lung covers it: move to another space."), retake_touches=True)
    review = review_with({1: [missed("a", 1)]}, breathing)
    (held,) = list_retakes(review, {"a": row}, 5, 0.5).retakes
    (given,) = list_retakes(review_with({1: [missed("a", 1)]}), {"a": row}, 5, 0.5).retakes

    assert held.words == f"Lung covers it. {withheld_words(breathing)}"
    assert given.words == "Lung covers it: move to another space."


def test_handling_advice_is_given_when_breathing_is_normal() -> None:
    (found,) = find_priorities([missed("a", 1)], {"a": criterion("a", handling=True)}, Breathing.NORMAL, 0.5)

    assert (found.correction, found.withheld) == ("do this", "")


def test_a_missed_criterion_without_advice_is_a_fault_of_the_table() -> None:
    bare = replace(criterion("a"), low=None)

    with pytest.raises(ValueError, match="criterion a was missed on the low side, which has no advice"):
        find_priorities([missed("a", 1)], {"a": bare}, Breathing.NORMAL, 0.5)


def test_strengths_need_most_clips_and_come_by_weight() -> None:
    criteria = {
        "often": criterion("often", 1, right="Often right."),
        "always": criterion("always", 5, right="Always right."),
        "rarely": criterion("rarely", 9, right="Rarely right."),
    }
    findings = [
        *(finding("always", n, Verdict.MET, 0.4) for n in (1, 2)),
        *(finding("often", n, Verdict.MET, 0.4) for n in (1, 2, 3, 4)),
        missed("often", 5),
        finding("rarely", 1, Verdict.MET, 0.4),
        missed("rarely", 2),
    ]

    found = find_strengths(findings, criteria, 0.8, 0.5)

    assert [item.words for item in found] == ["Always right.", "Often right."]
    assert found[1].clips == ("clip01", "clip02", "clip03", "clip04")


def review_with(findings: dict[int, list[Finding]], breathing: Breathing = Breathing.NORMAL) -> StudyReview:
    review = sample_review()
    readings = tuple(replace(item, findings=tuple(findings.get(item.clip.number, []))) for item in review.readings)
    study = replace(review.study, request=replace(review.study.request, breathing=breathing))
    coverage = replace(review.coverage, can_judge_missing=False, steps=(), unplaced=("clip01",))
    return replace(review, study=study, readings=readings, coverage=coverage, study_findings=(), refused=())


def test_retakes_are_few_weighty_and_hold_no_numbers() -> None:
    criteria = {f"c{k}": criterion(f"c{k}", k, retake=f"Store again: reason {chr(97 + k)}.") for k in range(8)}
    review = review_with({1: [missed(f"c{k}", 1) for k in range(8)]})

    found = list_retakes(review, criteria, 5, 0.5)

    assert [item.weight for item in found.retakes] == [7, 6, 5, 4, 3]
    assert not any(ch.isdigit() for item in found.retakes for ch in item.words)


def test_criteria_without_a_retake_text_never_ask_for_one() -> None:
    review = review_with({1: [missed("a", 1)]})

    assert list_retakes(review, {"a": criterion("a")}, 5, 0.5).retakes == ()


def test_a_distressed_animal_is_left_alone() -> None:
    criteria = {"a": criterion("a", retake="Store again.")}
    review = review_with({1: [missed("a", 1)]}, Breathing.DISTRESSED)

    found = list_retakes(review, criteria, 5, 0.5)

    assert found.first_line == STOP
    assert "stop" in found.first_line.lower()
    assert found.retakes == ()


def test_laboured_breathing_comes_before_the_list() -> None:
    assert list_retakes(review_with({}, Breathing.LABOURED), {}, 5, 0.5).first_line == LABOURED


def test_a_probe_in_the_air_is_the_first_retake() -> None:
    review = review_with({})
    air = replace(review.readings[2], mode=ModeReading(mode=Mode.NO_CONTACT, probability=0.99, reasons=()))
    review = replace(review, readings=(*review.readings[:2], air, *review.readings[3:]))

    found = list_retakes(review, {}, 5, 0.5)

    assert found.retakes[0].clip_numbers == (3,)
    assert "gel" in found.retakes[0].words

    request = replace(review.study.request, breathing=Breathing.NOT_STATED)
    unsaid = list_retakes(replace(review, study=replace(review.study, request=request)), {}, 5, 0.5)
    assert unsaid.retakes[0].words.startswith(
        "The probe was not on the animal. Advice on handling the animal is withheld"
    )


def test_silence_is_not_praise() -> None:
    found = list_retakes(review_with({}), {}, 5, 0.5)

    assert any("no view" in note for note in found.not_said)
    assert any("mode is not sure" in note for note in found.not_said)


def test_missing_views_are_listed_only_when_no_unplaced_clip_could_be_one() -> None:
    review = sample_review()
    certain = replace(review, study_findings=(), readings=())
    doubtful = replace(certain, coverage=replace(certain.coverage, can_judge_missing=False))

    assert any("Not stored yet" in item.words for item in list_retakes(certain, {}, 5, 0.5).retakes)
    assert list_retakes(doubtful, {}, 5, 0.5).retakes == ()
