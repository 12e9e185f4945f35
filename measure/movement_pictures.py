"""How long the pictures of a movement take: a model animal, the drawing, and a pair of simulated pictures.

    python -m measure.movement_pictures        writes docs/letter.md

Processor time of one process; nothing is remembered from one row to the next. The simulator's own speed has a table in
docs/simulator.md; here stands what a letter adds.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

from fanlight.heart.movements import Movement
from fanlight.report.movement.chosen import ChosenMove, Turn
from fanlight.report.movement.drawing import draw_movement
from fanlight.report.movement.model_animal import MODEL_SEED, model_animal, moved_poses
from fanlight.report.movement.simulated import SectorSize, simulated_pair
from fanlight.report.movement.sketch import svg_of
from fanlight.study import Species
from scripts.measured import write_table

SCRIPT = "measure/movement_pictures.py"
PAGE = Path(__file__).resolve().parent.parent / "docs" / "letter.md"
DESCRIBES = ["src/fanlight/report/movement", SCRIPT]
ANIMALS = (
    (Species.CAT, 4.0, 70.0),
    (Species.DOG, 12.0, 110.0),
    (Species.DOG, 40.0, 160.0),
)  # with depth of the clip, mm
VIEWS = (
    "right_parasternal_long_axis_four_chamber", "right_parasternal_short_axis_aorta", "left_apical_four_chamber",
)  # fmt: skip
TILT_DEG, WIDTH_DEG = 9.0, 84.0


def seconds_of(deed: Callable[[], object]) -> float:
    """Return the processor time of a deed."""
    began = time.process_time()
    deed()
    return time.process_time() - began


def row_of(species: Species, weight_kg: float, depth_mm: float, view: str) -> str:
    """Return the times of one movement, nothing remembered."""
    move = ChosenMove(
        cause="tilt_plus", clip=f"{species} {weight_kg:g}", view=view, stood=(("tilt", TILT_DEG),),
        back=(Turn(movement=Movement.TILT, amount=-TILT_DEG),), others=0,
    )  # fmt: skip
    size = SectorSize(depth_mm=depth_mm, width_deg=WIDTH_DEG)
    model_animal.cache_clear()
    simulated_pair.cache_clear()
    animal = seconds_of(lambda: model_animal(species, weight_kg))
    before = moved_poses(model_animal(species, weight_kg), move).before
    drawn = seconds_of(lambda: svg_of(draw_movement(model_animal(species, weight_kg), before, move.back[0], view)))
    pair = seconds_of(lambda: simulated_pair(species, weight_kg, move, size))
    made = simulated_pair(species, weight_kg, move, size)
    kilobytes = (len(made.before) + len(made.after)) / 1000
    return (
        f"| {species} of {weight_kg:g} kg, {view.replace('_', ' ')} | {animal:.2f} s | {drawn:.2f} s | {pair:.2f} s | "
        f"{animal + drawn + pair:.2f} s | {kilobytes:.0f} kB |"
    )


def main() -> None:
    row_of(*ANIMALS[0], VIEWS[0])  # what every process loads once
    lines = ["| movement | model animal | drawing | pair | together | size of the pair |", "|---|---|---|---|---|---|"]
    lines += [row_of(*animal, view) for animal in ANIMALS for view in VIEWS]
    seeds = f"ring A, {MODEL_SEED}"
    write_table(PAGE, "movement-pictures", "\n".join(lines), script=SCRIPT, describes=DESCRIBES, seeds=seeds)


if __name__ == "__main__":
    main()
