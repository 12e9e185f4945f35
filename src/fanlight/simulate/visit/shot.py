"""One shot of an examination: its setting with scatter and faults, and the moment at which the key is pressed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.movements import Movement, moved
from fanlight.heart.rhythm import breath_at
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.doppler_setting import DopplerSetting
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.faults import FAULTS, apply, fitting, make
from fanlight.simulate.steady.doppler_aim import FlowPeak
from fanlight.simulate.visit.doppler_rungs import Why
from fanlight.simulate.visit.hand import HABIT_KINDS, Hand, in_scope
from fanlight.study import Mode

LATEST_START_MS = 15_000.0  # some breaths to choose from
N_STARTS = 60  # of moments to press the key

MadeFaults = tuple[tuple[Fault, str], ...]  # each with the key of the habit that made it, "" for a slip


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterStep:
    """One small movement that every hand adds."""

    movement: Movement
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerShot:
    """What a still or clip is beside its picture, where it is a rung of the Doppler ladder."""

    standard: DopplerSetting  # without a Doppler fault, on the picture as this hand has it
    setting: DopplerSetting
    why: Why
    peak: FlowPeak | None  # of the flow that is looked for, at a steady gate; None for colour
    heard: FlowPeak | None  # the fastest that this gate or line meets in a beat; None for colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One still or clip of the examination."""

    number: int  # from 1, in the order of acquisition
    standard: ClipSetting  # without fault or scatter
    setting: ClipSetting
    scatter: tuple[ScatterStep, ...]
    faults: MadeFaults
    start_ms: float  # in the animal's rhythm
    since_start_s: float
    is_sweep: bool = False
    doppler: DopplerShot | None = None

    @property
    def mode(self) -> Mode:
        """What the still or clip is made of."""
        return self.setting.mode if self.doppler is None else self.doppler.setting.mode


def with_faults(
    animal: Animal, setting: ClipSetting, hand: Hand, rng: np.random.Generator, *, is_sweep: bool = False
) -> tuple[ClipSetting, MadeFaults]:
    """Return the setting with what this hand's habits and slips do to it, and those faults."""
    faults: list[tuple[Fault, str]] = []
    knobs: set[str] = {"drift"} if is_sweep else set()

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
        if shows and in_scope(habit_kind, setting.view, setting.mode is Mode.M_MODE):
            add(habit_kind.fault, int(np.clip(habit.strength + wobble, 1, 5)), habit.key)
    if rng.random() < hand.slip_fraction:
        kinds = fitting(setting, knobs)
        slip = kinds[int(rng.integers(len(kinds)))]
        add(slip.key, int(rng.choice(hand.slip_strengths)), "")
    return setting, tuple(faults)


def start_ms(animal: Animal, setting: ClipSetting, rng: np.random.Generator, *, waits: bool) -> float:
    """Return when in the animal's rhythm a clip begins: at any moment, or so that it lies in the expiratory pause."""
    starts = np.sort(rng.uniform(0, LATEST_START_MS, N_STARTS))
    if not waits:
        return float(starts[N_STARTS // 2])
    beats = 0.5 if setting.recording.is_still else setting.recording.beats
    moments = np.linspace(0, beats * 60_000.0 / animal.rhythm.rate_bpm, 9)
    drawn_in = [[breath_at(animal.rhythm, float(start + t)) for t in moments] for start in starts]
    return float(min(zip(drawn_in, starts, strict=True), key=lambda pair: (round(max(pair[0]), 2), sum(pair[0])))[1])


def scattered(
    animal: Animal, setting: ClipSetting, hand: Hand, rng: np.random.Generator
) -> tuple[ClipSetting, tuple[ScatterStep, ...]]:
    """Return the setting with the small errors of this hand, and its movements."""
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
