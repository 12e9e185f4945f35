"""The hand that scans: a few habits that show in many clips, slips that show in one, and scatter that shows in all."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum

import numpy as np

from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand_level import HandLevel


class Scope(StrEnum):
    """In which clips a habit can show."""

    EVERYWHERE = "every clip"
    RIGHT_LONG = "right parasternal long axis"
    RIGHT_SHORT = "right parasternal short axis"
    RIGHT = "right parasternal"
    APICAL = "left apical"
    M_MODE = "M-mode"


@dataclass(frozen=True, slots=True, kw_only=True)
class HabitKind:
    """One thing that a hand does wrongly again and again: one cause, one fault, in many clips."""

    key: str
    title: str
    fault: str  # key of the fault that it makes
    scope: Scope


# Common practice, no source: what mentors say that they correct most. Each cause makes the same fault wherever its
# scope lets it, so that the fewest causes which explain a study are known.
HABITS = (
    HabitKind(key="contact_too_ventral", title="puts the probe too far ventral", fault="slide_ventral",
              scope=Scope.RIGHT),
    HabitKind(key="contact_too_dorsal", title="puts the probe too far dorsal", fault="slide_dorsal", scope=Scope.RIGHT),
    HabitKind(key="space_too_cranial", title="scans from one space too cranial", fault="space_cranial",
              scope=Scope.RIGHT),
    HabitKind(key="turns_too_little", title="stops short of the full turn to short axis",
              fault="rotate_counterclockwise", scope=Scope.RIGHT_SHORT),
    HabitKind(key="turns_too_far", title="turns past the plane", fault="rotate_clockwise", scope=Scope.RIGHT),
    HabitKind(key="beam_to_viewer", title="tilts the beam to the viewer's side", fault="tilt_plus",
              scope=Scope.RIGHT_LONG),
    HabitKind(key="aims_towards_base", title="looks too far towards the base", fault="level_towards_base",
              scope=Scope.RIGHT_SHORT),
    HabitKind(key="leaves_apex", title="stands off the apex", fault="foreshortened", scope=Scope.APICAL),
    HabitKind(key="rocks_off_centre", title="leaves the target beside the middle", fault="off_centre",
              scope=Scope.EVERYWHERE),
    HabitKind(key="gain_high", title="keeps the gain high", fault="gain_high", scope=Scope.EVERYWHERE),
    HabitKind(key="gain_low", title="keeps the gain low", fault="gain_low", scope=Scope.EVERYWHERE),
    HabitKind(key="focus_forgotten", title="leaves the focus near the probe", fault="focus_shallow",
              scope=Scope.EVERYWHERE),
    HabitKind(key="depth_forgotten", title="leaves the depth of a larger animal", fault="depth_large",
              scope=Scope.EVERYWHERE),
    HabitKind(key="sector_wide", title="leaves the sector wide", fault="sector_wide", scope=Scope.EVERYWHERE),
    HabitKind(key="slider_forgotten", title="leaves a slider out of line", fault="tgc_slider", scope=Scope.EVERYWHERE),
    HabitKind(key="edge_lifted", title="lifts one edge of the probe", fault="contact_lifted", scope=Scope.RIGHT),
    HabitKind(key="stores_too_short", title="stores too few beats", fault="few_beats", scope=Scope.EVERYWHERE),
    HabitKind(key="no_leads", title="scans without ECG leads", fault="no_ecg", scope=Scope.EVERYWHERE),
    HabitKind(key="fundamental", title="scans without harmonics", fault="near_field_clutter", scope=Scope.EVERYWHERE),
    HabitKind(key="cursor_beside", title="sets the cursor beside the middle", fault="cursor_off_centre",
              scope=Scope.M_MODE),
)  # fmt: skip
# What only the hands of ring C do, besides the above: another mix of faults than the one that causes were weighed on.
SHIFTED_HABITS = (
    HabitKind(key="space_too_caudal", title="scans from one space too caudal", fault="space_caudal", scope=Scope.RIGHT),
    HabitKind(key="beam_from_viewer", title="lets the beam sink behind the plane", fault="tilt_minus",
              scope=Scope.RIGHT_LONG),
    HabitKind(key="aims_towards_apex", title="stays too near the apex", fault="level_towards_apex",
              scope=Scope.RIGHT_SHORT),
    HabitKind(key="rocks_to_marker", title="rocks the beam towards the marker", fault="rock_plus",
              scope=Scope.EVERYWHERE),
    HabitKind(key="far_dark", title="turns the deep sliders down", fault="far_field_loss", scope=Scope.EVERYWHERE),
    HabitKind(key="frequency_of_large_dogs", title="leaves the frequency of larger animals", fault="frequency_low",
              scope=Scope.EVERYWHERE),
    HabitKind(key="little_gel", title="takes too little gel", fault="contact_dry", scope=Scope.EVERYWHERE),
    HabitKind(key="probe_slips", title="lets the probe slip while storing", fault="drift_during_clip",
              scope=Scope.RIGHT),
    HabitKind(key="heavy_persistence", title="keeps much persistence", fault="persistence_heavy",
              scope=Scope.EVERYWHERE),
)  # fmt: skip
HABIT_KINDS = {kind.key: kind for kind in (*HABITS, *SHIFTED_HABITS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """A habit as one hand has it."""

    key: str
    strength: int  # 1 to 5, of the fault that it makes
    share_fraction: float  # of the clips in its scope, how many show it


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """One standard deviation of the small errors that are in every clip; too small to be called faults."""

    slide_mm: float  # in an animal of 10 kg
    rotate_deg: float
    tilt_deg: float
    rock_deg: float
    gain_db: float
    focus_fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """One hand on one day."""

    level: HandLevel
    habits: tuple[Habit, ...]
    scatter: Scatter
    slip_fraction: float  # of the clips, how many hold a fault that no habit explains
    slip_strengths: tuple[int, ...]
    missing_fraction: float  # of the views of the plan, how many are not stored
    repeat_fraction: float  # of the views, how many are stored once more
    waits_fraction: float  # of the clips, for how many the hand waits until the animal has breathed out


# Engineering judgement for all numbers below: the steady hand stays inside what a mentor lets pass, the novice's median
# fault is plain to see. Acquisition scatter of trained observers on dogs is 9 % (M-mode) to 22 % (2-D) of a
# measurement's value; these poses were not fitted to that.
_SCATTER = {
    HandLevel.NOVICE: Scatter(
        slide_mm=2.0, rotate_deg=4.0, tilt_deg=2.5, rock_deg=4.0, gain_db=3.0, focus_fraction=0.12
    ),
    HandLevel.IMPROVING: Scatter(
        slide_mm=1.3, rotate_deg=2.5, tilt_deg=1.6, rock_deg=2.5, gain_db=2.0, focus_fraction=0.08
    ),
    HandLevel.STEADY: Scatter(
        slide_mm=0.6, rotate_deg=1.2, tilt_deg=0.8, rock_deg=1.2, gain_db=1.2, focus_fraction=0.05
    ),
}
_N_HABITS = {HandLevel.NOVICE: (2, 3), HandLevel.IMPROVING: (1, 2), HandLevel.STEADY: (0, 0)}
_STRENGTHS = {HandLevel.NOVICE: (3, 4, 5), HandLevel.IMPROVING: (2, 3), HandLevel.STEADY: (1,)}
_SLIPS = {HandLevel.NOVICE: 0.25, HandLevel.IMPROVING: 0.12, HandLevel.STEADY: 0.02}
_MISSING = {HandLevel.NOVICE: 0.15, HandLevel.IMPROVING: 0.06, HandLevel.STEADY: 0.0}
_WAITS = {HandLevel.NOVICE: 0.4, HandLevel.IMPROVING: 0.75, HandLevel.STEADY: 0.97}
_SHARE, _SHIFTED_SHARE = (0.7, 0.95), (0.5, 0.95)
_REPEATS = {HandLevel.NOVICE: 0.5, HandLevel.IMPROVING: 0.35, HandLevel.STEADY: 0.2}


def draw_hand(level: HandLevel, rng: np.random.Generator, *, is_shifted: bool = False) -> Hand:
    """Draw one hand: which habits it has and how strongly.

    No two habits of a hand turn the same knob: a gain cannot be kept high and low, nor a probe stand in two places.
    With `is_shifted` (ring C) habits of another list come first, they show less evenly, and the scatter is another.
    """
    low, high = _N_HABITS[level]
    chosen: list[HabitKind] = []
    first = [SHIFTED_HABITS[int(index)] for index in rng.permutation(len(SHIFTED_HABITS))] if is_shifted else []
    for kind in (*first[:2], *(HABITS[int(index)] for index in rng.permutation(len(HABITS)))):
        if all(FAULTS[kind.fault].knob != FAULTS[other.fault].knob for other in chosen):
            chosen.append(kind)
    n = int(rng.integers(low, high + 1))
    habits = tuple(
        Habit(
            key=kind.key,
            strength=int(rng.choice(_STRENGTHS[level])),
            # A habit that never fails would be a defect of the machine.
            share_fraction=float(rng.uniform(*(_SHIFTED_SHARE if is_shifted else _SHARE))),
        )
        for kind in chosen[:n]
    )
    return Hand(
        level=level,
        habits=habits,
        scatter=_shifted_scatter(_SCATTER[level], rng) if is_shifted else _SCATTER[level],
        slip_fraction=_SLIPS[level],
        slip_strengths=_STRENGTHS[level],
        missing_fraction=_MISSING[level],
        repeat_fraction=_REPEATS[level],
        waits_fraction=_WAITS[level],
    )


def _shifted_scatter(scatter: Scatter, rng: np.random.Generator) -> Scatter:
    """Return the scatter of a hand of ring C: each part grown or shrunk for itself."""
    parts = {part.name: getattr(scatter, part.name) * float(rng.uniform(0.6, 1.6)) for part in fields(Scatter)}
    return Scatter(**parts)


def in_scope(kind: HabitKind, view: str, m_mode: bool) -> bool:
    """Whether a habit can show in a clip of this view."""
    match kind.scope:
        case Scope.EVERYWHERE:
            return True
        case Scope.M_MODE:
            return m_mode
        case Scope.RIGHT_LONG:
            return view.startswith("right_parasternal_long_axis")
        case Scope.RIGHT_SHORT:
            return view.startswith("right_parasternal_short_axis")
        case Scope.RIGHT:
            return view.startswith("right_parasternal")
        case Scope.APICAL:
            return view.startswith("left_apical")
