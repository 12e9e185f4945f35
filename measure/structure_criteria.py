"""How often the criteria from the picture network's masks are right: chambers cut off, reach of the heart, lung.

    python -m measure.structure_criteria --records FOLDER                  draws, asks, writes docs/accuracy.md
    python -m measure.structure_criteria --records FOLDER --print-only --ring A --first-seed 100 --subjects 2
    python -m measure.structure_criteria --records FOLDER --tables-only

The truth is the same rule on the true masks, which come from the same slice through the animal as the picture. Rings
are those of the measurement of the network itself: A' are animals of ring A that were kept from training. Another
network needs another folder of records; a run that was cut off goes on where it ended.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.recognise.picture_network import SHIPPED
from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure._recognition_figures import share_words
from measure.recognition import FIRST_SEED, NAMES
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
TABLE = "structure-criteria"
N_SUBJECTS = 14  # of each ring: two of each class of heart, 32 clips each
MEASURED_BY = (
    "measure/structure_criteria.py", "measure/_structure_answers.py", "measure/_structure_clips.py",
    "measure/_recognition_clips.py", "measure/_criterion_clips.py", "training/draw.py", "training/randomise.py",
    "src/fanlight/recognise/picture_square.py", "src/fanlight/recognise/structure_summary.py",
    "src/fanlight/critique/picture_masks.py", "src/fanlight/reference/tables/chambers.toml",
    "src/fanlight/reference/tables/criteria/picture_masks.toml", "src/fanlight/study/structure.py",
    "src/fanlight/recognise/picture.onnx",
)  # fmt: skip
# Of an outline: more than a tenth on an edge or behind lung is a fault, a fiftieth is the raggedness of masks. Of the
# depth: a heart that ends above 0.55 leaves the picture half empty, from 0.74 on it is well used (engineering
# judgement).
PLAIN, NONE = 0.10, 0.02
TOO_DEEP, WELL_USED = 0.55, 0.74

Record = dict[str, Any]
Rings = dict[str, list[Record]]


def one(job: tuple[int, Ring, Path]) -> list[Record]:
    """Return the records of a subject."""
    from fanlight.recognise.picture_network import open_network
    from measure._structure_answers import record_of
    from measure._structure_clips import clips_of

    seed, ring, path = job
    network = open_network(path)
    return [record_of(network, clip) for clip in clips_of(seed, ring)]


def draw(rings: Iterable[Ring], first: int | None, n_subjects: int, network: Path, folder: Path, workers: int) -> None:
    """Draw and ask all subjects whose records are not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    jobs = [((FIRST_SEED[r] if first is None else first) + k, r, network) for k in range(n_subjects) for r in rings]
    jobs = [job for job in jobs if not _path(folder, job[1], job[0]).exists()]
    with ProcessPoolExecutor(workers) as pool:
        for done, ((seed, ring, _), records) in enumerate(zip(jobs, pool.map(one, jobs), strict=True), start=1):
            _path(folder, ring, seed).write_text(json.dumps(records), encoding="utf-8")
            print(f"{done} of {len(jobs)} subjects", file=sys.stderr, flush=True)


def _path(folder: Path, ring: Ring, seed: int) -> Path:
    return folder / f"masks-{ring.value}-{seed:05d}.json"


def read_records(folder: Path, rings: Iterable[Ring]) -> Rings:
    """Return all records of a folder by ring.

    Raises
    ------
    SystemExit
        If a ring has none; the message says what to run.
    """
    found: Rings = {}
    for ring in rings:
        files = sorted(folder.glob(f"masks-{ring.value}-*.json"))
        if not files:
            raise SystemExit(f"{folder} holds no records of ring {ring.value}: run without --tables-only first")
        found[NAMES[ring]] = [record for file in files for record in json.loads(file.read_text("utf-8"))]
    return found


Choice = Callable[[Record, float], bool]  # a clip and the true value of the criterion on it


