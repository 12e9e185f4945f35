"""Animals with blood that flows, made once for all tests of this folder."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.moving_body import MovingBody, moving_body
from fanlight.heart.rhythm import Beat, beats
from fanlight.study import Species

DURATION_MS = 1400.0


@lru_cache(maxsize=16)
def body_of(species: Species, weight_kg: float, heart: HeartClass, seed: int = 3) -> MovingBody:
    animal = draw_animal(species=species, weight_kg=weight_kg, heart=heart, chest=Chest.AVERAGE, seed=seed)
    run = beats(animal.rhythm, DURATION_MS + 400.0)
    circulation = draw_circulation(animal, np.random.default_rng([seed, 1]))
    return moving_body(animal, circulation, run, start_ms=0.0, duration_ms=DURATION_MS)


def whole_beat(body: MovingBody) -> tuple[int, Beat]:
    """Return number and value of the first beat that lies wholly in the table."""
    index = next(k for k, beat in enumerate(body.beats) if beat.onset_ms >= 0.0)
    return index, body.beats[index]


def passed_ml(body: MovingBody, name: str) -> float:
    """Return the volume that passes an opening in one beat."""
    _, beat = whole_beat(body)
    times = body.flows.times_ms
    during = (times >= beat.onset_ms) & (times < beat.end_ms)
    values = getattr(body.flows, name)
    return float(np.trapezoid(values[during], times[during]) / 1000.0 / 1000.0)


__all__ = ["DURATION_MS", "Animal", "body_of", "passed_ml", "whole_beat"]
