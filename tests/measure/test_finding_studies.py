"""Studies composed of kept answers: what is true of them is what was put in."""

from __future__ import annotations

import pytest

from fanlight.reference.causes import AnimalFact, read_causes, read_weights
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.study import Mode
from measure._cause_answers import answered
from measure._finding_pools import KeptClip, Pool
from measure._finding_studies import KINDS, Makings, compose

HOUSE = load_house()
USUAL = (("far_field_loss", "met", "inside", 0.8), ("rib_shadow", "met", "inside", 0.85))
GOOD = (("overall_gain", "met", "inside", 0.9), *USUAL)
DARK = (("overall_gain", "missed", "low", 0.9), *USUAL)


def kept(findings: tuple[tuple[str, str, str, float], ...], heart: str, view: str) -> KeptClip:
    return KeptClip(seed=1, heart=heart, mode=Mode.TWO_D, view=view, valve="", findings=findings)


POOL = Pool(
    clips={
        (Mode.TWO_D, ""): tuple(kept(GOOD, heart, view) for heart in ("normal", "lv_dilated") for view in "abc"),
        (Mode.TWO_D, "gain_low"): tuple(kept(DARK, "normal", view) for view in "abc"),
    }
)
MAKINGS = Makings(pool=POOL, rows=read_causes(HOUSE), weights=read_weights(HOUSE), criteria=read_criteria(HOUSE))


@pytest.mark.parametrize("seed", range(16))
def test_a_clip_says_what_its_causes_say(seed: int) -> None:
    study = compose(seed, MAKINGS)
    assert study == compose(seed, MAKINGS)
    for clip in study["clips"]:
        if clip["mode"] == Mode.TWO_D:
            raised = {(item[0], item[2]) for item in clip["findings"] if item[1] == "missed"}
            assert (("overall_gain", "low") in raised) >= ("gain_low" in clip["acting"])
            assert not raised or clip["acting"]


def test_a_right_study_has_no_cause_and_nothing_is_corrected() -> None:
    study = answered(compose(KINDS.index("right"), MAKINGS))
    assert study["kind"] == "right"
    assert not any(study["acting"].values())
    assert study["found"] == study["corrections"] == []


def test_a_habit_runs_through_the_study_and_is_found() -> None:
    study = answered(compose(KINDS.index("one"), MAKINGS))
    assert study["habits"] == ["gain_low"]
    assert study["corrections"][0][0] == "gain_low"
    assert study["due"] > 0


def test_the_sheet_tells_what_the_animal_brings_or_is_silent() -> None:
    """What is usual is not stated of an animal that brings the opposite."""
    told = [compose(seed, MAKINGS) for seed in range(400) if KINDS[seed % len(KINDS)] == "animal"]
    hard = [study for study in told if study["brings"] == "breathing_hard"]
    assert {AnimalFact.BREATHING_LABOURED in study["known"] for study in hard} == {True, False}
    assert not any(AnimalFact.BREATHING_NORMAL in study["known"] for study in hard)
