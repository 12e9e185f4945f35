"""A whole examination before any picture is made: which clips in which order, and what the hand does wrongly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement, moved
from fanlight.heart.rhythm import Arrhythmia, breath_at
from fanlight.reference.plans import Plan
from fanlight.simulate.clip_setting import ClipSetting, Drift, Recording
from fanlight.simulate.console import Console
from fanlight.simulate.fault import Fault, body_scale
from fanlight.simulate.faults import FAULTS, apply, fitting, make
from fanlight.simulate.hand import HABIT_KINDS, Hand, draw_hand, in_scope
from fanlight.simulate.hand_level import HandLevel
from fanlight.simulate.patient_facts import ExaminationFacts
from fanlight.simulate.practice import draw_facts
from fanlight.simulate.probe import Probe
from fanlight.simulate.ring import Ring, ring_of
from fanlight.simulate.screen_layout import Layout
from fanlight.simulate.shifted import Generator, generator_of
from fanlight.simulate.steady import steady_setting
from fanlight.study import Mode, Species

FEWEST, MOST = 25, 45  # stills and clips of a whole examination
SWEEP_VIEW = "right_parasternal_short_axis_chordae"
SWEEP_DEG = 34.0  # of tilt, apex to heart base
SWEEP_BEATS = 5.0
# Views of which a still is stored beside the clip, for a measurement. Common practice, no source.
MEASURED_ON_STILLS = (
    "right_parasternal_long_axis_four_chamber",
    "right_parasternal_long_axis_outflow",
    "right_parasternal_short_axis_aorta",
    "left_apical_four_chamber",
)
LATEST_START_MS = 15_000.0  # some breaths to choose from
N_STARTS = 60  # of moments to press the key
BETWEEN_S = (12.0, 75.0)  # from clip to clip; engineering judgement: half an hour for thirty clips at most


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterStep:
    """One small movement that every hand adds."""

    movement: Movement
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One still or clip of the examination."""

    number: int  # from 1, in the order of acquisition
    standard: ClipSetting  # without fault or scatter
    setting: ClipSetting
    scatter: tuple[ScatterStep, ...]
    faults: tuple[tuple[Fault, str], ...]  # with the key of the habit that made it, "" for a slip
    start_ms: float  # in the animal's rhythm
    since_start_s: float
    is_sweep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """An invented visit, ready to be scanned."""

    seed: int
    ring: Ring
    animal: Animal
    hand: Hand
    plan: str
    facts: ExaminationFacts
    layout: Layout
    generator: Generator
    shots: tuple[Shot, ...]
    missing_views: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Wish:
    view: str
    mode: Mode = Mode.TWO_D
    is_still: bool = False
    is_sweep: bool = False


def draw_examination(
    *,
    seed: int,
    plan: Plan,
    species: Species,
    weight_kg: float,
    heart: HeartClass,
    chest: Chest,
    hand: HandLevel,
    ring: Ring | None = None,
    arrhythmia: Arrhythmia = "sinus",
) -> Examination:
    """Return the examination that belongs to a seed: the same arguments give the same examination.

    Parameters
    ----------
    seed : int
        0 to 19 999; see `ring.py`.
    plan : Plan
        The house's plan: its views in its order, M-mode where it asks for one. Doppler is not simulated.
    species, weight_kg, heart, chest, arrhythmia
        The animal.
    hand : HandLevel
        Whose habits are drawn.
    ring : Ring, optional
        Ring C makes the animal, the machine and the screens with another generator.

    Raises
    ------
    SeedError
        If the seed belongs to no ring, or to another one.
    """
    own_ring = ring_of(seed, ring)
    rng = np.random.default_rng([seed, 3, ord(own_ring.value)])
    generator = generator_of(own_ring, species, weight_kg, rng)
    animal = generator.shape(
        draw_animal(species=species, weight_kg=weight_kg, heart=heart, chest=chest, seed=seed, arrhythmia=arrhythmia)
    )
    drawn_hand = draw_hand(hand, rng, is_shifted=own_ring is Ring.C)
    views = [step.view for step in plan.steps]
    missing = tuple(view for view in views if rng.random() < drawn_hand.missing_fraction)
    wishes = _wishes(plan, missing, drawn_hand, rng)
    shots: list[Shot] = []
    clock_s = 60.0  # until the leads are on and the probe is on the skin
    standards: dict[_Wish, ClipSetting] = {}
    for number, wish in enumerate(wishes, start=1):
        if wish not in standards:
            standards[wish] = _standard(animal, wish, generator.probe, generator.console)
        shots.append(_shoot(animal, number, wish, standards[wish], drawn_hand, clock_s, rng))
        clock_s += float(rng.uniform(*BETWEEN_S))
    return Examination(
        seed=seed,
        ring=own_ring,
        animal=animal,
        hand=drawn_hand,
        plan=plan.key,
        facts=draw_facts(seed=seed, species=species, weight_kg=weight_kg),
        layout=generator.layout,
        generator=generator,
        shots=tuple(shots),
        missing_views=missing,
    )


