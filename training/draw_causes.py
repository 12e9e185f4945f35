"""Draw clips with known causes on all cores until the time is up; what was said of them goes into one file.

python -m training.draw_causes --out FILE.json.gz --first-seed 9600 --seconds 480
"""

from __future__ import annotations

import argparse
import gzip
import json
import multiprocessing
import os
import time
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

# Of ring A, and kept from the training of the picture network, which would see its own animals too well. Those below
# stand in the tables of the documentation.
FIRST_SEED, LAST_SEED = 9600, 9999


def work(order: tuple[int, int, float]) -> list[dict[str, Any]]:
    """Draw every `step`-th animal from `seed` on until the time is up."""
    # here, so that the parent starts at once and each worker loads for itself
    import cv2

    from training.cause_clips import clips_of

    cv2.setNumThreads(1)
    seed, step, until_s = order
    found: list[dict[str, Any]] = []
    for own in range(seed, LAST_SEED + 1, step):
        try:
            for record in clips_of(own):
                found.append(record)
                if time.time() >= until_s:
                    return found
        except ValueError as error:
            if "no view is free" not in str(error):
                raise
    return found


def main() -> None:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, required=True)
    given = parser.parse_args()
    if not FIRST_SEED <= given.first_seed <= LAST_SEED:
        parser.error(f"causes are learnt from animals {FIRST_SEED} to {LAST_SEED}")
    start = time.time()
    orders = [(given.first_seed + k, given.workers, start + given.seconds) for k in range(given.workers)]
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        found = [record for part in pool.map(work, orders, chunksize=1) for record in part]
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_bytes(gzip.compress(json.dumps({"clips": found}).encode()))
    animals = len({record["seed"] for record in found})
    print(f"{len(found)} clips of {animals} animals in {time.time() - start:.0f} s on {given.workers} workers")


if __name__ == "__main__":
    main()
