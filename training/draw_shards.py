"""Draw clips on all cores until the time is up.

python -m training.draw_shards --out DIR --first-seed 0 --last-seed 9499 --workers 16 --seconds 400

Animals whose clips already lie in the folder are passed over: the same command again goes on where the last one ended.
Another number of --drawing draws other clips of the same animals, so that a second training sees none of the first's.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from training.shards import drawn_seeds

CLIPS_PER_SUBJECT = 14
SHARD_SUBJECTS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What one worker is to draw: every `step`-th seed from `seed` on, those left out that are there already."""

    out: Path
    seed: int
    last_seed: int
    step: int
    clips: int
    drawing: int  # which clips of these animals
    done: frozenset[int]  # seeds that are there already
    until_s: float  # time.time() at which no new subject is begun


def work(order: Order) -> int:
    """Draw subjects in turn and write a shard for a few of them; return the number of clips."""
    # here, so that the parent starts at once and each worker loads for itself
    import cv2

    from training.draw import Sample, draw
    from training.light_former import FieldBank
    from training.randomise import draw_shot, draw_subject
    from training.shards import shard_name, shard_of, write

    cv2.setNumThreads(1)  # one core a worker; else each keeps as many threads as the machine has cores
    pending: list[Sample] = []
    drawn, seeds, bank = 0, range(order.seed, order.seed, order.step), FieldBank()
    for seed in range(order.seed, order.last_seed + 1, order.step):
        full = len(seeds) == SHARD_SUBJECTS or seed in order.done
        if pending and (full or time.time() >= order.until_s):
            write(order.out / shard_name(seeds), shard_of(pending))
            drawn, pending = drawn + len(pending), []
        if time.time() >= order.until_s:
            break
        if seed in order.done:
            continue
        seeds = range(seeds.start if pending else seed, seed + 1, order.step)
        subject = draw_subject(seed)
        rng = np.random.default_rng([seed, 73, order.drawing])  # 0 draws what [seed, 73] does
        pending += [draw(draw_shot(subject, rng), rng, bank=bank) for _ in range(order.clips)]
    if pending:
        write(order.out / shard_name(seeds), shard_of(pending))
    return drawn + len(pending)


def main() -> None:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first-seed", type=int, required=True)
    parser.add_argument("--last-seed", type=int, required=True)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--clips", type=int, default=CLIPS_PER_SUBJECT, help="of each subject")
    parser.add_argument("--drawing", type=int, default=0, help="0 or more; another number: other clips of each subject")
    parser.add_argument("--seconds", type=float, required=True)
    given = parser.parse_args()
    if not 0 <= given.first_seed <= given.last_seed < 10_000:
        parser.error("training draws from ring A only: seeds 0 to 9999")
    if given.drawing < 0:
        parser.error(f"--drawing {given.drawing}: 0 or more")
    given.out.mkdir(parents=True, exist_ok=True)
    try:
        done = frozenset(drawn_seeds(given.out))
    except ValueError as error:
        parser.error(str(error))
    start = time.time()
    orders = [
        Order(
            out=given.out, seed=given.first_seed + k, last_seed=given.last_seed, step=given.workers, clips=given.clips,
            drawing=given.drawing, done=done, until_s=start + given.seconds,
        )
        for k in range(given.workers)
    ]  # fmt: skip
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        drawn = pool.map(work, orders, chunksize=1)
    print(f"drawn {sum(drawn)} clips in {time.time() - start:.0f} s on {given.workers} workers", flush=True)


if __name__ == "__main__":
    main()
