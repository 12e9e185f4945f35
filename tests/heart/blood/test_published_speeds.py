"""Peak speeds of healthy animals where the trade measures them, on average within what is published.

Asked of the field at the moment of the highest flow, not of the drawn picture. Animals of ring A; one by one large dogs
lie above and slow hearts below.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks, draw_animal
from fanlight.heart.beat_timing import time_beat
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.moving_body import MovingBody, moving_body
from fanlight.heart.rhythm import Beat, beats
from fanlight.study import Species
from fanlight.study.landmark import Landmark
from tests.heart.blood.bodies import whole_beat

ANIMALS = 21  # of each species
WEIGHTS_KG = {Species.DOG: (5.0, 12.0, 35.0), Species.CAT: (3.0, 4.0, 5.5)}
GATE_MM = 1.5 * np.asarray([(0, 0, 0), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], np.float64)
PLACES = {
    "mitral E": (Landmark.MITRAL_SEPTAL_TIP, Landmark.MITRAL_PARIETAL_TIP),
    "aorta": (Landmark.AORTIC_CENTRE,),
    "pulmonary artery": (Landmark.PULMONIC_CENTRE,),
    "tricuspid E": (Landmark.TRICUSPID_CENTRE,),
}


def speed_m_s(body: MovingBody, at_ms: float, name: str) -> float:
    """Return the fastest in a gate about a place, m/s."""
    marks = animal_landmarks(body.animal, state_at(body.animal.rhythm, body.beats, at_ms))
    points = np.mean([marks[mark] for mark in PLACES[name]], axis=0) + GATE_MM
    x, y, z = (np.ascontiguousarray(points[:, axis], np.float32) for axis in range(3))
    velocity = np.asarray(body(at_ms - body.start_ms, x, y, z).velocity_mm_s)
    return float(np.linalg.norm(velocity, axis=0).max()) / 1000.0


def moments_ms(body: MovingBody, beat: Beat) -> dict[str, float]:
    """Return when the flow at each place is highest."""
    timing = time_beat(body.animal.rhythm, beat)
    inside = {
        "mitral E": timing.mitral.early.peak_ms, "aorta": timing.aortic.peak_ms,
        "pulmonary artery": timing.pulmonic.peak_ms, "tricuspid E": timing.tricuspid.early.peak_ms,
    }  # fmt: skip
    return {name: beat.onset_ms + at for name, at in inside.items()}


@lru_cache(maxsize=2)
def peaks_m_s(species: Species) -> dict[str, list[float]]:
    out: dict[str, list[float]] = {name: [] for name in PLACES}
    for seed in range(ANIMALS):
        weight = WEIGHTS_KG[species][seed % 3]
        animal = draw_animal(
            species=species, weight_kg=weight, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=200 + seed
        )
        run = beats(animal.rhythm, 1300.0)
        body = moving_body(
            animal, draw_circulation(animal, np.random.default_rng([seed, 5])), run, start_ms=0.0, duration_ms=700.0
        )
        _, beat = whole_beat(body)
        for name, at in moments_ms(body, beat).items():
            out[name].append(max(speed_m_s(body, at + shift, name) for shift in (-12.0, 0.0, 12.0)))
    return out


@pytest.mark.parametrize(
    ("species", "place", "low", "high"),
    [
        # 0.747 ± 2 · 0.117 m/s in 40 dogs (PEREIRA2009, doi 10.1590/S0100-736X2009000400003)
        (Species.DOG, "mitral E", 0.513, 0.981),
        # "normal 1 to 2 m/s" (UCDCASES, a teaching statement)
        (Species.DOG, "aorta", 1.0, 2.0),
        # from 1.6 m/s dogs were taken in for stenosis (FRANCIS2011, doi 10.1111/j.1748-5827.2011.01059.x)
        (Species.DOG, "pulmonary artery", 0.0, 1.6),
        # ranges of 53 cats (CATDOPPLER2012, doi 10.1016/j.jvc.2012.04.004)
        (Species.CAT, "mitral E", 0.43, 0.95),
        (Species.CAT, "aorta", 0.77, 1.40),
        (Species.CAT, "pulmonary artery", 0.65, 1.21),
        (Species.CAT, "tricuspid E", 0.37, 0.85),
    ],
)
def test_the_mean_of_healthy_animals_lies_within_what_is_published(
    species: Species, place: str, low: float, high: float
) -> None:
    found = peaks_m_s(species)[place]
    assert len(found) >= 20
    assert low < np.mean(found) < high
