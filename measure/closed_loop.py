"""What becomes of the plane's criteria when the movement that is named is carried out in the simulator.

One clip with one clear fault of the hand (each movement in both senses), landmarks off by 2 to 3 % of the depth and
one in ten overlooked, the animal's size known within 15 %. What the House would name is carried out by the middle of
its range, in the order of hands; the criteria of the plane are asked before and after. No pixel is formed.

    python -m measure.closed_loop --records FOLDER                 writes docs/pose-fit.md
    python -m measure.closed_loop --records FOLDER --tables-only   the same from the records that are there
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core, as the review has

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from measure._closed_loop_clips import FAULTS_ASKED, measure_subject
from measure._closed_loop_table import table_of
from measure._described import imported
from measure._record_run import ByRing, Measurement, run
from measure.pose_fit import MAKERS, PAGE

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


def tables(found: ByRing) -> dict[str, str]:
    """Return the table, by its name."""
    return {"closed-loop": table_of(found, {fault: FAULTS[fault].title for fault in FAULTS_ASKED})}


def described() -> list[str]:
    """Return the files by which the figures are what they are."""
    return sorted({*imported(ROOMS), *MAKERS, *TABLES, *SCRIPTS, SCRIPT})


MEASUREMENT = Measurement(
    kind="loop", one=measure_subject, first_seed=FIRST_SEED, n_subjects=N_ANIMALS, tables=tables, page=PAGE,
    measured_by=(SCRIPT,), describes=described,
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
