"""The noisy-OR of one clip, held against a full enumeration and against what explaining away must do."""

from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.coach.causes.noisy_or import (
    GRADES,
    N_STATES,
    ClipModel,
    ClipSigns,
    Sign,
    clip_model,
    joint,
    parts_of,
    reasons,
)
from fanlight.study import Side

DARK, STREAKS, WEDGE, HAZE = ("gain", Side.LOW), ("contact", Side.HIGH), ("rib", Side.HIGH), ("haze", Side.HIGH)
CHANCE = {DARK: 0.04, STREAKS: 0.01, WEDGE: 0.02, HAZE: 0.03}
CAUSES = {
    "gain": {"plain": {DARK: 0.6}, "strong": {DARK: 0.95}},
    "dry": {"plain": {DARK: 0.4, STREAKS: 0.2, WEDGE: 0.6}, "strong": {DARK: 0.7, STREAKS: 0.75, WEDGE: 0.85}},
    "rib": {"plain": {WEDGE: 0.95}, "strong": {WEDGE: 0.98}},
    "bright": {"plain": {HAZE: 0.7}, "strong": {HAZE: 0.95}},
}
BEFORE = {
    "gain": [0.9, 0.06, 0.04], "dry": [0.95, 0.03, 0.02], "rib": [0.94, 0.03, 0.03], "bright": [0.92, 0.05, 0.03]
}  # fmt: skip


def signs(*raised: Sign) -> ClipSigns:
    return ClipSigns(raised=raised, quiet=tuple(sign for sign in CHANCE if sign not in raised), causes=tuple(CAUSES))


def weights_of(model: ClipModel) -> NDArray[np.float64]:
    ways = joint(model, {key: np.array([value]) for key, value in BEFORE.items()})[0]
    return np.asarray(ways / ways.sum())


def posterior(*raised: Sign) -> dict[str, float]:
    model = clip_model(signs(*raised), CHANCE, CAUSES)
    weights = weights_of(model)
    return {key: float(weights[model.states[:, k] > 0].sum()) for k, key in enumerate(model.causes)}


def enumerated(*raised: Sign) -> dict[str, float]:
    """Sum over all states of all causes, straight from the definition."""
    keys = tuple(CAUSES)
    total, with_cause = 0.0, dict.fromkeys(keys, 0.0)
    for states in product(range(N_STATES), repeat=len(keys)):
        p = 1.0
        for key, state in zip(keys, states, strict=True):
            p *= BEFORE[key][state]
        for sign, chance in CHANCE.items():
            left = 1 - chance
            for key, state in zip(keys, states, strict=True):
                left *= 1 - (CAUSES[key][GRADES[state - 1]].get(sign, 0.0) if state else 0.0)
            p *= 1 - left if sign in raised else left
        total += p
        for key, state in zip(keys, states, strict=True):
            with_cause[key] += p * (state > 0)
    return {key: value / total for key, value in with_cause.items()}


@pytest.mark.parametrize("raised", [(DARK,), (DARK, STREAKS), (DARK, STREAKS, WEDGE), (WEDGE, HAZE)])
def test_the_posterior_is_that_of_the_definition(raised: tuple[Sign, ...]) -> None:
    expected = enumerated(*raised)
    for key, value in posterior(*raised).items():
        assert value == pytest.approx(expected[key], abs=1e-9)


def test_a_cause_is_explained_away_by_another() -> None:
    assert posterior(DARK)["gain"] > 0.5
    assert posterior(DARK, STREAKS, WEDGE)["gain"] < 0.5 * posterior(DARK)["gain"]
    assert posterior(DARK, STREAKS, WEDGE)["dry"] > 0.9


def test_what_is_quiet_speaks_against_a_cause() -> None:
    model = clip_model(signs(DARK), CHANCE, CAUSES)
    assert model.alone["bright"] == pytest.approx([1.0, 0.3, 0.05])  # its only sign is missing
    assert "gain" in model.causes


def test_cases_are_weighed_side_by_side() -> None:
    """Two beliefs about a clip at once give what each gives by itself, and the sum over all sets is its likelihood."""
    model = clip_model(signs(DARK), CHANCE, CAUSES)
    sure = {key: np.array([[1.0, 0.0, 0.0]] * 2) for key in BEFORE}
    sure["gain"] = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    total = joint(model, sure).sum(axis=1)
    chance = 1 - CHANCE[DARK]
    assert total[1] / total[0] == pytest.approx((1 - chance * 0.05) / (1 - chance * 0.4))


def test_each_sign_is_shared_out_among_its_causes() -> None:
    model = clip_model(signs(DARK, STREAKS, WEDGE), CHANCE, CAUSES)
    behind = reasons(model, weights_of(model))
    dry = model.causes.index("dry")
    assert behind[1, dry] > 0.9  # streaks: nothing else makes them
    assert behind[0, dry] > behind[0, model.causes.index("gain")]


def test_a_clip_without_signs_says_nothing() -> None:
    model = clip_model(ClipSigns(raised=(), quiet=(), causes=tuple(CAUSES)), CHANCE, CAUSES)
    assert model.causes == ()
    assert all(value == pytest.approx([1, 1, 1]) for value in model.alone.values())


def test_with_many_causes_the_sets_stay_few() -> None:
    many = {f"cause {k}": {grade: {DARK: 0.5} for grade in GRADES} for k in range(12)}
    model = clip_model(ClipSigns(raised=(DARK,), quiet=(), causes=tuple(many)), CHANCE, many)
    assert len(model.states) < 20_000
    ways = joint(model, {key: np.array([[0.96, 0.02, 0.02]]) for key in many})
    assert ways.shape == (1, len(model.states))


@pytest.mark.parametrize("raised", [(DARK,), (DARK, HAZE), (WEDGE, HAZE), (DARK, STREAKS, WEDGE, HAZE)])
def test_a_clip_in_parts_is_as_likely_as_the_whole(raised: tuple[Sign, ...]) -> None:
    """What shares no cause is independent: the product over the parts is the sum over all sets."""
    before = {key: np.array([value]) for key, value in BEFORE.items()}
    whole = joint(clip_model(signs(*raised), CHANCE, CAUSES), before).sum()
    parts = parts_of(signs(*raised), CAUSES)
    assert sorted(key for part in parts for key in part.causes) == sorted(CAUSES)
    product_of_parts = np.prod(
        [
            joint(clip_model(part, CHANCE, CAUSES), {key: before[key] for key in part.causes}).sum()
            for part in parts
        ]
    )  # fmt: skip
    assert product_of_parts == pytest.approx(whole)


def test_signs_that_share_a_cause_stay_together() -> None:
    parts = parts_of(signs(DARK, WEDGE, HAZE), CAUSES)
    assert {part.raised for part in parts if part.raised} == {(DARK, WEDGE), (HAZE,)}
