"""Hands, rings and the plan of a simulated examination, before any picture is made."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.landmarks import landmarks
from fanlight.heart.rhythm import breath_at
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.thorax import REST
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.simulate.clip.ring import Ring, SeedError, ring_of
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.simulate.visit.examination import FEWEST, MOST, SWEEP_VIEW, Examination
from fanlight.simulate.visit.hand import HABIT_KINDS, SHIFTED_HABITS, draw_hand, in_scope
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import Landmark, Mode
from tests.simulate.small_study import examination


@pytest.fixture(scope="module")
def novice() -> Examination:
    return examination(seed=6, hand=HandLevel.NOVICE, plan="cardiology")


@pytest.fixture(scope="module")
def steady() -> Examination:
    return examination(seed=6, hand=HandLevel.STEADY, plan="cardiology")


@pytest.fixture(scope="module")
def shifted() -> Examination:
    return examination(seed=6, ring=Ring.C)


@pytest.mark.parametrize(("seed", "ring"), [(0, Ring.A), (9_999, Ring.A), (10_000, Ring.B), (19_999, Ring.B)])
def test_a_seed_tells_its_ring(seed: int, ring: Ring) -> None:
    assert ring_of(seed) is ring
    assert ring_of(seed, Ring.C) is Ring.C


@pytest.mark.parametrize("seed", [-1, 20_000, 10**9])
def test_seeds_beyond_the_rings_are_refused(seed: int) -> None:
    with pytest.raises(SeedError, match=f"a seed lies between 0 and 19999, got {seed}"):
        ring_of(seed)


def test_a_seed_of_another_ring_is_refused() -> None:
    with pytest.raises(SeedError, match="ring A has the seeds 0 to 9999, got 12000, which belongs to ring B"):
        ring_of(12_000, Ring.A)


def test_a_whole_examination_follows_its_plan(steady: Examination) -> None:
    plan = read_plans(load_house())["cardiology"]
    asked = [step.view for step in plan.steps]
    two_d = [s.setting.view for s in steady.shots if s.setting.mode is Mode.TWO_D and not s.is_sweep]
    m_mode = {s.setting.view for s in steady.shots if s.setting.mode is Mode.M_MODE}

    assert FEWEST <= len(steady.shots) <= MOST
    assert list(dict.fromkeys(two_d)) == asked
    assert m_mode == {step.view for step in plan.steps if step.m_mode}
    assert [s.setting.view for s in steady.shots if s.is_sweep] == [SWEEP_VIEW]
    assert any(s.setting.recording.is_still for s in steady.shots)
    assert steady.missing_views == ()


def test_times_of_acquisition_rise_with_the_numbers(novice: Examination) -> None:
    times = [shot.since_start_s for shot in novice.shots]

    assert [shot.number for shot in novice.shots] == list(range(1, len(times) + 1))
    assert times == sorted(set(times))


def test_a_steady_hand_stores_three_beats(steady: Examination) -> None:
    """Three beats are common practice; a steady hand's faults are slips, few of them."""
    clips = [s for s in steady.shots if not s.setting.recording.is_still]

    assert all(s.standard.recording.beats >= 3 for s in clips)
    assert steady.hand.habits == ()


def test_missing_views_are_told(novice: Examination) -> None:
    stored = {shot.setting.view for shot in novice.shots if not shot.is_sweep}
    plan = [step.view for step in read_plans(load_house())["cardiology"].steps]

    assert set(novice.missing_views) == set(plan) - stored


def test_every_fault_of_a_habit_is_the_habit_s_own(novice: Examination) -> None:
    made = [(fault.key, habit, shot) for shot in novice.shots for fault, habit in shot.faults if habit]

    assert made
    for key, habit, shot in made:
        kind = HABIT_KINDS[habit]
        assert key == kind.fault
        assert in_scope(kind, shot.setting.view, shot.setting.mode is Mode.M_MODE)


def test_a_habit_shows_in_most_clips_of_its_scope() -> None:
    """So that few causes explain most of what is wrong: over many hands, habits make more faults than slips."""
    counts = Counter(
        bool(habit) for seed in range(2) for shot in examination(seed=seed).shots for _, habit in shot.faults
    )

    assert counts[True] > 2 * counts[False]


