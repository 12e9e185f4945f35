"""A whole examination before any picture is made: which clips in which order, and what the hand does wrongly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.blood.circulation import Circulation, draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.movements import Movement
from fanlight.heart.rhythm import Arrhythmia
from fanlight.reference.plans import Plan
from fanlight.simulate.clip.clip_setting import ClipSetting, Drift, Recording
from fanlight.simulate.clip.ring import Ring, ring_of
from fanlight.simulate.clip.shifted import Generator, generator_of
from fanlight.simulate.dicom.patient_facts import ExaminationFacts
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.steady.doppler_aim import model_flow
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.visit.doppler_hand import DopplerHand, draw_doppler_hand
from fanlight.simulate.visit.doppler_rungs import Beside, MissingRung
from fanlight.simulate.visit.doppler_scan import DopplerVisit, with_rungs
from fanlight.simulate.visit.hand import Hand, draw_hand
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.practice import draw_facts
from fanlight.simulate.visit.shot import Shot, scattered, start_ms, with_faults
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
BETWEEN_S = (12.0, 75.0)  # from clip to clip; engineering judgement: half an hour for thirty clips at most


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
    circulation: Circulation | None = None  # with Doppler only, as the two below
    doppler_hand: DopplerHand | None = None
    missing_rungs: tuple[MissingRung, ...] = ()  # of the views that are stored


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
    doppler: bool = False,
    beside: Sequence[Beside] = (),
) -> Examination:
    """Return the examination that belongs to a seed: the same arguments give the same examination.

    Parameters
    ----------
    seed : int
        0 to 19 999; see `ring.py`.
    plan : Plan
        The house's plan: its views in its order, M-mode where it asks for one, with `doppler` its rungs.
    species, weight_kg, heart, chest, arrhythmia
        The animal.
    hand : HandLevel
        Whose habits are drawn.
    ring : Ring, optional
        Ring C makes the animal, the machine and the screens with another generator.
    doppler : bool
        Whether the rungs of the ladder follow the pictures of their views. Pictures and M-modes of a seed are the same
        with them and without, but for their numbers and times.
    beside : sequence of Beside
        With `doppler`: spectra that are stored though the plan does not ask for them; see `spectra_beside`.

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
    plain = Examination(
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
    return _with_doppler(plain, plan, tuple(beside)) if doppler else plain


def _with_doppler(plain: Examination, plan: Plan, beside: tuple[Beside, ...]) -> Examination:
    """Return the examination with blood that flows, and the rungs that its hand stores."""
    # A stream of its own: what is drawn here moves nothing else.
    rng = np.random.default_rng([plain.seed, 11, ord(plain.ring.value)])
    circulation = draw_circulation(plain.animal, rng)
    doppler_hand = draw_doppler_hand(plain.hand.level, rng, is_shifted=plain.ring is Ring.C)
    visit = DopplerVisit(
        animal=plain.animal,
        circulation=circulation,
        flow=model_flow(plain.animal, circulation),
        hand=plain.hand,
        doppler_hand=doppler_hand,
        beside=beside,
    )
    shots, missing = with_rungs(visit, plan.steps, plain.shots, rng)
    return replace(plain, shots=shots, circulation=circulation, doppler_hand=doppler_hand, missing_rungs=missing)


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
    setting, scatter = scattered(animal, standard, hand, rng)
    setting, faults = with_faults(animal, setting, hand, rng, is_sweep=wish.is_sweep)
    return Shot(
        number=number,
        standard=standard,
        setting=setting,
        scatter=scatter,
        faults=faults,
        start_ms=start_ms(animal, setting, rng, waits=rng.random() < hand.waits_fraction),
        since_start_s=clock_s,
        is_sweep=wish.is_sweep,
    )
