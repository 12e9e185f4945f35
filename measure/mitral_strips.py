"""How well E-point to septal separation is measured from an M-mode strip's pixels, with R waves, in both views.

    python -m measure.mitral_strips --records FOLDER                  draws, measures, writes docs/accuracy.md
    python -m measure.mitral_strips --records FOLDER --print-only --ring A --first-seed 400 --subjects 2
    python -m measure.mitral_strips --records FOLDER --tables-only

Strips of a steady hand through the leaflets' tips, with sweep, gain and dynamic range at random. The truth is the
tissue along the middle of the beam, over the same beats that were measured. A run that was cut off goes on where it
ended; other code needs another folder of records.
"""

from __future__ import annotations

import os
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._record_run import ByRing, Measurement, run
from measure._records import Record
from measure._strip_table import strip_row

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
FIRST_SEED = {Ring.A: 400, Ring.B: 10_900, Ring.C: 15_900}  # ring A: 300 to 339 were tuned on
N_SUBJECTS = 16
TARGET_MM = 1.0  # re-measurement of a stored strip (engineering judgement)
MEASURED_BY = (
    "measure/mitral_strips.py", "measure/_valve_strips.py", "measure/_criterion_clips.py", "measure/_m_mode_strips.py",
    "measure/_strip_table.py",
    "src/fanlight/measure/valve_strip", "src/fanlight/measure/m_mode", "src/fanlight/measure/rhythm.py",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what was measured on one subject's strips, and what is true."""
    from fanlight.measure.m_mode import MModeStrip
    from fanlight.measure.valve_strip import measure_mitral
    from measure._valve_strips import VIEWS, draw_mitral_strip

    seed, ring = job
    record: Record = {"seed": seed}
    for view in VIEWS:
        try:
            drawn = draw_mitral_strip(seed, ring, view)
        except ValueError as error:
            record[view] = {"not_drawn": str(error)}
            continue
        strip = MModeStrip(
            levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
        )
        reading = measure_mitral(strip)
        epss = reading.measurements[0]
        true = np.array([drawn.true_mm[item.number - 1] for item in reading.openings])
        record |= {"heart": drawn.heart, "species": drawn.species}
        record[view] = {
            "value": epss.value,
            "uncertainty": epss.uncertainty,
            "reason": epss.reason,
            # Where the cursor meets no leaflet in a beat that was read there is no truth, and the value is wrong.
            "true": None if epss.value is None or np.isnan(true).any() else float(true.mean()),
        }
    return record


def tables(records: ByRing) -> dict[str, str]:
    """Return how many strips gave a number, and how far it lies from the truth."""
    from measure._valve_strips import VIEWS

    lines = [
        "| view | ring | no leaflet there | strips | refused | bias, mm | RMS, mm | within 1 mm | in its 95 % band |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for view in VIEWS:
        for ring, rows in records.items():
            drawn = [row[view] for row in rows if "not_drawn" not in row[view]]
            missed = sum(item["value"] is not None and item["true"] is None for item in drawn)
            lines.append(f"| {view.replace('_', ' ')} | {ring} | {missed} | {strip_row(drawn, TARGET_MM)} |")
    return {"mitral-strips": "\n".join(lines)}


MEASUREMENT = Measurement(
    kind="mitral", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=("measure._valve_strips",),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