def _wishes(plan: Plan, missing: Sequence[str], hand: Hand, rng: np.random.Generator) -> list[_Wish]:
    """Return what the hand sets out to store, in order: the plan's views, repeats, M-modes, stills and a sweep."""
    wishes: list[_Wish] = []
    swept = False
    for step in plan.steps:
        if step.view.startswith("right_parasternal_short_axis") and not swept:
            wishes.append(_Wish(SWEEP_VIEW, is_sweep=True))
            swept = True
        if step.view in missing:
            continue
        wishes.append(_Wish(step.view))
        if rng.random() < hand.repeat_fraction:
            wishes.append(_Wish(step.view))
        if step.view in MEASURED_ON_STILLS:
            wishes.append(_Wish(step.view, is_still=True))
        if step.m_mode:
            wishes.append(_Wish(step.view, Mode.M_MODE))
            wishes.append(_Wish(step.view, Mode.M_MODE, is_still=True))
    # A short plan is scanned more than once, each repeat behind its first clip.
    clips = [wish for wish in wishes if not (wish.is_sweep or wish.is_still)]
    while len(wishes) < FEWEST and clips:
        again = clips[int(rng.integers(len(clips)))]
        wishes.insert(wishes.index(again) + 1, again)
    return wishes[:MOST]


def _standard(animal: Animal, wish: _Wish, probe: Probe, console: Console) -> ClipSetting:
    recording = Recording(is_still=wish.is_still, beats=SWEEP_BEATS if wish.is_sweep else Recording().beats)
    setting = steady_setting(animal, wish.view, mode=wish.mode, probe=probe, console=console, recording=recording)
    if wish.is_sweep:
        # Towards +y is towards the apex in the short axis: from there to the base.
        setting = replace(setting, drifts=(Drift(movement=Movement.TILT, amount=-SWEEP_DEG),))
    return setting


def _shoot(
    animal: Animal,
    number: int,
    wish: _Wish,
    standard: ClipSetting,
    hand: Hand,
    clock_s: float,
    rng: np.random.Generator,
) -> Shot:
    setting, scatter = _scattered(animal, standard, hand, rng)
    faults: list[tuple[Fault, str]] = []
    knobs: set[str] = {"drift"} if wish.is_sweep else set()

    def add(fault_key: str, strength: int, habit: str) -> None:
        nonlocal setting
        kind = FAULTS[fault_key]
        if kind.knob in knobs or not kind.fits(setting):
            return
        fault = make(fault_key, strength, animal, rng)
        try:
            setting = apply(fault, setting, animal)
        except ValueError:
            return  # the skin ends before the probe is there: this hand stops short of it
        knobs.add(kind.knob)
        faults.append((fault, habit))

    for habit in hand.habits:
        habit_kind = HABIT_KINDS[habit.key]
        shows = rng.random() < habit.share_fraction
        wobble = int(rng.choice((-1, 0, 0, 1)))
        if shows and in_scope(habit_kind, wish.view, wish.mode is Mode.M_MODE):
            add(habit_kind.fault, int(np.clip(habit.strength + wobble, 1, 5)), habit.key)
    if rng.random() < hand.slip_fraction:
        kinds = fitting(setting, knobs)
        slip = kinds[int(rng.integers(len(kinds)))]
        add(slip.key, int(rng.choice(hand.slip_strengths)), "")
    return Shot(
        number=number,
        standard=standard,
        setting=setting,
        scatter=scatter,
        faults=tuple(faults),
        start_ms=_start_ms(animal, setting, rng, waits=rng.random() < hand.waits_fraction),
        since_start_s=clock_s,
        is_sweep=wish.is_sweep,
    )


def _start_ms(animal: Animal, setting: ClipSetting, rng: np.random.Generator, *, waits: bool) -> float:
    """Return when in the animal's rhythm a clip begins: at any moment, or so that it lies in the expiratory pause."""
    starts = np.sort(rng.uniform(0, LATEST_START_MS, N_STARTS))
    if not waits:
        return float(starts[N_STARTS // 2])
    beats = 0.5 if setting.recording.is_still else setting.recording.beats
    moments = np.linspace(0, beats * 60_000.0 / animal.rhythm.rate_bpm, 9)
    drawn_in = [[breath_at(animal.rhythm, float(start + t)) for t in moments] for start in starts]
    return float(min(zip(drawn_in, starts, strict=True), key=lambda pair: (round(max(pair[0]), 2), sum(pair[0])))[1])


def _scattered(
    animal: Animal, setting: ClipSetting, hand: Hand, rng: np.random.Generator
) -> tuple[ClipSetting, tuple[ScatterStep, ...]]:
    s = hand.scatter
    steps = (
        ScatterStep(movement=Movement.SLIDE, amount=float(rng.normal(0, s.slide_mm)) * body_scale(animal), unit="mm"),
        ScatterStep(movement=Movement.ROTATE, amount=float(rng.normal(0, s.rotate_deg)), unit="deg"),
        ScatterStep(movement=Movement.TILT, amount=float(rng.normal(0, s.tilt_deg)), unit="deg"),
        ScatterStep(movement=Movement.ROCK, amount=float(rng.normal(0, s.rock_deg)), unit="deg"),
    )
    pose = setting.pose
    kept: list[ScatterStep] = []
    for step in steps:
        try:
            pose = moved(animal, pose, step.movement, step.amount)
        except ValueError:
            continue  # no skin that way
        kept.append(step)
    console = setting.console
    factor = float(np.clip(rng.normal(1, s.focus_fraction), 0.7, 1.3))
    console = replace(
        console,
        gain_db=float(np.clip(console.gain_db + rng.normal(0, s.gain_db), -60, 60)),
        focus_mm=float(np.clip(console.focus_mm * factor, 2.0, 400.0)),
    )
    return replace(setting, pose=pose, console=console), tuple(kept)
