"""Examinations with the Doppler ladder: which rungs follow which pictures, and which are left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.blood.circulation import Circulation, Leak, Narrowing
from fanlight.heart.kinds import HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.plans import Plan, Step, read_plans
from fanlight.reference.views import read_views
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.doppler_hand import (
    DOPPLER_HABIT_KINDS,
    SHIFTED_DOPPLER_HABITS,
    draw_doppler_hand,
    with_doppler_faults,
)
from fanlight.simulate.visit.doppler_rungs import (
    Lost,
    MissingRung,
    NoSpectraError,
    Why,
    asked_rungs,
    beside_rungs,
    needed_rungs,
    spectra_beside,
)
from fanlight.simulate.visit.doppler_scan import DopplerVisit, rungs_in_view
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shot import Shot
from fanlight.study import Mode, Rung, Valve
from tests.simulate.doppler_stand_ins import examination_of, flow_of, steady_clip

HEALTHY = Circulation(left_mmhg=120.0, right_mmhg=22.0, left_atrium_mmhg=6.0, right_atrium_mmhg=3.0)
LADDER = [Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE]
PLANS = read_plans(load_house())


@pytest.fixture(scope="module")
def steady() -> Examination:
    """Subaortic stenosis: a jet at the aortic valve."""
    return examination_of(HeartClass.THICK_WALLS, HandLevel.STEADY, "outflow_stenosis")


@pytest.fixture(scope="module")
def novice() -> Examination:
    return examination_of(HeartClass.THICK_WALLS, HandLevel.NOVICE, "outflow_stenosis")


def rungs(made: Examination) -> list[tuple[str, Mode, Valve]]:
    return [(s.setting.view, s.mode, s.doppler.setting.valve) for s in made.shots if s.doppler is not None]


def wanted(plan: Plan, circulation: Circulation) -> Iterator[tuple[str, Mode, Valve]]:
    for step in plan.steps:
        for mode in LADDER:
            for rung in (*asked_rungs(step, mode), *needed_rungs(step, mode, circulation, ())):
                yield rung.view, rung.mode, rung.valve


def test_every_rung_of_the_plan_is_stored(steady: Examination) -> None:
    assert steady.circulation is not None
    assert steady.missing_rungs == ()
    assert rungs(steady) == list(wanted(PLANS["outflow_stenosis"], steady.circulation))


def test_rungs_stand_on_a_picture_of_their_view_and_colour_comes_first(steady: Examination) -> None:
    """Rules of the ladder: 2-D of the view before Doppler, colour of a valve before its spectra in the same view."""
    pictures: set[str] = set()
    coloured: set[tuple[str, Valve]] = set()
    asks_colour = {
        (step.view, rung.valve) for step in PLANS["outflow_stenosis"].steps for rung in asked_rungs(step, Mode.COLOUR)
    }
    for shot in steady.shots:
        view = shot.setting.view
        if shot.doppler is None:
            pictures.add(view)
            continue
        assert view in pictures
        at = (view, shot.doppler.setting.valve)
        if shot.mode is Mode.COLOUR:
            coloured.add(at)
        else:
            assert at in coloured or at not in asks_colour
    assert coloured == asks_colour


def test_spectra_beside_the_plan_stand_in_the_first_view_that_carries_them() -> None:
    """What the plan asks for already is not stored twice, and colour is left to the plan."""
    plan, views = PLANS["full_right_side"], read_views(load_house())
    beside = spectra_beside(plan, views, (Valve.PULMONIC, Valve.PULMONIC))
    stored = [
        (rung.view, rung.mode, rung.valve, rung.why)
        for step in plan.steps
        for mode in LADDER
        for rung in beside_rungs(step, mode, beside)
    ]
    view = "right_parasternal_short_axis_pulmonary_artery"
    assert stored == [(view, mode, Valve.PULMONIC, Why.BESIDE) for mode in (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)]
    step = next(step for step in PLANS["outflow_stenosis"].steps if step.view == view)
    asked = spectra_beside(PLANS["outflow_stenosis"], views, (Valve.PULMONIC,))
    assert [rung.mode for mode in LADDER for rung in beside_rungs(step, mode, asked)] == [Mode.CONTINUOUS_WAVE]
    with pytest.raises(NoSpectraError, match="aortic valve; valves that one carries: pulmonic"):
        spectra_beside(plan, views, (Valve.AORTIC,))


def test_numbers_and_times_rise(novice: Examination) -> None:
    times = [shot.since_start_s for shot in novice.shots]

    assert [shot.number for shot in novice.shots] == list(range(1, len(times) + 1))
    assert times == sorted(set(times))


def test_pictures_of_a_seed_are_the_same_with_doppler_and_without(novice: Examination) -> None:
    plain = examination_of(HeartClass.THICK_WALLS, HandLevel.NOVICE, "outflow_stenosis", doppler=False)
    pictures = [shot for shot in novice.shots if shot.doppler is None]

    assert plain.circulation is None
    assert [(s.faults, s.start_ms, s.scatter) for s in plain.shots] == [
        (s.faults, s.start_ms, s.scatter) for s in pictures
    ]
    assert [s.setting.console for s in plain.shots] == [s.setting.console for s in pictures]


def test_what_is_missing_is_told_and_is_not_stored(novice: Examination) -> None:
    """Stored and missing rungs together are what the plan wants in the views that are stored; nothing is both."""
    assert novice.circulation is not None
    stored = set(rungs(novice))
    missing = {(m.rung.view, m.rung.mode, m.rung.valve) for m in novice.missing_rungs}
    views = {shot.setting.view for shot in novice.shots if shot.doppler is None and not shot.is_sweep}

    assert missing
    assert not stored & missing
    assert stored | missing == {
        rung for rung in wanted(PLANS["outflow_stenosis"], novice.circulation) if rung[0] in views
    }  # fmt: skip


def test_faults_are_the_hand_s_own_one_a_knob(novice: Examination) -> None:
    assert novice.doppler_hand is not None
    habits = {habit.key for habit in novice.doppler_hand.habits}
    made = 0
    for shot in novice.shots:
        own = [(fault, habit) for fault, habit in shot.faults if fault.key in DOPPLER_FAULTS]
        knobs = [DOPPLER_FAULTS[fault.key].knob for fault, _ in own]
        assert len(knobs) == len(set(knobs))
        for fault, habit in own:
            made += 1
            assert shot.doppler is not None
            assert shot.mode in DOPPLER_FAULTS[fault.key].modes
            assert habit == "" or (habit in habits and DOPPLER_HABIT_KINDS[habit].fault == fault.key)
        if shot.doppler is not None and not own:
            assert shot.doppler.setting == shot.doppler.standard
    assert made > 0


def test_the_same_seed_gives_the_same_rungs(novice: Examination) -> None:
    examination_of.cache_clear()
    again = examination_of(HeartClass.THICK_WALLS, HandLevel.NOVICE, "outflow_stenosis")

    assert again is not novice
    assert [s.doppler for s in again.shots] == [s.doppler for s in novice.shots]
    assert again.missing_rungs == novice.missing_rungs
    assert again.circulation == novice.circulation


IF_NEEDED = Step(
    view="left_apical_four_chamber",
    if_needed=((Rung.CONTINUOUS_WAVE, (Valve.MITRAL, Valve.AORTIC, Valve.TRICUSPID)),),
)


@pytest.mark.parametrize(
    ("circulation", "wrapped", "expected"),
    [
        (HEALTHY, (), []),
        (HEALTHY, (Valve.AORTIC,), [(Valve.AORTIC, Why.WRAPS)]),
        (replace(HEALTHY, mitral_leak=Leak(fraction=0.4, lean=(0, 0))), (), [(Valve.MITRAL, Why.JET)]),
        (replace(HEALTHY, subaortic=Narrowing(gradient_mmhg=60, lean=(0, 0))), (), [(Valve.AORTIC, Why.JET)]),
        (replace(HEALTHY, tricuspid_leak=Leak(fraction=0.02, lean=(0, 0), is_trace=True)), (), []),
    ],
)
def test_continuous_wave_follows_a_jet_or_a_wrap(
    circulation: Circulation, wrapped: tuple[Valve, ...], expected: list[tuple[Valve, Why]]
) -> None:
    """Rules of the ladder: a jet longer than some frames, or pulsed wave at the end of its scale."""
    found = needed_rungs(IF_NEEDED, Mode.CONTINUOUS_WAVE, circulation, wrapped)

    assert [(rung.valve, rung.why) for rung in found] == expected
    assert list(needed_rungs(IF_NEEDED, Mode.PULSED_WAVE, circulation, wrapped)) == []


def test_a_hand_that_leaves_all_out_stores_nothing_and_says_so() -> None:
    flow, step = flow_of(), next(s for s in PLANS["cardiology"].steps if s.view == "left_apical_four_chamber")
    made = examination_of(HeartClass.NORMAL, HandLevel.STEADY, "full_right_side", doppler=False)
    lazy = replace(draw_doppler_hand(HandLevel.STEADY, np.random.default_rng(1)), missing_fraction=1.0)
    visit = DopplerVisit(
        animal=flow.animal, circulation=flow.body.circulation, flow=flow, hand=made.hand, doppler_hand=lazy
    )
    clip = steady_clip(step.view, Valve.MITRAL, Mode.COLOUR).clip
    found = list(rungs_in_view(visit, step, clip, np.random.default_rng(2)))

    assert [type(item) for item in found] == [MissingRung, MissingRung]
    assert {(m.rung.mode, m.lost) for m in found if isinstance(m, MissingRung)} == {
        (Mode.COLOUR, Lost.HAND), (Mode.PULSED_WAVE, Lost.HAND)
    }  # fmt: skip
    stored = list(
        rungs_in_view(replace(visit, doppler_hand=replace(lazy, missing_fraction=0.0)), step, clip,
                      np.random.default_rng(2))
    )  # fmt: skip
    assert [item.mode for item in stored if isinstance(item, Shot)] == [Mode.COLOUR, Mode.PULSED_WAVE]


def test_habits_make_faults_that_exist_and_never_two_of_a_knob() -> None:
    assert {habit.fault for habit in DOPPLER_HABIT_KINDS.values()} <= set(DOPPLER_FAULTS)
    for seed in range(40):
        hand = draw_doppler_hand(HandLevel.NOVICE, np.random.default_rng(seed))
        knobs = [DOPPLER_FAULTS[DOPPLER_HABIT_KINDS[h.key].fault].knob for h in hand.habits]
        assert len(knobs) == len(set(knobs))


def test_doppler_hands_of_ring_c_make_another_mix() -> None:
    own = {habit.key for habit in SHIFTED_DOPPLER_HABITS}
    seeds = [np.random.default_rng([seed, 1]) for seed in range(40)]
    usual = [h.key for rng in seeds for h in draw_doppler_hand(HandLevel.NOVICE, rng).habits]
    shifted = [h.key for rng in seeds for h in draw_doppler_hand(HandLevel.NOVICE, rng, is_shifted=True).habits]

    assert not own & set(usual)
    assert own <= set(shifted)
    assert sum(key in own for key in shifted) > len(shifted) / 2


def test_a_steady_hand_adds_next_to_nothing() -> None:
    flow, clip = flow_of(), steady_clip("left_apical_four_chamber", Valve.MITRAL, Mode.PULSED_WAVE)
    hand = draw_doppler_hand(HandLevel.STEADY, np.random.default_rng(1))
    rng = np.random.default_rng(4)
    faults = [with_doppler_faults(clip, flow, hand, rng)[1] for _ in range(60)]

    assert hand.habits == ()
    assert sum(map(len, faults)) <= 6  # 2 % of 60 clips are 1.2
    assert all(fault.strength == 1 and fault.key not in FAULTS for made in faults for fault, _ in made)
