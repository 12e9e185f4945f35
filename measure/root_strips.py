"""How well aorta, left atrium and their ratio are measured from an M-mode strip's pixels, with R waves.

    python -m measure.root_strips --records FOLDER                  draws, measures, writes docs/accuracy.md
    python -m measure.root_strips --records FOLDER --print-only --ring A --first-seed 400 --subjects 2
    python -m measure.root_strips --records FOLDER --tables-only

Strips of a steady hand through the middle of the aorta's root, with sweep, gain and dynamic range at random. The truth
is the tissue along the middle of the beam, over the same beats. A run that was cut off goes on where it ended; other
code needs another folder of records.
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
FIRST_SEED = {Ring.A: 400, Ring.B: 11_100, Ring.C: 16_100}  # ring A: all of it was tuned on, 300 to 315 and 400 to 424
N_SUBJECTS = 15
TARGETS = {"aorta": (1.0, " mm"), "atrium": (1.0, " mm"), "ratio": (0.1, "")}  # re-measurement (engineering judgement)
MEASURED_BY = (
    "measure/root_strips.py", "measure/_root_strips.py", "measure/_cursor_strips.py", "measure/_criterion_clips.py",
    "measure/_m_mode_strips.py", "measure/_strip_table.py", "src/fanlight/measure/root_strip",
    "src/fanlight/measure/valve_strip/strip_beats.py", "src/fanlight/measure/valve_strip/told.py",
    "src/fanlight/measure/m_mode/spread.py", "src/fanlight/measure/m_mode/tissue_map.py",
    "src/fanlight/measure/m_mode/edges.py", "src/fanlight/measure/m_mode/best_path.py",
    "src/fanlight/measure/rhythm.py",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what was measured on one subject's strip, and what is true."""
    from fanlight.measure.m_mode import MModeStrip
    from fanlight.measure.root_strip import measure_root
    from measure._root_strips import draw_root_strip, true_beats

    seed, ring = job
    try:
        drawn = draw_root_strip(seed, ring)
    except ValueError as error:
        return {"seed": seed, "not_drawn": str(error)}
    strip = MModeStrip(
        levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
    )
    reading = measure_root(strip)
    true = list(true_beats(drawn))
    aorta = [true[beat.number - 1].aorta_mm for beat in reading.beats if beat.aorta_mm is not None]
    atrium = [true[beat.number - 1].atrium_mm for beat in reading.beats if beat.atrium_mm is not None]
    # Where the cursor meets no aorta or no atrium in a beat that was read there is no truth, and the value is wrong.
    means = [float(np.mean(values)) if values else float("nan") for values in (aorta, atrium)]
    truths = dict(zip(TARGETS, (*means, means[1] / means[0]), strict=True))
    animal = drawn.subject.animal
    record: Record = {
        "seed": seed, "heart": animal.heart.value, "species": animal.species.value, "kg": animal.weight_kg
    }  # fmt: skip
    for key, found in zip(TARGETS, reading.measurements, strict=True):
        record[key] = {
            "value": found.value, "uncertainty": found.uncertainty, "reason": found.reason,
            "true": None if np.isnan(truths[key]) else truths[key],
        }  # fmt: skip
    return record


def tables(records: ByRing) -> dict[str, str]:
    """Return how many strips gave a number, and how far it lies from the truth."""
    lines = [
        "| number | ring | none there | strips | refused | bias | RMS | within 1 mm or 0.1 | in its 95 % band |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for key, (target, unit) in TARGETS.items():
        for ring, rows in records.items():
            drawn = [row[key] for row in rows if "not_drawn" not in row]
            missed = sum(item["value"] is not None and item["true"] is None for item in drawn)
            words = {"aorta": "Ao", "atrium": "LA", "ratio": "LA:Ao"}[key]
            lines.append(f"| {words} | {ring} | {missed} | {strip_row(drawn, target, unit)} |")
    return {"root-strips": "\n".join(lines)}


MEASUREMENT = Measurement(
    kind="root", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=("measure._root_strips",),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
