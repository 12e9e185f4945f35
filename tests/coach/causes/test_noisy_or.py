"""The noisy-OR of one clip, held against a full enumeration and against what explaining away must do."""

from itertools import product

import numpy as np
import pytest

from fanlight.coach.causes.noisy_or import ClipSigns, clip_model, ratio, reasons, weigh

DARK, STREAKS, WEDGE, HAZE = ("gain", "low"), ("contact", "high"), ("rib", "high"), ("haze", "high")
CHANCE = {DARK: 0.04, STREAKS: 0.01, WEDGE: 0.02, HAZE: 0.03}
CAUSES = {
    "gain": {DARK: 0.8},
    "dry": {DARK: 0.5, STREAKS: 0.45, WEDGE: 0.7},
    "rib": {WEDGE: 0.95},
    "bright": {HAZE: 0.9},
}
BEFORE = {"gain": 0.1, "dry": 0.05, "rib": 0.06, "bright": 0.08}


def signs(*raised: tuple[str, str]) -> ClipSigns:
    return ClipSigns(raised=raised, quiet=tuple(sign for sign in CHANCE if sign not in raised), causes=tuple(CAUSES))


def posterior(*raised: tuple[str, str]) -> dict[str, float]:
    model = clip_model(signs(*raised), CHANCE, CAUSES)
    weights = weigh(model, np.array([BEFORE[key] for key in model.causes]))
    return {key: float(weights[model.sets[:, k]].sum()) for k, key in enumerate(model.causes)}


def enumerated(*raised: tuple[str, str]) -> dict[str, float]:
    """Sum over all sets of causes, straight from the definition."""
    keys = tuple(CAUSES)
    total, with_cause = 0.0, dict.fromkeys(keys, 0.0)
    for acts in product((False, True), repeat=len(keys)):
        p = 1.0
        for key, is_on in zip(keys, acts, strict=True):
            p *= BEFORE[key] if is_on else 1 - BEFORE[key]
        for sign, chance in CHANCE.items():
            left = 1 - chance
            for key, is_on in zip(keys, acts, strict=True):
                left *= 1 - CAUSES[key].get(sign, 0.0) * is_on
            p *= 1 - left if sign in raised else left
        total += p
        for key, is_on in zip(keys, acts, strict=True):
            with_cause[key] += p * is_on
    return {key: value / total for key, value in with_cause.items()}


@pytest.mark.parametrize("raised", [(DARK,), (DARK, STREAKS), (DARK, STREAKS, WEDGE), (WEDGE, HAZE)])
def test_the_posterior_is_that_of_the_definition(raised: tuple[tuple[str, str], ...]) -> None:
    expected = enumerated(*raised)
    for key, value in posterior(*raised).items():
        assert value == pytest.approx(expected[key], abs=1e-9)


def test_a_cause_is_explained_away_by_another() -> None:
    assert posterior(DARK)["gain"] > 0.5
    assert posterior(DARK, STREAKS, WEDGE)["gain"] < 0.5 * posterior(DARK)["gain"]
    assert posterior(DARK, STREAKS, WEDGE)["dry"] > 0.9


def test_what_is_quiet_speaks_against_a_cause() -> None:
    model = clip_model(signs(DARK), CHANCE, CAUSES)
    assert ratio(model, "bright", BEFORE, 0.03, 0.7) < 0.5  # its only sign is missing
    assert ratio(model, "gain", BEFORE, 0.03, 0.7) > 5


def test_the_ratio_of_a_cause_that_explains_nothing_is_that_of_its_missing_signs() -> None:
    model = clip_model(signs(DARK), CHANCE, CAUSES)
    left = 1 - CAUSES["bright"][HAZE]
    assert ratio(model, "bright", BEFORE, 0.03, 0.7) == pytest.approx((0.3 + 0.7 * left) / (0.97 + 0.03 * left))


def test_each_sign_is_shared_out_among_its_causes() -> None:
    model = clip_model(signs(DARK, STREAKS, WEDGE), CHANCE, CAUSES)
    behind = reasons(model, weigh(model, np.array([BEFORE[key] for key in model.causes])))
    dry = model.causes.index("dry")
    assert behind[1, dry] > 0.9  # streaks: nothing else makes them
    assert behind[0, dry] > behind[0, model.causes.index("gain")]


def test_a_clip_without_signs_says_nothing() -> None:
    model = clip_model(ClipSigns(raised=(), quiet=(), causes=tuple(CAUSES)), CHANCE, CAUSES)
    assert model.causes == ()
    assert all(value == 1.0 for value in model.alone.values())
    assert ratio(model, "gain", BEFORE, 0.03, 0.7) == pytest.approx(1.0)
