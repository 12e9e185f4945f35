"""Measure how fast the simulated machine makes Doppler pictures; write the tables of docs/simulator.md.

One core, one thread of each library. Animals are drawn from seeds. Takes about a minute.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.blood.circulation import draw_circulation
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.moving_body import moving_body
from fanlight.heart.rhythm import beats
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.colour.colour_setting import ColourBox, colour_frame_rate_hz, default_colour
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.screen.screen_colour import paint_colour
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import Species
from measure._spectrum_speed import spectrum_rows
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "simulator.md"
COLOUR_TARGET_HZ, SPECTRUM_TARGET = 8.0, 4.0  # pictures a second; times real time
FEW, MANY = 3, 23  # frames; two lengths tell what a frame costs and what a clip costs
REPEATS = 15  # of each length, of which the quickest counts: with 7, rows moved by a third from run to run
VIEW = "left_apical_four_chamber"
LAYOUT = LAYOUTS["foot_rows"]
BOX_DEG, BOX_SHARES = 20.0, (0.3, 0.85)  # half the width; near and far edge as shares of the depth
ANIMALS = (("cat", Species.CAT, 4.0, 11), ("dog", Species.DOG, 10.0, 12), ("dog", Species.DOG, 35.0, 13))


def busy_s(*works: Callable[[], object]) -> tuple[float, ...]:
    """Return the least processor time of each of some works, s; they take turns, so that a disturbance meets all."""
    best = [float("inf")] * len(works)
    for _ in range(REPEATS):
        for k, work in enumerate(works):
            start = time.process_time()
            work()
            best[k] = min(best[k], time.process_time() - start)
    return tuple(best)


def animal_of(species: Species, weight_kg: float, seed: int) -> Animal:
    return draw_animal(species=species, weight_kg=weight_kg, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=seed)


def colour_row(name: str, animal: Animal, seed: int) -> tuple[str, float]:
    """Return the table row of an animal, and pictures a second."""
    probe = default_probe(animal.weight_kg)
    console = default_console(probe, animal.species, animal.weight_kg)
    near, far = (share * console.depth_mm for share in BOX_SHARES)
    setting = default_colour(console, ColourBox(left_deg=-BOX_DEG, right_deg=BOX_DEG, near_mm=near, far_mm=far))
    rate_hz = colour_frame_rate_hz(console, setting)
    length_ms = MANY / rate_hz * 1000
    run = beats(animal.rhythm, length_ms + 2000.0)
    circulation = draw_circulation(animal, np.random.default_rng([seed, 1]))
    body = moving_body(animal, circulation, run, start_ms=0.0, duration_ms=length_ms + 100.0)
    scene, pose = scene_of(animal), standard_pose(animal, VIEW)
    facts = ScreenFacts(
        depth_mm=console.depth_mm, frequency_mhz=console.frequency_mhz, gain_db=0.0, dynamic_range_db=60.0,
        frame_rate_hz=rate_hz,
    )  # fmt: skip

    def clip(n: int) -> tuple[int, int]:
        states = [state_at(animal.rhythm, run, k * length_ms / n) for k in range(n)]
        timed = [replace(state, time_ms=k * length_ms / n) for k, state in enumerate(states)]
        beams = render_colour(scene, body, pose, probe, console, setting, timed, np.random.default_rng(1))
        paint_colour(LAYOUT, beams, facts)
        return beams.geometry.n_lines, beams.geometry.n_samples

    lines, samples = clip(FEW)  # libraries and maps are loaded once
    few, many = busy_s(lambda: clip(FEW), lambda: clip(MANY))
    frame_s = (many - few) / (MANY - FEW)
    row = (
        f"| {name}, {animal.weight_kg:.0f} kg | {lines} × {samples} | {setting.ensemble} | {setting.scale_m_s:.2f} | "
        f"{rate_hz:.0f} | {1000 * frame_s:.0f} | {1 / frame_s:.0f} | {1000 * max(few - FEW * frame_s, 0):.0f} |"
    )
    return row, 1 / frame_s


def measure_colour() -> None:
    """Write the table of colour Doppler."""
    rows = []
    for name, species, weight_kg, seed in ANIMALS:
        rows.append(colour_row(name, animal_of(species, weight_kg, seed), seed))
        print(rows[-1][0], flush=True)
    slowest = min(hz for _, hz in rows)
    table = "\n".join(
        [
            "| animal | lines × samples of the box | packet | scale, m/s | the machine's own pictures/s | "
            "a frame, ms | frames/s | a clip beside, ms |",
            "|---|---|---|---|---|---|---|---|",
            *(row for row, _ in rows),
            "",
            f"Processor time of one core, best of {REPEATS}: slicing the animal twice (picture and box), its motion, "
            f"forming both, painting at {LAYOUT.cols} × {LAYOUT.rows}; left apical view. Target {COLOUR_TARGET_HZ:.0f} "
            f"frames/s: {'met' if slowest >= COLOUR_TARGET_HZ else 'missed'} ({slowest:.0f}).",
        ]
    )
    write_table(
        PAGE, "colour", table, script="measure/doppler_speed.py", seeds=", ".join(str(seed) for *_, seed in ANIMALS),
        describes=[
            *(
                f"src/fanlight/simulate/colour/colour_{name}.py"
                for name in ("estimate", "former", "mode", "packets", "picture", "setting")
            ),
            "src/fanlight/simulate/screen/screen_colour.py", "src/fanlight/heart/moving_body.py",
        ],
    )  # fmt: skip


def measure_spectra() -> None:
    """Write the table of spectra."""
    animals = [(name, animal_of(species, weight_kg, seed), seed) for name, species, weight_kg, seed in ANIMALS]
    rows, speeds = spectrum_rows(animals, busy_s)
    print("\n".join(rows), flush=True)
    alone, whole = min(speeds[::2]), min(speeds[1::2])

    def verdict(slowest: float) -> str:
        return f"{'met' if slowest >= SPECTRUM_TARGET else 'missed'} ({slowest:.1f})"

    table = "\n".join(
        [
            "| animal | mode | MHz | scale, cm/s | samples, kHz | machine alone, times real time | "
            "with the animal, times real time |",
            "|---|---|---|---|---|---|---|",
            *rows,
            "",
            f"Processor time of one core, best of {REPEATS}, all rows in turns. Alone: on a tube of known flow. With "
            "the animal: it is sliced, and its streams found, once for all moments at which it is shaped alike, its "
            "motion asked for every 10 ms. "
            f"Target {SPECTRUM_TARGET:.0f} times real time: {verdict(alone)} by the machine alone, "
            f"{verdict(whole)} with the animal.",
        ]
    )
    write_table(
        PAGE, "spectrum", table, script="measure/doppler_speed.py", seeds=", ".join(str(seed) for *_, seed in ANIMALS),
        describes=[
            *(
                f"src/fanlight/simulate/spectral/spectral_{name}.py"
                for name in ("alike", "beam", "body", "courses", "hold", "setting", "signal", "strip")
            ),
            "src/fanlight/simulate/spectral/spectrum.py", "src/fanlight/heart/moving_body.py",
            "src/fanlight/heart/held_motion.py", "src/fanlight/heart/held_leaflets.py",
            "src/fanlight/heart/solid_motion.py",
            "src/fanlight/heart/side_by_side.py", "src/fanlight/heart/blood/blood_field.py",
        ],
    )  # fmt: skip


def main() -> None:
    """Measure what is asked for, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("only", nargs="?", choices=("colour", "spectrum"), help="measure one table only")
    only = parser.parse_args().only
    cv2.setNumThreads(1)
    if only != "spectrum":
        measure_colour()
    if only != "colour":
        measure_spectra()


if __name__ == "__main__":
    main()
