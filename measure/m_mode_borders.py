"""How well a left-ventricular M-mode strip is measured from its pixels: diameters, walls, shortening and rate.

    python -m measure.m_mode_borders --records FOLDER                 draws, measures, writes docs/accuracy.md
    python -m measure.m_mode_borders --records FOLDER --print-only --ring A --first-seed 300 --subjects 2
    python -m measure.m_mode_borders --records FOLDER --tables-only

Strips of a steady hand at chordal level, with sweep, gain and dynamic range at random. The truth is the tissue along
the middle of the beam, over the same beats that were measured. A run that was cut off goes on where it ended; other
code needs another folder of records.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

from fanlight.simulate.clip.ring import Ring
from measure._m_mode_table import by_class_table, main_table
from measure._record_run import ByRing, Measurement, run
from measure._records import Record

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
FIRST_SEED = {Ring.A: 500, Ring.B: 10_600, Ring.C: 15_600}  # ring A: below 500 was tuned on or looked at
N_SUBJECTS = 300
MEASURED_BY = (
    "measure/m_mode_borders.py", "measure/_m_mode_strips.py", "measure/_m_mode_table.py", "measure/_criterion_clips.py",
    "measure/_confidently_wrong.py",
    "src/fanlight/measure/m_mode", "src/fanlight/reference/m_mode.py", "src/fanlight/reference/tables/m_mode.toml",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what was measured on one subject's strip, with ECG and without, and what is true."""
    from fanlight.measure.m_mode import MModeStrip, measure_m_mode
    from fanlight.reference.load import load_house
    from fanlight.reference.m_mode import read_m_mode_settings
    from measure._m_mode_strips import draw_strip, true_distances

    seed, ring = job
    settings = read_m_mode_settings(load_house())
    try:
        drawn = draw_strip(seed, ring)
    except ValueError as err:
        return {"seed": seed, "not_drawn": str(err)}
    true = true_distances(drawn)
    record: Record = {"seed": seed, "heart": drawn.heart, "species": drawn.species, "kg": drawn.weight_kg}
    for key, r_times in (("ecg", drawn.r_times_ms), ("no_ecg", ())):
        strip = MModeStrip(
            levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=r_times
        )
        reading = measure_m_mode(strip, settings)
        record[key] = {
            item.name or "heart_rate": {
                "value": item.value,
                "uncertainty": item.uncertainty,
                "true": _true(item.name, reading, true, drawn.true_r_times_ms, drawn.ms_per_col),
                "reason": item.reason,
            }
            for item in reading.measurements
        }
    return record


def _true(
    name: str, reading: Any, true: list[dict[str, float]], r_times_ms: tuple[float, ...], ms_per_col: float
) -> float | None:
    """Return the true value of a quantity over the beats that were measured; over all of them where none was."""
    if not true:
        return None
    whole = list(range(len(true)))

    def beats_of(quantity: str) -> list[int]:
        if reading.beats is None or quantity not in reading.distances:
            return whole
        cols = {beat.number: beat.systole_col for beat in reading.beats.beats}
        times = [cols[number] * ms_per_col for number in reading.distances[quantity].mm]
        found = [k for k in whole for t in times if r_times_ms[k] <= t < r_times_ms[k + 1]]
        return found or whole

    if not name:
        measured = beats_of("lvidd")
        return 60_000 * len(measured) / sum(r_times_ms[k + 1] - r_times_ms[k] for k in measured)
    if name == "fractional_shortening":
        both = [k for k in beats_of("lvidd") if k in beats_of("lvids") and true[k]] or [k for k in whole if true[k]]
        shares = [100 * (1 - true[k]["lvids"] / true[k]["lvidd"]) for k in both]
    else:
        shares = [true[k][name] for k in beats_of(name) if true[k]]
    finite = [share for share in shares if share == share]
    return sum(finite) / len(finite) if finite else None


def tables(records: ByRing) -> dict[str, str]:
    """Return the tables by name."""
    return {
        "m-mode": main_table(records, "ecg"),
        "m-mode-no-ecg": main_table(records, "no_ecg"),
        "m-mode-by-class": by_class_table(records),
    }


MEASUREMENT = Measurement(
    kind="m-mode", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=("measure._m_mode_strips",),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
