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
from fanlight.reference.causes import Weight
from fanlight.study import Side

DARK, STREAKS, WEDGE, HAZE = ("gain", Side.LOW), ("contact", Side.HIGH), ("rib", Side.HIGH), ("haze", Side.HIGH)
CHANCE = {DARK: Weight(0.04, 0.01), STREAKS: Weight(0.01, 0.002), WEDGE: Weight(0.02, 0.015), HAZE: Weight(0.03, 0.01)}
CAUSES = {
    "gain": {"plain": {DARK: Weight(0.6, 0.3)}, "strong": {DARK: Weight(0.95, 0.7)}},
    "dry": {
        "plain": {DARK: Weight(0.4, 0.15), STREAKS: Weight(0.2, 0.1), WEDGE: Weight(0.6, 0.5)},
        "strong": {DARK: Weight(0.7, 0.3), STREAKS: Weight(0.75, 0.7), WEDGE: Weight(0.85, 0.8)},
    },
    "rib": {"plain": {WEDGE: Weight(0.95, 0.7)}, "strong": {WEDGE: Weight(0.98, 0.97)}},
    "bright": {"plain": {HAZE: Weight(0.7, 0.4)}, "strong": {HAZE: Weight(0.95, 0.9)}},
}
NEVER = Weight(0.0, 0.0)
BEFORE = {
    "gain": [0.9, 0.06, 0.04], "dry": [0.95, 0.03, 0.02], "rib": [0.94, 0.03, 0.03], "bright": [0.92, 0.05, 0.03]
}  # fmt: skip


def signs(*raised: Sign, missed: tuple[Sign, ...] | None = None) -> ClipSigns:
    """Return a clip in which these were raised, all of them outright where nothing is said."""
    return ClipSigns(
        raised=raised, quiet=tuple(sign for sign in CHANCE if sign not in raised), causes=tuple(CAUSES),
        missed=frozenset(raised if missed is None else missed),
    )  # fmt: skip


def weights_of(model: ClipModel) -> NDArray[np.float64]:
    ways = joint(model, {key: np.array([value]) for key, value in BEFORE.items()})[0]
    return np.asarray(ways / ways.sum())


def posterior(*raised: Sign, missed: tuple[Sign, ...] | None = None) -> dict[str, float]:
    model = clip_model(signs(*raised, missed=missed), CHANCE, CAUSES)
    weights = weights_of(model)
    return {key: float(weights[model.states[:, k] > 0].sum()) for k, key in enumerate(model.causes)}


def as_seen(sign: Sign, raised: tuple[Sign, ...], missed: tuple[Sign, ...], acting: list[Weight]) -> float:
    """Sum over all ways in which chance and each cause leave a sign quiet, borderline or missed; the most is seen."""
    seen = 2 if sign in missed else int(sign in raised)
    p = 0.0
    for levels in product(range(3), repeat=len(acting)):
        if max(levels) == seen:
            shares = ((1 - own.raised, own.raised - own.missed, own.missed) for own in acting)
            p += float(np.prod([share[level] for share, level in zip(shares, levels, strict=True)]))
    return p


def enumerated(raised: tuple[Sign, ...], missed: tuple[Sign, ...]) -> dict[str, float]:
    """Sum over all states of all causes, straight from the definition."""
    keys = tuple(CAUSES)
    total, with_cause = 0.0, dict.fromkeys(keys, 0.0)
    for states in product(range(N_STATES), repeat=len(keys)):
        p = 1.0
        for key, state in zip(keys, states, strict=True):
            p *= BEFORE[key][state]
        for sign, chance in CHANCE.items():
            of = zip(keys, states, strict=True)
            acting = [CAUSES[key][GRADES[state - 1]].get(sign, NEVER) for key, state in of if state]
            p *= as_seen(sign, raised, missed, [chance, *acting])
        total += p
        for key, state in zip(keys, states, strict=True):
            with_cause[key] += p * (state > 0)
    return {key: value / total for key, value in with_cause.items()}


@pytest.mark.parametrize("n_missed", [0, 1, 4])
@pytest.mark.parametrize("raised", [(DARK,), (DARK, STREAKS), (DARK, STREAKS, WEDGE), (WEDGE, HAZE)])
def test_the_posterior_is_that_of_the_definition(raised: tuple[Sign, ...], n_missed: int) -> None:
    missed = raised[:n_missed]
    expected = enumerated(raised, missed)
    for key, value in posterior(*raised, missed=missed).items():
        assert value == pytest.approx(expected[key], abs=1e-9)


def test_what_was_missed_outright_speaks_for_what_misses_outright() -> None:
    """A gain that is low is dark outright in half of its clips, chance in one of four."""
    assert posterior(DARK, missed=(DARK,))["gain"] > posterior(DARK, missed=())["gain"] + 0.1


@pytest.mark.parametrize("missed", [(), (DARK, WEDGE)])
def test_the_reasons_of_a_sign_are_those_that_raised_it_as_far(missed: tuple[Sign, ...]) -> None:
    """With one cause that surely acts its share is Bayes' rule by hand."""
    model = clip_model(signs(DARK, WEDGE, missed=missed), CHANCE, {key: CAUSES[key] for key in CAUSES})
    sure = np.array([1.0 if (row == [0, 1, 0][: len(row)]).all() else 0.0 for row in model.states])
    assert model.causes[:2] == ("gain", "dry")
    own, chance = CAUSES["dry"]["plain"][DARK], CHANCE[DARK]
    if missed:
        by_hand = own.missed / (1 - (1 - own.missed) * (1 - chance.missed))
    else:
        alone = (own.raised - own.missed) * (1 - chance.missed)
        by_hand = alone / ((1 - own.missed) * (1 - chance.missed) - (1 - own.raised) * (1 - chance.raised))
    assert reasons(model, sure)[0, 1] == pytest.approx(by_hand)


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
    model = clip_model(signs(DARK), CHANCE, CAUSES)  # missed outright
    sure = {key: np.array([[1.0, 0.0, 0.0]] * 2) for key in BEFORE}
    sure["gain"] = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    total = joint(model, sure).sum(axis=1)
    chance = 1 - CHANCE[DARK].missed
    assert total[1] / total[0] == pytest.approx((1 - chance * 0.3) / (1 - chance * 0.7))


def test_each_sign_is_shared_out_among_its_causes() -> None:
    model = clip_model(signs(DARK, STREAKS, WEDGE), CHANCE, CAUSES)
    behind = reasons(model, weights_of(model))
    dry = model.causes.index("dry")
    assert behind[1, dry] > 0.9  # streaks: nothing else makes them
    assert behind[0, dry] > behind[0, model.causes.index("gain")]


def test_a_clip_without_signs_says_nothing() -> None:
    model = clip_model(ClipSigns(raised=(), quiet=(), causes=tuple(CAUSES), missed=frozenset()), CHANCE, CAUSES)
    assert model.causes == ()
    assert all(value == pytest.approx([1, 1, 1]) for value in model.alone.values())


def test_with_many_causes_the_sets_stay_few() -> None:
    many = {f"cause {k}": {grade: {DARK: Weight(0.5, 0.3)} for grade in GRADES} for k in range(12)}
    model = clip_model(ClipSigns(raised=(DARK,), quiet=(), causes=tuple(many), missed=frozenset()), CHANCE, many)
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