def test_no_clip_has_two_faults_of_one_knob(novice: Examination) -> None:
    for shot in novice.shots:
        knobs = [FAULTS[fault.key].knob for fault, _ in shot.faults]
        assert len(knobs) == len(set(knobs))


@pytest.mark.parametrize("level", HandLevel)
def test_habits_of_a_hand_do_not_contradict_each_other(level: HandLevel) -> None:
    for seed in range(40):
        knobs = [FAULTS[HABIT_KINDS[h.key].fault].knob for h in draw_hand(level, np.random.default_rng(seed)).habits]
        assert len(knobs) == len(set(knobs))


def test_every_habit_makes_a_fault_that_exists() -> None:
    assert {habit.fault for habit in HABIT_KINDS.values()} <= set(FAULTS)


@pytest.mark.parametrize("level", [HandLevel.NOVICE, HandLevel.IMPROVING])
def test_hands_of_ring_c_make_another_mix_of_faults(level: HandLevel) -> None:
    """Habits of a list of their own come first, so that no figure hangs on the usual mix."""
    own = {habit.key for habit in SHIFTED_HABITS}
    usual = [h.key for s in range(40) for h in draw_hand(level, np.random.default_rng(s)).habits]
    shifted = [h.key for s in range(40) for h in draw_hand(level, np.random.default_rng(s), is_shifted=True).habits]

    assert not own & set(usual)
    assert sum(key in own for key in shifted) > len(shifted) / 2
    assert own <= set(shifted)


def test_a_waiting_hand_scans_in_the_expiratory_pause(steady: Examination) -> None:
    """Nearly all clips of a steady hand begin when the animal has breathed out."""
    depth = steady.animal.rhythm.breath_depth_fraction
    calm = [breath_at(steady.animal.rhythm, shot.start_ms) < 0.3 * depth for shot in steady.shots]

    assert np.mean(calm) > 0.8


def test_the_same_seed_gives_the_same_examination(novice: Examination) -> None:
    again = examination(seed=6, hand=HandLevel.NOVICE, plan="cardiology")

    assert again.hand == novice.hand
    assert again.facts == novice.facts
    assert [s.faults for s in again.shots] == [s.faults for s in novice.shots]
    assert [s.setting.console for s in again.shots] == [s.setting.console for s in novice.shots]
    assert all(
        np.array_equal(a.setting.pose.axes, b.setting.pose.axes) for a, b in zip(again.shots, novice.shots, strict=True)
    )


def test_ring_c_is_another_world(novice: Examination, shifted: Examination) -> None:
    """Deformed and turned heart, other machine, other screens; the visit itself is of the same kind."""
    anatomy = shifted.animal.anatomy
    plain = novice.animal.anatomy
    turn = np.degrees(np.arccos(np.clip(np.dot(anatomy.frame.long, plain.frame.long), -1, 1)))

    assert anatomy.warp is not None
    assert plain.warp is None
    assert turn > 1.0
    assert shifted.layout.key in SHIFTED_LAYOUTS
    assert shifted.layout.key not in LAYOUTS
    assert shifted.generator.table() is not None
    assert shifted.generator.probe != novice.generator.probe


def test_a_deformed_heart_carries_its_landmarks(shifted: Examination) -> None:
    """What lies at a landmark of the undeformed heart lies at the same landmark of the deformed one."""
    warped = shifted.animal.anatomy
    plain = replace(warped, warp=None)
    for name in (Landmark.LV_CENTRE, Landmark.LA_CENTRE, Landmark.RV_CENTRE, Landmark.AORTIC_SINUS_CENTRE):
        tissues = []
        for anatomy in (plain, warped):
            x, y, z = (np.asarray([v], np.float32) for v in landmarks(anatomy, REST)[name])
            tissues.append(int(sample_heart(anatomy, REST, x, y, z).tissue[0]))
        assert tissues[0] == tissues[1]
    moved = [np.linalg.norm(landmarks(plain, REST)[name] - landmarks(warped, REST)[name]) for name in Landmark]
    assert max(moved) > 0.5  # mm: the deformation is no rounding error
