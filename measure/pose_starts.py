"""Whether the pose fit needs a better start: the standard plane alone, the shipped starts, every movement both ways.

One clear fault in a clip, animals of ring A. A start falls short when its search ends at a worse place than the best
of all starts.

    python -m measure.pose_starts              writes docs/pose-fit.md
    python -m measure.pose_starts --animals 4  prints the table for few animals
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.family import load_family
from fanlight.heart.fit.habits import N_KINDS, SLAB_SD
from fanlight.heart.fit.problem import Problem
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.fit.solve import START_SD, search, starts
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand_level import HandLevel
from measure._pose_cases import added, animal_of, pose_after, scatter_of, scattered, seen_at
from measure._pose_subject import GRADES, KINDS, SINGLE
from measure._pose_table import share
from measure.pose_fit import PAGE, described
from scripts.measured import write_table

Floats = NDArray[np.float64]
SCRIPT = "measure/pose_starts.py"
FIRST_SEED, N_ANIMALS = 2_000, 14
WORSE = (0.1, 1.0)  # of minus the logarithm of the posterior: not worth a word, and enough to change probabilities


def drawn_clips(seed: int) -> list[ClipSeen]:
    """Return three clips of one animal, each with one clear fault."""
    animal, rng = animal_of(seed, Ring.A), np.random.default_rng([seed, 41])
    scatter, k = scatter_of(Ring.A, HandLevel.IMPROVING, seed), animal.thorax.scale_ratio
    out = []
    for number in range(3):
        view = SINGLE[(seed + 2 * number) % len(SINGLE)]
        kind = tuple(KINDS)[(seed + number) % len(KINDS)]
        fault = FAULTS[KINDS[kind][int(rng.integers(2))]]
        amount = fault.steps[int(rng.choice(GRADES)) - 1] * (k if fault.grows_with_body else 1.0)
        amounts = added({kind: float(amount)}, scattered(scatter, k, rng))
        try:
            out.append(seen_at(animal, view, pose_after(animal, view, amounts), rng))
        except ValueError as error:  # no place to stand, or too few landmarks: there is nothing to search
            print(f"seed {seed}, {view} left out: {error}")
    return out


def every_start(problem: Problem) -> list[Floats]:
    """Return the standard plane and every movement alone, both ways."""
    plain = problem.start()
    moved = []
    for kind in range(N_KINDS):
        for sense in (1.0, -1.0):
            one = plain.copy()
            one[problem.move_part(0).start + kind] = sense * START_SD * SLAB_SD[kind]
            moved.append(one)
    return [plain, *moved]


def table_of(clips: Sequence[ClipSeen]) -> str:
    """Return how often each set of starts falls short, and its time."""
    family = load_family()
    names = ("standard plane alone", "shipped: standard plane, tilted and rotated", "every movement both ways")
    costs, times = np.zeros((len(clips), 3)), np.zeros((len(clips), 3))
    for row, clip in enumerate(clips):
        problem = Problem(family, [clip])
        for col, begun in enumerate((starts(problem, 0)[:1], starts(problem, 0), every_start(problem))):
            began = time.process_time()
            costs[row, col] = search(problem, begun)[0].local.cost
            times[row, col] = time.process_time() - began
    short = costs - costs.min(axis=1, keepdims=True)
    head = "| starts | " + " | ".join(f"worse by more than {w:g}" for w in WORSE) + " | processor time a clip |"
    lines = [head, "|---" * (len(WORSE) + 2) + "|"]
    for col, name in enumerate(names):
        cells = [share(int((short[:, col] > worse).sum()), len(clips)) for worse in WORSE]
        lines.append(f"| {name} | " + " | ".join(cells) + f" | {times[:, col].mean():.2f} s |")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--animals", type=int, default=N_ANIMALS)
    n = parser.parse_args().animals
    table = table_of([clip for seed in range(FIRST_SEED, FIRST_SEED + n) for clip in drawn_clips(seed)])
    if n != N_ANIMALS:
        print(table)
        return
    seeds = f"ring A, {FIRST_SEED} to {FIRST_SEED + n - 1}"
    write_table(PAGE, "pose-fit-starts", table, script=SCRIPT, describes=[*described(), SCRIPT], seeds=seeds)


if __name__ == "__main__":
    main()
