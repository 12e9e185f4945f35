"""How often septum and free wall of hearts that beat in step are called out of step on an M-mode.

    python -m measure.wall_peaks --records FOLDER                   draws, measures, writes docs/accuracy.md
    python -m measure.wall_peaks --records FOLDER --print-only --ring A --first-seed 400 --subjects 2
    python -m measure.wall_peaks --records FOLDER --tables-only

Three strips of each animal: the cursor through the middle at the chords, turned by 4° in the plane, and at the
papillary muscles; with R waves, a guide whose file states the cursor, and a line that a hand lays along the septum.
The truth is the tissue along the cursor. The simulator's hearts contract in step. A run that was cut off goes on where
it ended; other code needs another folder of records.
"""

from __future__ import annotations

import os
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

from typing import TYPE_CHECKING

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._record_run import ByRing, Measurement, run
from measure._records import Record
from measure._wilson import wilson

if TYPE_CHECKING:
    from fanlight.measure.guide_cursor import GuideCursor
    from fanlight.reference.m_mode_cursor import CursorLimits
    from fanlight.study import Measurement as Number
    from measure._wall_peak_strips import PeakStrip

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
FIRST_SEED = {Ring.A: 430, Ring.B: 11_200, Ring.C: 16_200}
N_SUBJECTS = 7  # each class of heart once
NO_NUMBER, NO_LINE, ASLANT, NOT_SURELY, OUT = "no number", "no line", "aslant", "not surely", "out of step"
MEASURED_BY = (
    "measure/wall_peaks.py", "measure/_wall_peak_strips.py", "measure/_criterion_clips.py",
    "measure/_m_mode_strips.py", "src/fanlight/measure/wall_peaks.py", "src/fanlight/measure/guide_cursor.py",
    "src/fanlight/measure/m_mode", "src/fanlight/validity/by_cursor.py", "src/fanlight/reference/m_mode.py",
    "src/fanlight/reference/tables/m_mode.toml", "src/fanlight/reference/tables/m_mode_cursor.toml",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what is said of one subject's strips, and what is true."""
    from measure._wall_peak_strips import draw_peak_strips

    seed, ring = job
    record: Record = {"seed": seed, "places": {}}
    for name, subject, drawn in draw_peak_strips(seed, ring):
        animal = subject.animal
        record |= {"heart": animal.heart.value, "species": animal.species.value, "kg": animal.weight_kg}
        record["places"][name] = {"not_drawn": drawn} if isinstance(drawn, str) else _said(drawn)
    return record


def _said(drawn: PeakStrip) -> Record:
    """Return what is said of one strip beside its guide."""
    from fanlight.measure.guide_cursor import judge_cursor
    from fanlight.measure.m_mode import MModeStrip, Seen, measure_m_mode
    from fanlight.measure.strip_part import StripPart
    from fanlight.measure.wall_peaks import measure_wall_peaks
    from fanlight.reference.load import load_house
    from fanlight.reference.m_mode import read_m_mode_settings
    from fanlight.reference.m_mode_cursor import read_cursor_limits
    from measure._wall_peak_strips import CHORDS

    house = load_house()
    strip = MModeStrip(
        levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
    )
    number = measure_wall_peaks(measure_m_mode(strip, read_m_mode_settings(house)), strip, Seen())
    cursor = judge_cursor(StripPart.LEFT_VENTRICLE, CHORDS, drawn.layout, (), drawn.septum)
    true = drawn.true_percent
    return {
        "said": _kind(number, cursor, read_cursor_limits(house)), "value": number.value,
        "uncertainty": number.uncertainty, "aslant_deg": None if cursor is None else cursor.aslant_deg,
        "true": None if np.isnan(true) else true,
    }  # fmt: skip


def _kind(number: Number, cursor: GuideCursor | None, limits: CursorLimits) -> str:
    from fanlight.validity.by_cursor import weigh_by_cursor

    if number.value is None:
        return NO_NUMBER
    weighed = weigh_by_cursor([number], cursor, limits)
    if not weighed:
        return NO_LINE
    if weighed[0].value is None:
        return ASLANT
    return OUT if weighed[0].validity.startswith("note: out of step") else NOT_SURELY


def tables(records: ByRing) -> dict[str, str]:
    """Return what is said by place of the cursor and ring, and how far the number lies from the truth."""
    from fanlight.reference.load import load_house
    from fanlight.reference.m_mode_cursor import read_cursor_limits
    from measure._wall_peak_strips import PLACES

    limit = read_cursor_limits(load_house()).peaks_percent
    lines = [
        "| cursor | ring | strips | no number | no line on the guide | cursor aslant: not given | "
        "not surely out of step | out of step | would be, were the guide not asked | truly beyond the limit | "
        "bias | RMS | in its 95 % band | said from |",
        "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for place in PLACES:
        for ring, rows in records.items():
            drawn = [row["places"][place] for row in rows if "not_drawn" not in row["places"][place]]
            lines.append(f"| {place} | {ring} | {_row(drawn, limit)} |")
    return {"peaks-out-of-step": "\n".join(lines)}


def _row(drawn: list[Record], limit: float) -> str:
    n = len(drawn)
    kinds = [item["said"] for item in drawn]
    read = [item for item in drawn if item["value"] is not None]
    sure = sum(abs(item["value"]) - 2 * item["uncertainty"] > limit for item in read)
    true = [item["true"] for item in drawn if item["true"] is not None]
    beyond = f"{sum(abs(value) > limit for value in true)} of {len(true)}"
    first = " | ".join(str(kinds.count(kind)) for kind in (NO_NUMBER, NO_LINE, ASLANT, NOT_SURELY))
    counts = f"{n} | {first} | {_share(kinds.count(OUT), n)} | {sure} | {beyond}"
    known = [item for item in read if item["true"] is not None]
    if not known:
        return f"{counts} | – | – | – | –"
    off = np.array([item["value"] - item["true"] for item in known])
    error = np.array([item["uncertainty"] for item in known])
    inside = int((np.abs(off) <= 1.96 * error).sum())
    return (
        f"{counts} | {off.mean():+.1f} % | {np.sqrt((off**2).mean()):.1f} % | {inside} of {len(known)} | "
        f"{limit + 2 * np.median(error):.0f} %"
    )


def _share(found: int, n: int) -> str:
    low, high = wilson(found, n)
    return f"{found}, {100 * found / max(n, 1):.0f} % ({100 * low:.0f}–{100 * high:.0f})"


MEASUREMENT = Measurement(
    kind="peaks", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=("measure._wall_peak_strips",),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
