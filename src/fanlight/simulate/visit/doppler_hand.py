"""How a hand handles Doppler: its habits at the Doppler knobs, its slips, and the rungs that it leaves out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler, doppler_kind, fitting_doppler
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.steady.doppler_aim import ModelFlow
from fanlight.simulate.visit.hand import Habit
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shot import MadeFaults


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerHabitKind:
    """One thing that a hand does wrongly again and again; it shows in every rung that its fault fits."""

    key: str
    title: str
    fault: str  # key of the Doppler fault that it makes


# Common practice, no source: what mentors say that they correct most.
DOPPLER_HABITS = (
    DopplerHabitKind(key="box_over_all", title="draws the colour box over the whole heart", fault="colour_box_large"),
    DopplerHabitKind(key="box_beside", title="leaves the colour box beside the valve", fault="colour_box_misplaced"),
    DopplerHabitKind(key="scale_of_veins", title="keeps the colour scale low", fault="colour_scale_low"),
    DopplerHabitKind(key="colour_gain_up", title="keeps the colour gain high", fault="colour_gain_high"),
    DopplerHabitKind(key="paints_walls", title="lets colour cover the walls", fault="colour_write_over"),
    DopplerHabitKind(key="filter_off", title="scans colour with a low wall filter", fault="colour_flash"),
    DopplerHabitKind(key="gate_deep_or_shallow", title="does not set the gate at its place", fault="gate_misplaced"),
    DopplerHabitKind(key="beam_across", title="does not line the beam up with the flow", fault="beam_aslant"),
    DopplerHabitKind(key="baseline_forgotten", title="leaves the baseline where it was", fault="baseline_misplaced"),
    DopplerHabitKind(
        key="scale_forgotten", title="leaves the scale of faster flow", fault="spectral_scale_high"
    ),
    DopplerHabitKind(key="slow_sweep", title="keeps the sweep of the spectrum slow", fault="spectral_sweep_slow"),
    DopplerHabitKind(key="filter_high", title="keeps the wall filter high", fault="spectral_filter_high"),
    DopplerHabitKind(key="blooms", title="keeps the spectral gain high", fault="spectral_gain_high"),
    DopplerHabitKind(key="corrects_angle", title="corrects for an angle inside the heart", fault="angle_corrected"),
)  # fmt: skip
# What only the hands of ring C do, besides the above: another mix than the one that causes are weighed on.
SHIFTED_DOPPLER_HABITS = (
    DopplerHabitKind(key="scale_of_jets", title="keeps the colour scale of fast jets", fault="colour_scale_high"),
    DopplerHabitKind(key="colour_gain_down", title="keeps the colour gain low", fault="colour_gain_low"),
    DopplerHabitKind(key="long_packets", title="keeps long packets in colour", fault="colour_frame_rate_low"),
    DopplerHabitKind(key="scale_of_veins_in_spectra", title="keeps the spectral scale low", fault="spectral_scale_low"),
    DopplerHabitKind(key="filter_low", title="keeps the wall filter of spectra low", fault="spectral_filter_low"),
    DopplerHabitKind(key="faint", title="keeps the spectral gain low", fault="spectral_gain_low"),
    DopplerHabitKind(key="neighbour", title="takes the next valve's flow for the one it wants", fault="wrong_signal"),
    DopplerHabitKind(key="strip_alone", title="stores spectra without their picture", fault="no_guide"),
)  # fmt: skip
DOPPLER_HABIT_KINDS = {kind.key: kind for kind in (*DOPPLER_HABITS, *SHIFTED_DOPPLER_HABITS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerHand:
    """One hand at the Doppler knobs on one day."""

    habits: tuple[Habit, ...]
    slip_fraction: float  # of the rungs, how many hold a fault that no habit explains
    slip_strengths: tuple[int, ...]
    missing_fraction: float  # of the rungs, how many are not stored


# Engineering judgement, as for the hand: habits, slips and gaps are those of its level; Doppler is learned later, so
# more of it is left out.
_N_HABITS = {HandLevel.NOVICE: (2, 4), HandLevel.IMPROVING: (1, 2), HandLevel.STEADY: (0, 0)}
_STRENGTHS = {HandLevel.NOVICE: (3, 4, 5), HandLevel.IMPROVING: (2, 3), HandLevel.STEADY: (1,)}
_SLIPS = {HandLevel.NOVICE: 0.35, HandLevel.IMPROVING: 0.18, HandLevel.STEADY: 0.02}
_MISSING = {HandLevel.NOVICE: 0.25, HandLevel.IMPROVING: 0.1, HandLevel.STEADY: 0.0}
_SHARE = (0.7, 0.95)


def draw_doppler_hand(level: HandLevel, rng: np.random.Generator, *, is_shifted: bool = False) -> DopplerHand:
    """Draw what one hand does at the Doppler knobs. No two of its habits turn the same knob.

    With `is_shifted` (ring C) habits of another list come first.
    """
    low, high = _N_HABITS[level]
    chosen: list[DopplerHabitKind] = []
    first = (
        [SHIFTED_DOPPLER_HABITS[int(index)] for index in rng.permutation(len(SHIFTED_DOPPLER_HABITS))][:2]
        if is_shifted
        else []
    )
    for kind in (*first, *(DOPPLER_HABITS[int(index)] for index in rng.permutation(len(DOPPLER_HABITS)))):
        if all(DOPPLER_FAULTS[kind.fault].knob != DOPPLER_FAULTS[other.fault].knob for other in chosen):
            chosen.append(kind)
    n = int(rng.integers(low, high + 1))
    habits = tuple(
        Habit(key=kind.key, strength=int(rng.choice(_STRENGTHS[level])), share_fraction=float(rng.uniform(*_SHARE)))
        for kind in chosen[:n]
    )
    return DopplerHand(
        habits=habits,
        slip_fraction=_SLIPS[level],
        slip_strengths=_STRENGTHS[level],
        missing_fraction=_MISSING[level],
    )


def with_doppler_faults(
    clip: DopplerClip, flow: ModelFlow, hand: DopplerHand, rng: np.random.Generator
) -> tuple[DopplerClip, MadeFaults]:
    """Return the clip with what this hand's habits and slips do to its Doppler, and those faults."""
    faults: list[tuple[Fault, str]] = []
    knobs: set[str] = set()

    def add(key: str, strength: int, habit: str) -> None:
        nonlocal clip
        kind = doppler_kind(key)
        if kind.knob in knobs or not kind.fits(clip):
            return
        fault = kind.make(strength, flow.animal, rng)
        try:
            clip = apply_doppler(fault, clip, flow)
        except ValueError:
            return  # no skin, no other flow or no room in this picture: this hand stops short of it
        knobs.add(kind.knob)
        faults.append((fault, habit))

    for habit in hand.habits:
        shows = rng.random() < habit.share_fraction
        wobble = int(rng.choice((-1, 0, 0, 1)))
        if shows:
            add(DOPPLER_HABIT_KINDS[habit.key].fault, int(np.clip(habit.strength + wobble, 1, 5)), habit.key)
    if rng.random() < hand.slip_fraction:
        kinds = fitting_doppler(clip, knobs)
        slip = kinds[int(rng.integers(len(kinds)))]
        add(slip.key, int(rng.choice(hand.slip_strengths)), "")
    return clip, tuple(faults)
