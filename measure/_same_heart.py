"""What the simulated heart gives, as one hash a thing: held against the hashes of other code by `scripts.carry_over`.

python measure/_same_heart.py     prints a JSON object, name: SHA-256

Every class of heart, both species, all three rings (C bends and turns the heart); asked for what the measurements draw
from it: tissue, borders and places at rest; how solid parts and blood move; landmarks and axes; chest; whole pictures.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks, sample
from fanlight.heart.blood.blood_field import OPENINGS, blood_field
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.blood.flow_now import flow_now
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.layout import layout
from fanlight.heart.moving_body import moving_body
from fanlight.heart.rhythm import beats
from fanlight.heart.sampled import Sampled
from fanlight.heart.thorax import sample_thorax
from fanlight.simulate.clip.ring import Ring
from measure._criterion_clips import BeamStore, Stand, Subject, draw_subject, views_of

# Seven seeds in turn are the seven classes of heart; none of them is measured anywhere.
FIRST_SEEDS = {Ring.A: 9000, Ring.B: 14900, Ring.C: 19900}
N_SUBJECTS = 7
N_POINTS, GRID = 4000, (60, 60)
START_MS, MOMENTS_MS = 300.0, (20.0, 170.0, 333.0, 480.0)
PICTURES = 2  # views a subject, two frames each


def hashes() -> dict[str, str]:
    """Return the hash of everything, by name."""
    found: dict[str, str] = {}
    for ring, first in FIRST_SEEDS.items():
        for seed in range(first, first + N_SUBJECTS):
            subject = draw_subject(seed, ring)
            where = f"ring {ring.value} {seed}, {subject.animal.species.value}, {subject.animal.heart.value}"
            found.update({f"{where}: {what}": _hash(parts) for what, parts in _of_subject(subject)})
    return found


def _hash(parts: list[Any]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        array = np.ascontiguousarray(part)
        digest.update(f"{array.dtype} {array.shape} ".encode() + array.tobytes())
    return digest.hexdigest()


def _of_subject(subject: Subject) -> Iterator[tuple[str, list[Any]]]:
    animal = subject.animal
    run = beats(animal.rhythm, 2600.0)
    circulation = draw_circulation(animal, np.random.default_rng([subject.seed, 1]))
    body = moving_body(animal, circulation, run, start_ms=START_MS, duration_ms=1500.0)
    points = _points(subject)
    grid = points[:, : GRID[0] * GRID[1]].reshape(3, *GRID)
    for at_ms in MOMENTS_MS:
        state = state_at(animal.rhythm, run, START_MS + at_ms)
        for name, places in (("row", points), ("grid", grid)):
            yield f"slice, {name}, {at_ms:.0f} ms", _sliced(sample(animal, state, *places))
            moved = body(at_ms, *places)
            yield f"motion, {name}, {at_ms:.0f} ms", [*moved.velocity_mm_s, moved.unsteady_mm_s]
        tissue = sample(animal, state, *points).tissue
        flows = flow_now(body.flows, START_MS + at_ms)
        field = blood_field(layout(animal.anatomy, state), circulation, flows, OPENINGS, tuple(points), tissue)
        for opening, flow in field.items():
            jets = [part for jet in flow.jets for part in (jet.speed, jet.unsteady, jet.drawn) if part is not None]
            yield f"blood, {opening}, {at_ms:.0f} ms", [*([] if flow.stream is None else [flow.stream]), *jets]
        yield f"landmarks and axes, {at_ms:.0f} ms", _marks(animal, state)
        yield f"chest, {at_ms:.0f} ms", _sliced(sample_thorax(animal.thorax, state.breath, *points))
    for view in views_of(subject.seed)[:PICTURES]:
        stand = Stand(subject, view, BeamStore(None))
        film = stand.film(stand.good, frames_a_beat=2.0)
        yield f"picture, {view}", [stand.clip(stand.good, film, "good").frames]


def _points(subject: Subject) -> NDArray[np.float32]:
    """Return places (3, N_POINTS) in and about the heart, mm."""
    anatomy = subject.animal.anatomy
    own = np.random.default_rng(subject.seed).uniform(-1.2, 1.8, (N_POINTS, 3)) * anatomy.sizes.unit_mm
    frame = anatomy.frame
    return np.ascontiguousarray((own @ np.stack([frame.long, frame.front, frame.depth])).astype(np.float32).T)


def _sliced(seen: Sampled) -> list[Any]:
    return [seen.tissue, seen.edge_mm, *seen.material_mm]


def _marks(animal: Animal, state: CycleState) -> list[Any]:
    points, ways = animal_landmarks(animal, state), animal_axes(animal, state)
    return [*(points[name] for name in sorted(points)), *(ways[name] for name in sorted(ways))]


if __name__ == "__main__":
    print(json.dumps(hashes(), indent=0))
