"""A whole examination cut down to what a test can wait for: few shots, few lines, part of a beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.visit.examination import Examination, draw_examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shot import Shot
from fanlight.study import Species

LINES, SAMPLES = 40, 128


def examination(
    seed: int = 6, hand: HandLevel = HandLevel.NOVICE, ring: Ring | None = None, plan: str = "full_right_side"
) -> Examination:
    """Return a whole one."""
    return draw_examination(
        seed=seed,
        plan=read_plans(load_house())[plan],
        species=Species.DOG,
        weight_kg=12.0,
        heart=HeartClass.NORMAL,
        chest=Chest.AVERAGE,
        hand=hand,
        ring=ring,
    )


def small(whole: Examination, numbers: Sequence[int], beats: float = 0.6) -> Examination:
    """Return the examination with some of its shots, each coarse and short; they keep their numbers."""
    shots = tuple(_small(shot, beats) for shot in whole.shots if shot.number in numbers)
    return replace(whole, shots=shots)


def _small(shot: Shot, beats: float) -> Shot:
    return replace(shot, setting=_coarse(shot.setting, beats), standard=_coarse(shot.standard, beats))


def _coarse(setting: ClipSetting, beats: float) -> ClipSetting:
    console = replace(setting.console, n_lines=LINES, n_samples=SAMPLES, n_foci=1, n_looks=1, lines_per_pulse=1)
    return replace(setting, console=console, recording=replace(setting.recording, beats=beats))
