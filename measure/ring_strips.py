"""How well the excursion of the tricuspid ring (TAPSE) is measured from an M-mode strip's pixels, with R waves.

    python -m measure.ring_strips --records FOLDER                  draws, measures, writes docs/accuracy.md
    python -m measure.ring_strips --records FOLDER --print-only --ring A --first-seed 400 --subjects 2
    python -m measure.ring_strips --records FOLDER --tables-only

Strips of a steady hand through the ring at the free wall, with sweep, gain and dynamic range at random. The truth is
the hinge of the free wall's leaflet along the cursor; beside it the tissue below it that the strip shows. A run that
was cut off goes on where it ended; other code needs another folder of records.
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
FIRST_SEED = {Ring.A: 400, Ring.B: 11_000, Ring.C: 16_000}  # ring A: 300 to 325 were tuned on
N_SUBJECTS = 12
TARGET_MM = 1.0  # re-measurement of a stored strip (engineering judgement)
MEASURED_BY = (
    "measure/ring_strips.py", "measure/_ring_strips.py", "measure/_cursor_strips.py", "measure/_criterion_clips.py",
    "measure/_m_mode_strips.py", "measure/_strip_table.py", "src/fanlight/measure/ring_strip",
    "src/fanlight/measure/valve_strip/strip_beats.py", "src/fanlight/measure/valve_strip/told.py",
    "src/fanlight/measure/m_mode/spread.py", "src/fanlight/measure/m_mode/tissue_map.py",
    "src/fanlight/measure/rhythm.py",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what was measured on one subject's strip, and what is true."""
    from fanlight.measure.m_mode import MModeStrip
    from fanlight.measure.ring_strip import measure_ring
    from measure._ring_strips import draw_ring_strip, true_beats

    seed, ring = job
    try:
        drawn = draw_ring_strip(seed, ring)
    except ValueError as error:
        return {"seed": seed, "not_drawn": str(error)}
    strip = MModeStrip(
        levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
    )
    reading = measure_ring(strip)
    (found,) = reading.measurements
    true = list(true_beats(drawn))
    counted = [true[beat.number - 1] for beat in reading.beats] if found.value is not None else true
    animal = drawn.subject.animal
    return {
        "seed": seed, "heart": animal.heart.value, "species": animal.species.value, "kg": animal.weight_kg,
        "value": found.value, "uncertainty": found.uncertainty, "reason": found.reason,
        "true": float(np.mean([beat.hinge_mm for beat in counted])) if counted else None,
        "tissue": float(np.mean([beat.tissue_mm for beat in counted])) if counted else None,
    }  # fmt: skip


def tables(records: ByRing) -> dict[str, str]:
    """Return how many strips gave a number, and how far it lies from the truth."""
    lines = [
        "| against | ring | strips | refused | bias, mm | RMS, mm | within 1 mm | in its 95 % band |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for words, key in (("the leaflet's hinge", "true"), ("the tissue below it", "tissue")):
        for ring, rows in records.items():
            drawn = [
                {"value": row["value"], "uncertainty": row["uncertainty"], "true": row[key]}
                for row in rows
                if "not_drawn" not in row
            ]
            lines.append(f"| {words} | {ring} | {strip_row(drawn, TARGET_MM)} |")
    return {"ring-strips": "\n".join(lines)}


MEASUREMENT = Measurement(
    kind="ring", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=("measure._ring_strips",),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
