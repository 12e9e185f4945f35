"""How well the excursion of the tricuspid ring (TAPSE) is measured from an M-mode strip's pixels, with R waves.

    python -m measure.ring_strips --records FOLDER                  draws, measures, writes docs/accuracy.md
    python -m measure.ring_strips --records FOLDER --print-only --ring A --first-seed 400 --subjects 2
    python -m measure.ring_strips --records FOLDER --tables-only

Strips of a steady hand through the ring at the free wall, with sweep, gain and dynamic range at random. The truth is
the hinge of the free wall's leaflet along the cursor; beside it the tissue below it that the strip shows. A run that
was cut off goes on where it ended; other code needs another folder of records.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure._records import Record, Records, jobs_of, seeds_words
from measure._strip_table import strip_row
from scripts.measured import write_table

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


def table(records: Mapping[str, Sequence[Record]]) -> str:
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
    return "\n".join(lines)


def main() -> None:
    """Draw, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="folder in which what was measured is kept")
    parser.add_argument("--ring", action="append", choices=[ring.value for ring in Ring], help="all of them")
    parser.add_argument("--first-seed", type=int, help="of the one ring that is drawn")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    parser.add_argument("--tables-only", action="store_true", help="draw nothing")
    given = parser.parse_args()
    rings = [Ring(value) for value in given.ring] if given.ring else list(Ring)
    kept = Records(folder=given.records, kind="ring")
    if not given.tables_only:
        first = FIRST_SEED if given.first_seed is None else dict.fromkeys(rings, given.first_seed)
        kept.draw(one, jobs_of(rings, first, given.subjects), given.workers)
    records = kept.read(rings)
    made = table(records)
    if given.print_only:
        print(made)
        return
    import measure._ring_strips  # noqa: F401  its imports are what the strips were drawn by

    write_table(
        PAGE, "ring-strips", made, script=MEASURED_BY[0], describes=described(*MEASURED_BY), seeds=seeds_words(records)
    )


if __name__ == "__main__":
    main()
