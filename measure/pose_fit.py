"""How the pose fit does on drawn animals: correct windows, one clear fault in a clip, one habit in three views.

Landmarks are those of the model in the true plane, with 2 to 3 % of the depth as noise and one in ten overlooked.
Rings A, B and C; in C the hearts are deformed outside the family and turned by up to 15 degrees. Nothing is tuned on
B or C.

    python -m measure.pose_fit                          all rings; writes docs/pose-fit.md
    python -m measure.pose_fit --ring A --animals 14    prints one ring

A run that was cut off goes on: what was measured is kept in a folder of the user's temporary files, by the code's hash.
"""

from __future__ import annotations

import argparse
import getpass
import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core, as the review has

from fanlight.heart.kinds import Chest, HeartClass
from fanlight.simulate.clip.ring import Ring
from measure._described import imported
from measure._pose_subject import Record, measure_subject
from measure._pose_table import compact_table, figure_table, reliability_table
from scripts.measured import contents_hash, write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "pose-fit.md"
SCRIPT = "measure/pose_fit.py"
N_ANIMALS = 133  # 19 of each class of heart
SIZES_MM = (24, 36)  # of the left ventricle: toy dogs and cats, middle, large dogs
FIRST_SEED = {Ring.A: 1_000, Ring.B: 10_000, Ring.C: 15_000}
MAKERS = ("measure/_pose_cases.py", "measure/_pose_subject.py", "src/fanlight/heart/fit/family.npz")


def described() -> list[str]:
    """Return the code that the figures hang on."""
    return sorted({*imported(("fanlight.heart", "fanlight.simulate")), *MAKERS})


def measure_ring(ring: Ring, n: int, only_kept: bool) -> list[Record]:
    """Return the records of a ring; what an earlier run of the same code left is taken from there."""
    digest = hashlib.sha256(contents_hash(described(), ROOT).encode()).hexdigest()[:12]
    folder = Path(tempfile.gettempdir()) / f"fanlight-pose-{getpass.getuser()}" / digest
    folder.mkdir(parents=True, exist_ok=True)
    records = []
    for seed in range(FIRST_SEED[ring], FIRST_SEED[ring] + n):
        path = folder / f"{ring}-{seed}.json"
        if not path.is_file():
            if only_kept:
                break
            part = path.with_suffix(".part")
            part.write_text(json.dumps(measure_subject(seed, ring)), encoding="utf-8")
            part.rename(path)
        records.append(json.loads(path.read_text(encoding="utf-8")))
    return records


def split(by_ring: Mapping[Ring, Sequence[Record]], kind_of: Callable[[Record], str]) -> dict[str, list[Record]]:
    """Return the records of each ring and kind."""
    groups: dict[str, list[Record]] = {}
    for ring, records in by_ring.items():
        kinds = sorted({kind_of(one) for one in records})
        groups |= {f"ring {ring}, {kind}": [one for one in records if kind_of(one) == kind] for kind in kinds}
    return groups


def size_of(record: Record) -> str:
    """Return how large a heart is, by the diameter of its left ventricle."""
    first, second = SIZES_MM
    mm = float(record["lv_diameter_mm"])
    return (
        f"1 below {first} mm" if mm < first else f"2 {first} to {second} mm" if mm < second else f"3 above {second} mm"
    )


def chest_of(record: Record) -> str:
    """Return the shape of the chest, which turns the heart in it: upright in a deep one, lying in a round one."""
    return str(tuple(Chest)[(record["seed"] // len(HeartClass)) % len(Chest)].value)  # as _pose_cases draws it


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ring", type=Ring, choices=list(Ring), help="print one ring instead of writing the page")
    parser.add_argument("--animals", type=int, default=N_ANIMALS)
    parser.add_argument("--kept", action="store_true", help="no more than what an earlier run has measured")
    given = parser.parse_args()
    rings = [given.ring] if given.ring else list(Ring)
    by_ring = {ring: measure_ring(ring, given.animals, given.kept) for ring in rings}
    groups = {f"ring {ring}": records for ring, records in by_ring.items()}
    tables = {
        "pose-fit": figure_table(groups),
        "pose-fit-by-heart": figure_table(split(by_ring, lambda one: "normal" if one["is_normal"] else "diseased")),
        "pose-fit-by-class": compact_table(split(by_ring, lambda one: str(one["heart"]).replace("_", " "))),
        "pose-fit-by-size": compact_table(split(by_ring, size_of)),
        "pose-fit-by-chest": compact_table(split(by_ring, chest_of)),
        "pose-fit-reliability": reliability_table(groups),
    }
    seeds = ", ".join(
        f"ring {ring} {FIRST_SEED[ring]} to {FIRST_SEED[ring] + len(records) - 1}" for ring, records in by_ring.items()
    )
    for name, table in tables.items():
        if given.ring or given.animals != N_ANIMALS:
            print(f"\n{table}\n")
        else:
            write_table(
                PAGE, name, table, script=SCRIPT, seeds=seeds,
                describes=[*described(), SCRIPT, "measure/_pose_table.py", "measure/_wilson.py"],
            )  # fmt: skip


if __name__ == "__main__":
    main()
