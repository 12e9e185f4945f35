"""What simulated hearts and their spectra give, as one hash a thing: held against other code by `scripts.carry_over`.

python measure/_same_heart.py     prints a JSON object, name: SHA-256

Every class of heart, both species, all three rings (C bends and turns the heart); asked for what the measurements draw
from it: tissue, borders and places at rest; how solid parts and blood move; landmarks and axes; chest; the scene before
a probe; whole pictures; whole spectra of all modes, as recordings ask for them, with lung or a rib in the way, and with
a probe that moves.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
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
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import beats
from fanlight.heart.sampled import Sampled
from fanlight.heart.thorax import sample_thorax
from fanlight.simulate.clip.clip_setting import ClipSetting, Cover, Obstacle
from fanlight.simulate.clip.picture import scene_of as scene_before
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import BeforeFilm
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.spectral.spectral_strip import render_spectrum
from fanlight.study import Mode
from measure._criterion_clips import BeamStore, Stand, Subject, draw_subject, views_of
from measure._hash_of import hash_of

# Seven seeds in turn are the seven classes of heart; none of them is measured anywhere.
FIRST_SEEDS = {Ring.A: 9000, Ring.B: 14900, Ring.C: 19900}
N_SUBJECTS = 7
N_POINTS, GRID = 4000, (60, 60)
START_MS, MOMENTS_MS = 300.0, (20.0, 170.0, 333.0, 480.0)
PICTURES = 2  # views a subject, two frames each
BREATHS = (0.0, 0.02, 0.5, 1.0, 1.6, 0.5)  # the last asked for before, at the same points
# Of spectra, in turn with the subjects; views in which a beam down the middle meets valves, chambers, walls and lung.
SPECTRAL_VIEWS = (
    "left_apical_four_chamber", "left_apical_five_chamber", "right_parasternal_short_axis_pulmonary_artery",
    "left_cranial_long_axis_aorta", "right_parasternal_long_axis_four_chamber",
)  # fmt: skip
MODES = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)
IN_THE_WAY: dict[str, tuple[Obstacle, ...]] = {
    "bare": (),
    "lung": (Obstacle(cover=Cover.LUNG, share_fraction=0.42, at_fraction=0.21),),  # a breath brings it over the middle
    "rib": (Obstacle(cover=Cover.RIB, share_fraction=0.2, at_fraction=0.5),),
    "before a film": (),
    "moving probe": (),
}
# Longer than what a beam remembers of the shapes gone by; of a probe that moves every moment is sliced.
LONG_COLUMNS, SHORT_COLUMNS, COLUMN_MS, ROWS, SPECTRUM_MS = 420, 90, 2.5, 160, 100.0
GATE_SHARES, CURSORS_DEG = (0.35, 0.5, 0.6, 0.75), (0.0, -8.0, 8.0)


def hashes() -> dict[str, str]:
    """Return the hash of everything, by name."""
    found: dict[str, str] = {}
    for ring, first in FIRST_SEEDS.items():
        for seed in range(first, first + N_SUBJECTS):
            subject = draw_subject(seed, ring)
            where = f"ring {ring.value} {seed}, {subject.animal.species.value}, {subject.animal.heart.value}"
            found.update({f"{where}: {what}": hash_of(parts) for what, parts in _of_subject(subject)})
    return found


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
        yield f"scene, {at_ms:.0f} ms", _sliced(scene_of(animal).moving(state, *grid))
    still = scene_of(animal).still
    assert still is not None
    asked = [(breath, places) for breath in BREATHS for places in ((*points,), (*grid,))]
    asked += [(breath, (*points,)) for breath in BREATHS]
    yield "chest of the scene", [part for breath, places in asked for part in _sliced(still(breath, *places))]
    yield from _spectra(subject)
    for view in views_of(subject.seed)[:PICTURES]:
        stand = Stand(subject, view, BeamStore(None))
        film = stand.film(stand.good, frames_a_beat=2.0)
        yield f"picture, {view}", [stand.clip(stand.good, film, "good").frames]


def _spectra(subject: Subject) -> Iterator[tuple[str, list[Any]]]:
    """Yield the strips of a subject in each mode, each met in another way."""
    ways = list(IN_THE_WAY)
    for k, mode in enumerate(MODES):
        turn = subject.seed + 2 * k
        way, view = ways[turn % len(ways)], SPECTRAL_VIEWS[subject.seed % len(SPECTRAL_VIEWS)]
        stand = Stand(subject, view, BeamStore(None))
        setting = replace(stand.good, obstacles=IN_THE_WAY[way])
        yield f"spectrum, {view}, {mode.value}, {way}", _strip(subject, setting, mode, way, turn)


def _strip(subject: Subject, setting: ClipSetting, mode: Mode, way: str, turn: int) -> list[Any]:
    animal, console = subject.animal, setting.console
    moves = way == "moving probe"
    n_columns = SHORT_COLUMNS if moves or mode is not Mode.PULSED_WAVE else LONG_COLUMNS
    length_ms = n_columns * COLUMN_MS + 3 * SPECTRUM_MS
    run = beats(animal.rhythm, subject.start_ms + length_ms + 1000.0)
    circulation = draw_circulation(animal, np.random.default_rng([subject.seed, 1]))
    body = moving_body(animal, circulation, run, start_ms=subject.start_ms, duration_ms=length_ms)
    early_ms = SPECTRUM_MS if way == "before a film" else 0.0
    strip = render_spectrum(
        scene_before(animal, setting), BeforeFilm(body=body, lead_ms=early_ms) if early_ms else body,
        _shaken(setting.pose) if moves else setting.pose, setting.probe, console,
        _spectral(setting, mode, turn),
        lambda time_ms: state_at(animal.rhythm, run, subject.start_ms + early_ms + time_ms),
        np.random.default_rng(subject.seed), rows=ROWS, n_columns=n_columns, column_ms=COLUMN_MS,
        start_ms=1.5 * SPECTRUM_MS - early_ms, table=subject.generator.table(),
    )  # fmt: skip
    return [strip.levels, strip.density]


def _spectral(setting: ClipSetting, mode: Mode, turn: int) -> SpectralSetting:
    """Return a usual setting with its gate now nearer, now further, on the middle beam or beside it."""
    console = setting.console
    frequency = max(0.65 * console.frequency_mhz, setting.probe.low_mhz)
    depth = GATE_SHARES[turn % len(GATE_SHARES)] * console.depth_mm
    pulsed = SpectralSetting(
        mode=Mode.PULSED_WAVE, frequency_mhz=frequency, gate_depth_mm=depth,
        scale_cm_s=highest_scale_cm_s(depth, 2.0, frequency), cursor_deg=CURSORS_DEG[turn % len(CURSORS_DEG)],
    )  # fmt: skip
    if mode is Mode.CONTINUOUS_WAVE:
        return replace(pulsed, mode=mode, scale_cm_s=400.0, wall_filter_cm_s=30.0)
    return pulsed if mode is Mode.PULSED_WAVE else replace(pulsed, mode=mode, scale_cm_s=20.0)


def _shaken(pose: Pose) -> Callable[[float], Pose]:
    """Return a hand that slides to and fro by 2 mm."""
    return lambda time_ms: replace(pose, origin_mm=pose.origin_mm + 2.0 * np.sin(time_ms / 100.0) * pose.x)


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
