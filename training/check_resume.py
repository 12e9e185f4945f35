"""Check that a run cut in two takes the steps of one that is not cut, bit for bit. Needs PyTorch; takes a minute.

python -m training.check_resume --work DIR

On the processor, one thread, from clips of noise: so the same steps give the same bits. It fails where one number of
the weights, of their mean or of the optimiser differs, and also where a warm start does *not* differ: then it could
not tell. It stands here and not among the tests because PyTorch is needed where training is done, nowhere else.
"""

from __future__ import annotations

import argparse
import math
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ["CUDA_VISIBLE_DEVICES"] = ""  # before PyTorch looks: only the processor repeats itself to the bit

import numpy as np
import torch

from training.shards import Shard, shard_name, write
from training.train import Given, Trainer, sizes

SIDE_PX, MASK_PX, FRAMES, CLIPS = 160, 80, 6, 3
STEPS, CUT = 6, 3
SEED = 5


def noise(rng: np.random.Generator) -> Shard:
    """Return clips of nothing, shaped as real ones."""
    size = sizes()
    return Shard(
        frames=rng.integers(0, 256, (CLIPS, FRAMES, SIDE_PX, SIDE_PX), dtype=np.uint8),
        masks=rng.integers(0, size.structures, (CLIPS, FRAMES, MASK_PX, MASK_PX), dtype=np.uint8),
        points_px=rng.uniform(0, SIDE_PX, (CLIPS, FRAMES, size.landmarks, 2)).astype(np.float16),
        off_units=rng.uniform(0, 0.3, (CLIPS, FRAMES, size.landmarks)).astype(np.float16),
        phase=rng.uniform(0, 1, (CLIPS, FRAMES)).astype(np.float32),
        shares=rng.dirichlet(np.ones(size.names), CLIPS).astype(np.float32),
        mirrored=rng.random(CLIPS) < 0.5,
        inside=np.ones((CLIPS, SIDE_PX, SIDE_PX), bool),
    )


def trained(given: Given) -> Trainer:
    """Return a trainer that has run as far as it was told."""
    given.out.mkdir(parents=True, exist_ok=True)
    trainer = Trainer(given)
    trainer.run()
    return trainer


def differing(one: Any, other: Any, name: str = "") -> list[str]:
    """Return the names of all numbers that differ in two nests of tables."""
    if isinstance(one, torch.Tensor):
        return [] if torch.equal(one, other) else [name]
    if isinstance(one, dict):
        if one.keys() != other.keys():
            return [name]
        return [found for key in one for found in differing(one[key], other[key], f"{name}.{key}")]
    if isinstance(one, list | tuple):
        if len(one) != len(other):
            return [name]
        return [
            found for k, (a, b) in enumerate(zip(one, other, strict=True)) for found in differing(a, b, f"{name}.{k}")
        ]
    return [] if one == other else [name]


def state(trainer: Trainer) -> dict[str, Any]:
    """Return all that the next step hangs on."""
    return {
        "network": trainer.network.state_dict(), "mean": trainer.mean.state_dict(),
        "optimiser": trainer.optimiser.state_dict(), "random": torch.get_rng_state(),
        "shards": trainer.store.taken, "step": trainer.step,
    }  # fmt: skip


def main() -> None:
    """Read the command line and check."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path, required=True, help="an empty folder; 0.3 GB")
    work: Path = parser.parse_args().work
    torch.set_num_threads(1)
    rng = np.random.default_rng(SEED)
    for folder, seeds in (("train", range(0, 4, 2)), ("train", range(1, 4, 2)), ("held", range(9500, 9501))):
        (work / folder).mkdir(parents=True, exist_ok=True)
        write(work / folder / shard_name(seeds), noise(rng))
    whole = Given(
        data=work / "train", held_out=work / "held", out=work / "straight", seconds=math.inf, seed=SEED, batch=2,
        capacity=100, least_clips=2 * CLIPS, resume=None, warm_from=None, steps=STEPS, pause_after_s=math.inf,
        pause_at_step=None,
    )  # fmt: skip
    straight = state(trained(whole))
    trained(replace(whole, out=work / "cut", pause_at_step=CUT))
    kept = work / "cut" / "checkpoint.pt"
    torch.manual_seed(SEED + 1)  # a new process would not stand where this one does
    cut = state(trained(replace(whole, out=work / "cut", resume=kept)))
    if found := differing(straight, cut):
        raise SystemExit(f"{len(found)} parts differ after {STEPS} steps, cut at {CUT}: {', '.join(found[:5])}")
    trained(replace(whole, out=work / "again", pause_at_step=CUT))
    warm = state(trained(replace(whole, out=work / "warm", warm_from=work / "again" / "checkpoint.pt", steps=CUT)))
    if not any(name.startswith(".network") for name in differing(straight, warm)):
        raise SystemExit("a warm start gave the same weights: this check could not tell a cut run from a whole one")
    tensors = sum(isinstance(v, torch.Tensor) for v in straight["network"].values())
    print(
        f"{STEPS} steps, and {CUT} + {STEPS - CUT} with a cut between: equal bit for bit ({tensors} tables of weights)"
    )


if __name__ == "__main__":
    main()
