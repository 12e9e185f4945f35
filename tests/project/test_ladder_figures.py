"""Studies for the ladder's rules: what is broken is what was put in, and the table counts it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.study import Finding, Mode, Valve, Verdict
from measure._ladder_clips import KeptClip
from measure._ladder_studies import RULES, VIEWS, Composed, Slot, compose, raised_in, tells_of, truth_of
from measure._ladder_table import WORDS, ladder_table

HOUSE = load_house()
CRITERIA = read_criteria(HOUSE)
FIRST, SECOND = VIEWS[Valve.MITRAL]


def said(criterion: str, verdict: Verdict, value: float) -> Finding:
    row = CRITERIA[criterion]
    return Finding(
        criterion=criterion, clip="", value=value, unit=row.unit, band=row.band, verdict=verdict, confidence=0.9,
        reason="",
    )  # fmt: skip


def kept(mode: Mode, *findings: Finding, valve: Valve = Valve.MITRAL, runs_out: bool = False) -> KeptClip:
    return KeptClip(
        name=f"1/{mode.value}-{runs_out}", valve=valve, mode=mode, mode_read=mode, runs_out=runs_out, is_torn=False,
        has_jet=False, true_beats=4.0, findings=findings, n_beats=4.0,
    )  # fmt: skip


FITS, WRAPS = said("spectrum_wrap", Verdict.MET, 0.0), said("spectrum_wrap", Verdict.MISSED, 1.0)
COLOUR, LINE = kept(Mode.COLOUR), kept(Mode.CONTINUOUS_WAVE, FITS)
PULSED, WRAPPED = kept(Mode.PULSED_WAVE, FITS), kept(Mode.PULSED_WAVE, WRAPS, runs_out=True)
WHOLE = Composed(
    seed=1, valve=Valve.MITRAL, is_reported=True, no_leak="No mitral regurgitation.",
    not_measured="The mitral jet was not measurable.",
    slots=(
        Slot(view=FIRST), Slot(view=SECOND), Slot(view=FIRST, kept=COLOUR), Slot(view=SECOND, kept=COLOUR),
        Slot(view=FIRST, kept=PULSED), Slot(view=FIRST, kept=LINE), Slot(view=SECOND, kept=LINE),
    ),
)  # fmt: skip


def broken(study: Composed) -> list[str]:
    return [rule for rule, is_broken in truth_of(study).items() if is_broken]


def without(*modes: Mode) -> Composed:
    slots = tuple(slot for slot in WHOLE.slots if slot.kept is None or slot.kept.mode not in modes)
    return replace(WHOLE, slots=slots)


def test_a_whole_study_breaks_nothing_and_raises_nothing() -> None:
    assert broken(WHOLE) == []
    assert set(raised_in(WHOLE, HOUSE).values()) == {""}


@pytest.mark.parametrize(
    ("study", "rules"),
    [
        (replace(WHOLE, slots=WHOLE.slots[1:]), ["L1"]),
        (replace(WHOLE, slots=(Slot(view=FIRST, is_good=False), *WHOLE.slots[1:])), ["L1"]),
        (replace(without(Mode.COLOUR), no_leak=""), ["L2"]),
        (without(Mode.COLOUR), ["L2", "L6"]),
        (without(Mode.CONTINUOUS_WAVE), ["L5"]),
        (without(Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE), ["L5", "L7"]),
    ],
)
def test_what_is_left_out_breaks_its_rule_and_raises_it(study: Composed, rules: list[str]) -> None:
    assert broken(study) == rules
    assert [rule for rule, word in raised_in(study, HOUSE).items() if word] == rules


def test_pulsed_wave_that_runs_out_breaks_its_rule_until_it_fits() -> None:
    bare = replace(without(Mode.CONTINUOUS_WAVE, Mode.PULSED_WAVE), is_reported=False, not_measured="")
    wrapped = replace(bare, slots=(*bare.slots, Slot(view=FIRST, kept=WRAPPED)))
    assert (broken(wrapped), raised_in(wrapped, HOUSE)["L3"]) == (["L3"], "sure")
    assert tells_of(wrapped)["L3"] == [WRAPPED.name]
    moved = replace(wrapped, slots=(*wrapped.slots, Slot(view=FIRST, kept=PULSED)))
    assert (broken(moved), raised_in(moved, HOUSE)["L3"]) == ([], "")


def test_studies_come_out_the_same_and_of_their_valve_alone() -> None:
    clips = [kept(mode, FITS, valve=valve) for mode in (Mode.COLOUR, Mode.PULSED_WAVE) for valve in Valve]
    for seed in range(24):
        study = compose(seed, clips)
        assert study == compose(seed, clips)
        assert {slot.kept.valve for slot in study.slots if slot.kept is not None} <= {study.valve}


def test_the_table_counts_studies_with_all_names() -> None:
    none = dict.fromkeys(RULES, False)
    silent = dict.fromkeys(RULES, "")
    row = {"is_named": True, "tells": {"L3": ["a"], "L4": []}}
    rows = [{**row, "truth": {**none, "L2": True}, "raised": {**silent, "L2": "sure"}} for _ in range(12)]
    lost = {**row, "is_named": False, "truth": {**none, "L2": True}, "raised": silent}
    text = ladder_table({"A": [*rows, lost]})
    assert set(WORDS) == set(RULES)
    assert f"| L2 | {WORDS['L2']} | A | 12 of 12, 100 % (76–100) | 12 of 12 | too few to tell: 0 of 0 |" in text
    assert "0 of 1 rules that are broken are raised" in text
    assert "ring A: 1 and 0" in text
