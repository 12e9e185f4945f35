"""What becomes of the plane's criteria when the movement that is named is carried out in the simulator.

One clip with one clear fault of the hand (each movement in both senses), landmarks off by 2 to 3 % of the depth and
one in ten overlooked, the animal's size known within 15 %. What the House would name is carried out by the middle of
its range, in the order of hands; the criteria of the plane are asked before and after. No pixel is formed.

    python -m measure.closed_loop --folder FOLDER                 writes docs/pose-fit.md
    python -m measure.closed_loop --folder FOLDER --tables-only   the same from the records that are there
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core, as the review has

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from measure._closed_loop_clips import FAULTS_ASKED, measure_subject
from measure._closed_loop_table import table_of
from measure._described import imported
from measure._records import Records, jobs_of, seeds_words
from measure.pose_fit import MAKERS, PAGE
from scripts.measured import write_table

SCRIPT = "measure/closed_loop.py"
N_ANIMALS = 28  # of each ring: four of each class of heart
FIRST_SEED = {Ring.A: 3_200, Ring.B: 13_200, Ring.C: 18_200}
# Of the simulator only what moves the probe: it forms no picture here.
ROOMS = (
    "fanlight.heart", "fanlight.plane", "fanlight.coach.movements", "fanlight.reference.movements",
    "fanlight.reference.plane", "fanlight.simulate.faults", "fanlight.simulate.clip.shifted",
    "fanlight.simulate.steady", "fanlight.simulate.visit.hand",
)  # fmt: skip
TABLES = tuple(
    f"src/fanlight/reference/tables/{name}.toml" for name in ("movements", "plane", "plane_standard", "criteria/plane")
)
SCRIPTS = tuple(
    f"measure/{name}.py" for name in (
        "_closed_loop_clips", "_closed_loop_table", "_plane_clips", "_plane_observed", "_criterion_clips",
        "_pose_table", "_wilson")
)  # fmt: skip


def main() -> None:
    """Read the command line, draw, fit, move, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--animals", type=int, default=N_ANIMALS, help="of each ring")
    parser.add_argument("--tables-only", action="store_true")
    parser.add_argument("--print-only", action="store_true")
    given = parser.parse_args()
    records = Records(folder=given.folder, kind="loop")
    if not given.tables_only:
        records.draw(measure_subject, jobs_of(tuple(Ring), FIRST_SEED, given.animals), 1)
    found = records.read(tuple(Ring))
    table = table_of(found, {fault: FAULTS[fault].title for fault in FAULTS_ASKED})
    if given.print_only:
        print(table)
        return
    write_table(
        PAGE, "closed-loop", table, script=SCRIPT, seeds=seeds_words(found),
        describes=sorted({*imported(ROOMS), *MAKERS, *TABLES, *SCRIPTS, SCRIPT}),
    )  # fmt: skip


if __name__ == "__main__":
    main()
