"""Measure how fast the simulated machine makes pictures; write the table of docs/simulator.md.

One core, one thread of each library. Animals are drawn from seeds. Takes about a minute.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.heart.rhythm import beats
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.m_mode import render_m_mode
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.machine.scan_convert import fitted_sector, scan_convert
from fanlight.study import Species
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "simulator.md"
ROWS, COLS = 480, 640
TARGET_HZ, TARGET_BEAT_S = 20.0, 2.0
FEW, MANY = 4, 44  # frames; two lengths tell what a frame costs and what a clip costs
VIEW = "right_parasternal_long_axis_four_chamber"
M_MODE_VIEW = "right_parasternal_short_axis_papillary_muscles"
ANIMALS = (("cat", Species.CAT, 4.0, 11), ("dog", Species.DOG, 10.0, 12), ("dog", Species.DOG, 35.0, 13))


def busy_s(work: Callable[[], object], repeats: int = 3) -> float:
    """Return the least processor time of some runs, s."""
    best = float("inf")
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def row_of(name: str, animal: Animal) -> tuple[str, float, float]:
    """Return the table row of an animal, pictures a second, and seconds for one beat."""
    probe = default_probe(animal.weight_kg)
    console = default_console(probe, animal.species, animal.weight_kg)
    scene, pose = scene_of(animal), standard_pose(animal, VIEW)
    run = beats(animal.rhythm, 4000.0)
    rr_ms = 60_000.0 / animal.rhythm.rate_bpm

    def clip(n: int, length_ms: float) -> None:
        states = [state_at(animal.rhythm, run, k * length_ms / n) for k in range(n)]
        formed = render(scene, pose, probe, console, states, np.random.default_rng(1))
        scan_convert(formed, fitted_sector(formed, rows=ROWS, cols=COLS), rows=ROWS, cols=COLS)

    clip(FEW, rr_ms)  # libraries and maps are loaded once
    few, many = busy_s(lambda: clip(FEW, rr_ms)), busy_s(lambda: clip(MANY, 1.5 * rr_ms))
    frame_s = (many - few) / (MANY - FEW)
    n_beat = max(24, round(rr_ms / 1000 * 40))
    beat_s = busy_s(lambda: clip(n_beat, rr_ms), 2)
    strip_s = busy_s(
        lambda: render_m_mode(
            scene, standard_pose(animal, M_MODE_VIEW), probe, console, 0.0,
            lambda time_ms: state_at(animal.rhythm, run, time_ms), np.random.default_rng(1), n_columns=100,
            column_ms=6.0,
        ), 1,
    )  # fmt: skip
    return (
        f"| {name}, {animal.weight_kg:.0f} kg | {console.n_lines} × {console.n_samples} | {1000 * frame_s:.0f} | "
        f"{1 / frame_s:.0f} | {1000 * max(few - FEW * frame_s, 0):.0f} | {n_beat} | {beat_s:.2f} | "
        f"{10 * strip_s:.0f} |",
        1 / frame_s,
        beat_s,
    )


def main() -> None:
    """Measure and write the table."""
    cv2.setNumThreads(1)
    rows = []
    for name, species, weight_kg, seed in ANIMALS:
        animal = draw_animal(
            species=species, weight_kg=weight_kg, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=seed
        )
        rows.append(row_of(name, animal))
        print(rows[-1][0], flush=True)
    slowest, longest = min(hz for _, hz, _ in rows), max(beat for _, _, beat in rows)
    table = "\n".join(
        [
            "| animal | lines × samples | a frame, ms | frames/s | a clip beside, ms | frames of one beat | "
            "one beat, s | M-mode, ms a column |",
            "|---|---|---|---|---|---|---|---|",
            *(row for row, _, _ in rows),
            "",
            f"Processor time of one core, best of 3: slicing the animal, forming, painting at {COLS} × {ROWS}. Target "
            f"{TARGET_HZ:.0f} frames/s: {'met' if slowest >= TARGET_HZ else 'missed'} ({slowest:.0f}); one beat under "
            f"{TARGET_BEAT_S:.0f} s: {'met' if longest <= TARGET_BEAT_S else 'missed'} ({longest:.1f} s).",
        ]
    )
    write_table(
        PAGE, "simulator-speed", table, script="measure/simulator_speed.py",
        seeds=", ".join(str(seed) for *_, seed in ANIMALS),
        describes=[
            *(
                f"src/fanlight/simulate/machine/{name}.py"
                for name in (
                    "b_mode", "beam_grid", "convolve", "echo_field", "image_former", "lung", "m_mode", "point_spread",
                    "receive", "scan_convert", "scatterers",
                )
            ),
            "src/fanlight/heart/sample_heart.py",
        ],
    )  # fmt: skip


if __name__ == "__main__":
    main()
