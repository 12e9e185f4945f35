"""The field of a whole heart: what passes a ring in the field is what the table says, also before a narrow place."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanlight.heart.beat_timing import time_beat
from fanlight.heart.blood.blood_velocity import blood_velocity
from fanlight.heart.blood.flow_now import flow_now
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.layout import Layout, layout
from fanlight.heart.moving_body import MovingBody
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple, add
from fanlight.study import Species
from tests.heart.blood.bodies import body_of, whole_beat


def flux_mm3_s(
    body, at_ms: float, heart: Layout, centre: Triple, axis: Triple, radius_mm: float, tissue: Tissue
) -> float:
    """Flow through a disc across an axis, points spread evenly (golden angle)."""
    n = 3000
    k = np.arange(n) + 0.5
    rho, turn = radius_mm * np.sqrt(k / n), k * math.pi * (3.0 - math.sqrt(5.0))
    normal = np.asarray(axis)
    first = np.cross(normal, (0.0, 0.0, 1.0))
    first /= np.linalg.norm(first)
    second = np.cross(normal, first)
    points = np.asarray(centre) + rho[:, None] * (np.cos(turn)[:, None] * first + np.sin(turn)[:, None] * second)
    x, y, z = (np.ascontiguousarray(points[:, i], np.float32) for i in range(3))
    label = np.full(n, int(tissue), np.uint8)
    velocity, _ = blood_velocity(heart, body.circulation, flow_now(body.flows, at_ms), (x, y, z), label, np)
    along = sum(velocity[i] * normal[i] for i in range(3))
    return float(np.mean(along)) * math.pi * radius_mm**2


def at_peak(species: Species, weight_kg: float, kind: HeartClass, wave: str) -> tuple[MovingBody, float, Layout]:
    body = body_of(species, weight_kg, kind)
    _, beat = whole_beat(body)
    timing = time_beat(body.animal.rhythm, beat)
    inside = timing.aortic.peak_ms if wave == "aortic" else timing.mitral.early.peak_ms
    at = beat.onset_ms + inside
    return body, at, layout(body.animal.anatomy, state_at(body.animal.rhythm, body.beats, at))


@pytest.mark.parametrize("kind", [(Species.DOG, 12.0), (Species.DOG, 30.0), (Species.CAT, 4.0)])
def test_what_passes_the_aortic_ring_is_the_flow(kind: tuple[Species, float]) -> None:
    body, at, heart = at_peak(*kind, HeartClass.NORMAL, "aortic")
    root = heart.aorta.root
    found = flux_mm3_s(
        body,
        at,
        heart,
        add(root.centre, root.axis, 0.2 * root.length_mm),
        root.axis,
        1.3 * root.radius_at(0.0),
        Tissue.AORTA,
    )
    assert found == pytest.approx(body.flows.at("aortic", at), rel=0.06)


@pytest.mark.parametrize("kind", [(Species.DOG, 12.0), (Species.CAT, 4.0)])
def test_what_passes_the_mitral_ring_is_the_flow(kind: tuple[Species, float]) -> None:
    body, at, heart = at_peak(*kind, HeartClass.NORMAL, "mitral")
    valve = heart.mitral
    down: Triple = (-valve.up[0], -valve.up[1], -valve.up[2])
    found = flux_mm3_s(
        body, at, heart, add(valve.centre, down, 0.3 * valve.radius_mm), down, 1.3 * valve.radius_mm, Tissue.LV_CAVITY
    )
    assert found == pytest.approx(body.flows.at("mitral", at), rel=0.10)


def test_flow_before_a_ridge_is_counted_once() -> None:
    body, at, heart = at_peak(Species.DOG, 25.0, HeartClass.THICK_WALLS, "aortic")
    tract, root = heart.aorta.outflow, heart.aorta.root
    found = flux_mm3_s(body, at, heart, tract.start, root.axis, 1.5 * tract.start_mm, Tissue.LV_CAVITY)
    assert found == pytest.approx(
        body.flows.at("aortic", at), rel=0.2
    )  # the line is at a slant to the tract's axis here
