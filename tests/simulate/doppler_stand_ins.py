"""Animals with blood that flows and Doppler set for them, made once for the tests of Doppler studies."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fanlight.heart.animal import draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.simulate.clip.doppler_setting import DopplerClip, sought_at
from fanlight.simulate.steady.doppler_aim import ModelFlow, model_flow
from fanlight.simulate.steady.steady import steady_setting
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.simulate.visit.examination import Examination, draw_examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import Mode, Species, Valve

SEED, WEIGHT_KG = 6, 12.0


@lru_cache(maxsize=4)
def flow_of(heart: HeartClass = HeartClass.NORMAL) -> ModelFlow:
    """Return the flow of a dog."""
    animal = draw_animal(species=Species.DOG, weight_kg=WEIGHT_KG, heart=heart, chest=Chest.AVERAGE, seed=SEED)
    return model_flow(animal, draw_circulation(animal, np.random.default_rng(SEED)))


@lru_cache(maxsize=16)
def steady_clip(view: str, valve: Valve, mode: Mode, heart: HeartClass = HeartClass.NORMAL) -> DopplerClip:
    """Return a rung as a steady hand sets it."""
    flow = flow_of(heart)
    setting = steady_setting(flow.animal, view)
    sought = sought_at(flow.body.circulation, valve, mode)
    if mode is not Mode.COLOUR:
        setting = flow.tilted(setting, valve, sought, mode)
    return DopplerClip(clip=setting, doppler=steady_doppler(flow, setting, valve, mode, sought))


@lru_cache(maxsize=4)
def examination_of(heart: HeartClass, hand: HandLevel, plan: str, doppler: bool = True) -> Examination:
    """Return a whole examination of a dog."""
    return draw_examination(
        seed=SEED, plan=read_plans(load_house())[plan], species=Species.DOG, weight_kg=WEIGHT_KG, heart=heart,
        chest=Chest.AVERAGE, hand=hand, doppler=doppler,
    )  # fmt: skip
