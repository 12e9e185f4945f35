"""Clips on which the review of one code is held against that of another: 2-D, M-mode, spectra of blood, colour by maps.

They are drawn from seeds on which nothing is measured, by the code of today, and stored as consoles store them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.plans import read_plans
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.colour.colour_map import COLOUR_MAPS
from fanlight.simulate.colour.colour_setting import ColourSetting
from fanlight.simulate.visit.examination import Examination, draw_examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shoot import Wanted as Folders
from fanlight.simulate.visit.shoot import shoot
from fanlight.simulate.visit.shot import Shot
from fanlight.study import Mode, Species
from measure._doppler_bench import PLACES, Bench, Rung, draw_bench, steady_rung, wanted_of
from measure._doppler_clips import Camera
from measure._drawn_clips import Look
from measure.performance import write_clip

SEEDS = {Ring.A: 9100, Ring.B: 14_950, Ring.C: 19_950}
PLAN = "cardiology"  # asks for every mode
ANIMALS = {  # species, weight and heart: a screen and a console each
    Ring.A: (Species.DOG, 9.0, HeartClass.NORMAL),
    Ring.B: (Species.CAT, 4.2, HeartClass.THICK_WALLS),
    Ring.C: (Species.DOG, 31.0, HeartClass.LV_DILATED),
}
MOST = {
    Mode.TWO_D: 4,
    Mode.M_MODE: 1,
    Mode.COLOUR: 1,
    Mode.PULSED_WAVE: 2,
    Mode.CONTINUOUS_WAVE: 1,
}  # of an examination
MOST_STILLS = 1
N_ANIMALS = 20  # that are looked at for one whose valves are seen
# Longer than one chunk, and than what is kept of a clip for the network; the performance tables are of such clips.
DRAWN = {"plain": (40, Look()), "flow": (100, Look(has_flow=True)), "flow still": (1, Look(has_flow=True))}


def draw_clips(folder: Path) -> None:
    """Draw all clips into a folder."""
    for ring, seed in SEEDS.items():
        _draw_examination(ring, seed, folder / f"ring {ring.value}, examination")
        _draw_colour(ring, seed, folder / f"ring {ring.value}, colour")
    for number, (name, (n_frames, look)) in enumerate(DRAWN.items()):
        write_clip(folder / f"drawn, {name}.dcm", 9200 + number, n_frames, look)


def _draw_examination(ring: Ring, seed: int, folder: Path) -> None:
    species, weight_kg, heart = ANIMALS[ring]
    examination = draw_examination(
        seed=seed, plan=read_plans(load_house())[PLAN], species=species, weight_kg=weight_kg, heart=heart,
        chest=Chest.AVERAGE, hand=HandLevel.NOVICE, ring=ring, doppler=True,
    )  # fmt: skip
    study, truth = folder, folder.parent / "truth" / folder.name
    study.mkdir(parents=True)
    truth.mkdir(parents=True)
    for shot in _some_of_each(examination):
        shoot(examination, shot, Folders(study=study, truth=truth))


def _some_of_each(examination: Examination) -> Iterator[Shot]:
    """Yield a few clips of each mode, and stills."""
    left, stills = dict(MOST), MOST_STILLS
    for shot in examination.shots:
        is_still = shot.mode is Mode.TWO_D and shot.setting.recording.is_still
        if is_still and stills:
            stills -= 1
            yield shot
        elif not is_still and left.get(shot.mode, 0):
            left[shot.mode] -= 1
            yield shot


def _draw_colour(ring: Ring, seed: int, folder: Path) -> None:
    """Draw a colour clip without fault in every map, and one with each Doppler fault, maps in turn."""
    # Lung and ribs may hide every valve from a probe: then the next animal is looked at.
    bench, rung = next((bench, rung) for bench in _benches(ring, seed) for rung in _colour_rungs(bench))
    folder.mkdir(parents=True)
    camera, maps = Camera(bench, rung), sorted(COLOUR_MAPS)
    good, *faulty = wanted_of([rung])
    for map_key in maps:
        camera.store(replace(good, clip=_in_map(good.clip, map_key), rung=rung), _made(folder / map_key))
    for number, wanted in enumerate(faulty):
        camera.store(replace(wanted, clip=_in_map(wanted.clip, maps[number % len(maps)])), folder)


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder


def _benches(ring: Ring, seed: int) -> Iterator[Bench]:
    yield from (draw_bench(seed + k, ring) for k in range(N_ANIMALS))


def _colour_rungs(bench: Bench) -> Iterator[Rung]:
    rungs = (steady_rung(bench, 0, view, valve, Mode.COLOUR) for view, valve in PLACES[Mode.COLOUR])
    yield from (rung for rung in rungs if rung is not None)


def _in_map(clip: DopplerClip, map_key: str) -> DopplerClip:
    machine = clip.doppler.machine
    assert isinstance(machine, ColourSetting)
    return replace(clip, doppler=replace(clip.doppler, machine=replace(machine, map_key=map_key)))