def _cut(key: str) -> list[tuple[str, str, bool, Choice]]:
    return [
        ("raised where more than a tenth of the outline is gone", key, True, lambda _, true: true > PLAIN),
        ("quiet where nothing is gone", key, False, lambda _, true: true < NONE),
        ("quiet on a steady hand's clips of these", key, False, lambda r, true: not r["fault"] and true < NONE),
    ]


ROWS: list[tuple[str, str, bool, Choice]] = [
    *_cut("chamber_cut"),
    ("of these raised: depth too small", "chamber_cut", True,
     lambda r, true: r["fault"] == "depth_small" and true > PLAIN),
    ("of these raised: probe slid or beam rocked", "chamber_cut", True,
     lambda r, true: r["fault"].startswith(("slide", "rock")) and true > PLAIN),
    ("raised where the heart ends above 0.55 of the depth", "heart_reach", True, lambda _, true: true < TOO_DEEP),
    ("quiet where it ends below 0.74", "heart_reach", False, lambda _, true: true > WELL_USED),
    ("quiet on a steady hand's clips", "heart_reach", False, lambda r, _: not r["fault"]),
    *_cut("chamber_covered"),
]  # fmt: skip


def table(rings: Rings) -> str:
    """Return what is raised and what is quiet, rings side by side, and how far the values lie from the truth."""
    lines = [f"| criterion | share of the judged clips | {' | '.join(f'ring {name}' for name in rings)} |"]
    lines.append("|---" * (len(rings) + 2) + "|")
    for words, key, wants_raised, choice in ROWS:
        cells = [_share(records, key, wants_raised, choice) for records in rings.values()]
        lines.append(f"| `{key}` | {words} | {' | '.join(cells)} |")
    for key in dict.fromkeys(row[1] for row in ROWS):
        cells = [_off(records, key) for records in rings.values()]
        lines.append(f"| `{key}` | off the value of the true masks, median and 90th percentile | {' | '.join(cells)} |")
    return "\n".join(lines)


def _share(records: list[Record], key: str, wants_raised: bool, choice: Choice) -> str:
    asked = [r["criteria"][key] for r in records if _is_true(r, key) and choice(r, r["criteria"][key]["true"])]
    judged = [item for item in asked if item["judged"]]
    words = share_words(sum(item["raised"] is wants_raised for item in judged), len(judged))
    left = len(asked) - len(judged)
    return f"{words}; {left} n. a." if left else words


def _is_true(record: Record, key: str) -> bool:
    return record["criteria"][key]["true"] is not None


def _off(records: list[Record], key: str) -> str:
    asked = [r["criteria"][key] for r in records if _is_true(r, key)]
    off = [abs(item["value"] - item["true"]) for item in asked if item["judged"]]
    if not off:
        return "– (n 0)"
    return f"{np.median(off):.3f}, {np.percentile(off, 90):.3f}, n {len(off)}"


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--network", type=Path, default=SHIPPED)
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--ring", choices=[ring.value for ring in Ring], help="one ring only; not for the page")
    parser.add_argument("--first-seed", type=int, help="with --print-only: other seeds than those of the page")
    parser.add_argument("--print-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.print_only and (given.ring or given.first_seed is not None):
        parser.error("the page shows all rings at their own seeds: --ring and --first-seed need --print-only")
    rings = [Ring(given.ring)] if given.ring else list(Ring)
    if not given.tables_only:
        draw(rings, given.first_seed, given.subjects, given.network, given.records, given.workers)
    found = read_records(given.records, rings)
    if given.print_only:
        print(table(found))
        return
    _write(found, given.network)


def _write(found: Rings, network: Path) -> None:
    import measure._structure_clips  # noqa: F401  so that the table names the simulator's code that it rests on

    spans = {name: sorted({r["seed"] for r in records}) for name, records in found.items()}
    inside = network.resolve().relative_to(ROOT).as_posix()
    write_table(
        PAGE, TABLE, table(found), script="measure/structure_criteria.py", describes=described(*MEASURED_BY, inside),
        seeds=", ".join(f"ring {n} {s[0]}-{s[-1]} ({len(found[n])} clips)" for n, s in spans.items()),
    )  # fmt: skip


if __name__ == "__main__":
    main()
