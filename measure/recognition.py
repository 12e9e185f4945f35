"""How well the picture network names views, finds landmarks and structures, and knows when it is not sure.

    python -m measure.recognition --network FILE --records FOLDER            draws, asks, writes docs/model-card.md
    python -m measure.recognition --network FILE --records FOLDER --draw-only --workers 16
    python -m measure.recognition --network FILE --records FOLDER --tables-only

Rings side by side: A' are animals of ring A that were kept from training, though training was stopped by them; B are
fresh seeds; C comes from the shifted generator. Drawing may be done on another machine: the folder of records is
carried from there, and the tables are written here.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

from fanlight.reference.load import load_house
from fanlight.reference.recognition import read_recognition_limits
from fanlight.simulate.clip.ring import Ring

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "model-card.md"
# Ring A's share are the seeds that training never drew; see training.one_go.
FIRST_SEED = {Ring.A: 9500, Ring.B: 10_000, Ring.C: 15_000}
NAMES = {Ring.A: "A'", Ring.B: "B", Ring.C: "C"}
N_SUBJECTS = 42  # six of each class of heart
LIMIT = read_recognition_limits(load_house()).view_from  # from which on a view is proposed


def one(job: tuple[int, Ring, Path, Path | None]) -> list[dict[str, Any]]:
    """Return the records of a subject."""
    from fanlight.recognise.picture_network import open_network
    from measure._recognition_answers import record_of
    from measure._recognition_clips import shots_of, show

    seed, ring, path, beside = job
    network, second = open_network(path), open_network(beside) if beside else None
    return [record_of(network, show(shot), second) for shot in shots_of(seed, ring)]


def draw(network: Path, second: Path | None, folder: Path, n_subjects: int, workers: int, until_s: float) -> None:
    """Draw and ask all subjects whose records are not there yet, rings in turn, until the time is up."""
    folder.mkdir(parents=True, exist_ok=True)
    jobs = [(FIRST_SEED[ring] + k, ring, network, second) for k in range(n_subjects) for ring in Ring]
    jobs = [job for job in jobs if not record_path(folder, job[1], job[0]).exists()]
    with ProcessPoolExecutor(workers) as pool:
        for start in range(0, len(jobs), workers):
            if time.monotonic() > until_s:
                break
            some = jobs[start : start + workers]
            for (seed, ring, *_), records in zip(some, pool.map(one, some), strict=True):
                record_path(folder, ring, seed).write_bytes(gzip.compress(json.dumps(records).encode()))
            print(f"{min(start + workers, len(jobs))} of {len(jobs)} subjects", flush=True)


def record_path(folder: Path, ring: Ring, seed: int) -> Path:
    """Return the file of a subject's records."""
    return folder / f"{ring.value}-{seed:05d}.json.gz"


def read_records(folder: Path) -> dict[str, list[dict[str, Any]]]:
    """Return all records of a folder by ring.

    Raises
    ------
    SystemExit
        If a ring has none; the message says what to run.
    """
    rings: dict[str, list[dict[str, Any]]] = {}
    for ring in Ring:
        files = sorted(folder.glob(f"{ring.value}-*.json.gz"))
        if not files:
            raise SystemExit(f"{folder} holds no records of ring {ring.value}: run without --tables-only first")
        rings[NAMES[ring]] = [r for file in files for r in json.loads(gzip.decompress(file.read_bytes()))]
    return rings


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--network", type=Path, required=True)
    parser.add_argument("--second", type=Path, help="of another training, held beside it")
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, default=1e9, help="after which no subject is begun")
    parser.add_argument("--draw-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.tables_only:
        until_s = time.monotonic() + given.seconds
        draw(given.network, given.second, given.records, given.subjects, given.workers, until_s)
    if not given.draw_only:
        from measure._recognition_card import write_card

        write_card(PAGE, given.network, read_records(given.records))


if __name__ == "__main__":
    main()
