"""Train the picture network while clips are drawn, for a given time, with checkpoints to go on from. Needs PyTorch.

python -m training.train --data DIR --held-out DIR --out DIR --seconds 480 --seed 1
"""

from __future__ import annotations

import argparse
import json
import math
import time
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import array_api_compat.torch as xp
import torch

from training.augment import Dice, augmented
from training.label_sets import LANDMARKS, Structure, views
from training.losses import losses, total
from training.network import PictureNetwork, Sizes, n_parameters
from training.store import Store, net_input

MOST_RATE, WEIGHT_DECAY, WARM_STEPS = 2.5e-3, 0.02, 300
AVERAGE = 0.998  # of the weights: what is kept is their running mean
FRAMES_FED = (6, 6, 4, 3, 1)  # a clip may be short
BATCH_CLIPS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the command line says."""

    data: Path
    held_out: Path
    out: Path
    seconds: float
    seed: int
    batch: int
    capacity: int
    least_clips: int
    resume: Path | None


def sizes() -> Sizes:
    """Return how many things the network names."""
    return Sizes(names=len(views()) + 1, structures=len(Structure), landmarks=len(LANDMARKS))


def rate_at(share: float, step: int) -> float:
    """Return the learning rate after this share of the time: up at once, then down along half a cosine."""
    warm = min(1.0, (step + 1) / WARM_STEPS)
    return MOST_RATE * warm * (0.5 + 0.5 * math.cos(math.pi * min(share, 1.0)))


def _half(device: torch.device) -> Any:
    return torch.autocast("cuda", torch.bfloat16) if device.type == "cuda" else nullcontext()


class Trainer:
    """A network on its way."""

    def __init__(self, given: Given) -> None:
        self.given = given
        self.device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
        torch.manual_seed(given.seed)
        torch.backends.cudnn.benchmark = True
        self.network = PictureNetwork(sizes()).to(self.device).to(memory_format=torch.channels_last)
        self.mean = torch.optim.swa_utils.AveragedModel(
            self.network, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(AVERAGE), use_buffers=True
        )
        self.optimiser = torch.optim.AdamW(
            self.network.parameters(), lr=MOST_RATE, weight_decay=WEIGHT_DECAY, fused=self.device.type == "cuda"
        )
        self.step = 0
        self.dice = Dice(lambda shape: torch.rand(shape, device=self.device))
        self.log: list[dict[str, float]] = []
        self.before: list[dict[str, Any]] = []
        if given.resume:
            self._resume(given.resume)

    def _resume(self, path: Path) -> None:
        kept = torch.load(path, map_location=self.device, weights_only=True)
        self.network.load_state_dict(kept["mean"])
        self.mean.module.load_state_dict(kept["mean"])
        self.mean.n_averaged.fill_(1)
        self.before = kept["trainings"]

    def save(self, path: Path, spent_s: float, clips: int) -> None:
        """Write the mean network, from which training can go on, and how it came about."""
        said = {k: str(v) for k, v in asdict(self.given).items() if not isinstance(v, Path)}  # folders name machines
        this = {**said, "steps": self.step, "seconds_spent": spent_s,
                "clips": clips, "parameters": n_parameters(self.network)}  # fmt: skip
        mean = {k: v.half() if v.is_floating_point() else v for k, v in self.mean.module.state_dict().items()}
        part = path.with_suffix(".part")
        torch.save({"mean": mean, "trainings": [*self.before, this]}, part)
        part.rename(path)
        (path.parent / "log.json").write_text(json.dumps(self.log))

    def learn(self, store: Store) -> dict[str, float]:
        """Take one step."""
        n_frames = FRAMES_FED[int(torch.randint(0, len(FRAMES_FED), ()))]
        n_clips = min(self.given.batch * 6 // max(n_frames, 2), store.n)
        batch = store.batch(torch.randint(0, store.n, (n_clips,), device=self.device), n_frames)
        with torch.no_grad():
            batch = augmented(xp, self.dice, batch)
            fed = net_input(batch).contiguous(memory_format=torch.channels_last)
        self.network.train()
        with _half(self.device):
            answers = self.network(fed, n_frames)
        found = losses(answers, batch)
        loss = total(found)
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), 2.0)
        self.optimiser.step()
        self.mean.update_parameters(self.network)
        self.step += 1
        return found

    @torch.no_grad()
    def hold_out(self, store: Store, most: int = 1024) -> dict[str, float]:
        """Return blame and hits on clips that are not learned from."""
        self.mean.eval()
        sums: dict[str, float] = {}
        n = min(store.n, most)
        for start in range(0, n, 64):
            index = torch.arange(start, min(start + 64, n), device=self.device)
            batch = store.batch(index)
            with _half(self.device):
                answers = self.mean.module(net_input(batch), batch.phase.shape[1])
            found = {k: float(v) for k, v in losses(answers, batch).items()}
            clear = batch.shares.amax(1) >= 0.75
            right = answers.view.argmax(1) == batch.shares.argmax(1)
            found |= {"right": float((right & clear).sum()) / len(index), "clear": float(clear.sum()) / len(index)}
            there = batch.shares[:, -1] < 0.5
            side = (answers.mirrored > 0) == (batch.mirrored > 0.5)
            found |= {"side": float((side & there).sum()) / len(index), "there": float(there.sum()) / len(index)}
            for name, value in found.items():
                sums[name] = sums.get(name, 0.0) + value * len(index) / n
        sums["top-1"] = sums["right"] / max(sums["clear"], 1e-9)
        sums["side-right"] = sums["side"] / max(sums["there"], 1e-9)
        return sums

    def run(self) -> None:
        """Train until the time is up."""
        given, start = self.given, time.monotonic()
        store = Store(given.data, given.capacity, self.device)
        held = Store(given.held_out, 2048, self.device)
        while store.refresh() < given.least_clips:
            if time.monotonic() - start > given.seconds:
                raise SystemExit(f"{given.data} held {store.n} clips when the time was up: draw more or wait longer")
            time.sleep(1.0)
        next_look = 0.0
        while (spent := time.monotonic() - start) < given.seconds:
            for group in self.optimiser.param_groups:
                group["lr"] = rate_at(spent / given.seconds, self.step)
            found = self.learn(store)
            if spent >= next_look:
                next_look = spent + max(given.seconds / 16, 5.0)
                store.refresh(most_s=20.0)
                held.refresh()
                self._tell(spent, store, held, found)
                self.save(given.out / "checkpoint.pt", spent, store.n)
        self._tell(time.monotonic() - start, store, held, found)
        self.save(given.out / "checkpoint.pt", time.monotonic() - start, store.n)

    def _tell(self, spent: float, store: Store, held: Store, found: dict[str, Any]) -> None:
        row = {"seconds": spent, "steps": float(self.step), "clips": float(store.n)}
        row |= {f"train {k}": float(v.detach()) for k, v in found.items()}
        if held.n:
            row |= {f"held {k}": v for k, v in self.hold_out(held).items()}
        self.log.append(row)
        print(" ".join(f"{k} {v:.3g}" for k, v in row.items()), flush=True)


def main() -> None:
    """Read the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("data", "held-out", "out"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    parser.add_argument("--resume", type=Path)
    parser.add_argument("--seconds", type=float, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=BATCH_CLIPS, help="clips of six frames a step")
    parser.add_argument("--capacity", type=int, default=60_000, help="clips kept on the card")
    parser.add_argument("--least-clips", type=int, default=1500, help="before the first step")
    given = Given(**vars(parser.parse_args()))
    given.out.mkdir(parents=True, exist_ok=True)
    trainer = Trainer(given)
    print(f"{n_parameters(trainer.network)} parameters on {trainer.device}", flush=True)
    trainer.run()


if __name__ == "__main__":
    main()
