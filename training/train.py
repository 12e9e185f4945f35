"""Train the picture network while clips are drawn, for a given time, with checkpoints to go on from. Needs PyTorch.

python -m training.train --data DIR --held-out DIR --out DIR --seconds 900 --seed 1 --pause-after-s 480
python -m training.train --data DIR --held-out DIR --out DIR --seconds 900 --seed 1 --resume DIR/checkpoint.pt

A run that is paused and resumed takes the steps that it would have taken uncut, bit for bit where the arithmetic of the
machine is the same each time (`training.check_resume`). --warm-from begins another run from the weights of one.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import array_api_compat.torch as xp
import torch

from training.augment import Dice, augmented
from training.checkpoint import PAUSED, RULES, Place, place_of, share_of
from training.label_sets import LANDMARKS, Structure, views
from training.losses import losses, total
from training.network import PictureNetwork, Sizes, n_parameters
from training.store import Store, net_input

MOST_RATE, WEIGHT_DECAY, WARM_STEPS = 2.5e-3, 0.02, 300
AVERAGE = 0.998  # of the weights: what is kept is their running mean
FRAMES_FED = (6, 6, 4, 3, 1)  # a clip may be short
BATCH_CLIPS = 64
HELD_CLIPS = 2048
LOOKS = 16  # in a run: clips that came are taken up, progress is told, a checkpoint written


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
    warm_from: Path | None
    steps: int | None
    pause_after_s: float
    pause_at_step: int | None

    @property
    def rules(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in RULES}


def sizes() -> Sizes:
    """Return how many things the network names."""
    return Sizes(names=len(views()) + 1, structures=len(Structure), landmarks=len(LANDMARKS))


def rate_at(share: float, step: int) -> float:
    """Return the learning rate after this share of the run: up at once, then down along half a cosine."""
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
        self.step, self.spent_s, self.next_look = 0, 0.0, 0.0
        self.dice = Dice(lambda shape: torch.rand(shape, device=self.device))
        self.log: list[dict[str, float]] = []
        self.before: list[dict[str, Any]] = []
        self.cuts: tuple[int, ...] = ()
        self.store = Store(given.data, given.capacity, self.device)
        self.held = Store(given.held_out, HELD_CLIPS, self.device)
        if given.resume:
            self._resume(given.resume)
        elif given.warm_from:
            self._warm(given.warm_from)

    def _warm(self, path: Path) -> None:
        """Take the mean weights of another run; all else begins anew."""
        kept = torch.load(path, map_location=self.device, weights_only=True)
        self.network.load_state_dict(kept["mean"])
        self.mean.module.load_state_dict(kept["mean"])
        self.mean.n_averaged.fill_(1)
        self.before = kept["trainings"]

    def _resume(self, path: Path) -> None:
        """Stand where a run stood; ValueError as `place_of`, or if clips that it learned from are gone."""
        kept = torch.load(path, map_location="cpu", weights_only=True)
        place, run = place_of(kept, path, self.given.rules), kept["run"]
        self.store.take_up(place.shards)
        self.held.take_up(place.held)
        self.network.load_state_dict(run["network"])
        self.mean.load_state_dict(run["mean"])
        self.optimiser.load_state_dict(run["optimiser"])
        self.step, self.spent_s, self.next_look = place.steps, place.spent_s, place.next_look
        self.before, self.log = kept["trainings"][:-1], run["log"]
        self.cuts = (*place.cuts, place.steps)
        # last: nothing between here and the next step may draw
        torch.set_rng_state(run["random"])
        if self.device.type == "cuda" and run["random_cuda"] is not None:
            torch.cuda.set_rng_state(run["random_cuda"], self.device)

    def save(self, path: Path) -> None:
        """Write the mean network, how it came about, and all from which the run goes on."""
        this = {**{k: str(v) for k, v in self.given.rules.items()}, "steps": self.step, "seconds_spent": self.spent_s,
                "clips": self.store.n, "parameters": n_parameters(self.network),
                "gone_on_at_steps": list(self.cuts)}  # fmt: skip
        mean = {k: v.half() if v.is_floating_point() else v for k, v in self.mean.module.state_dict().items()}
        place = Place(
            rules=self.given.rules, steps=self.step, spent_s=self.spent_s, next_look=self.next_look,
            shards=self.store.taken, held=self.held.taken, cuts=self.cuts,
        )  # fmt: skip
        cuda = torch.cuda.get_rng_state(self.device) if self.device.type == "cuda" else None
        run = {
            "place": place.kept(), "network": self.network.state_dict(), "mean": self.mean.state_dict(),
            "optimiser": self.optimiser.state_dict(), "log": self.log,
            "random": torch.get_rng_state(), "random_cuda": cuda,
        }  # fmt: skip
        part = path.with_suffix(".part")
        torch.save({"mean": mean, "trainings": [*self.before, this], "run": run}, part)
        part.rename(path)
        (path.parent / "log.json").write_text(json.dumps(self.log))

    def learn(self) -> dict[str, Any]:
        """Take one step."""
        store = self.store
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
    def hold_out(self, most: int = 1024) -> dict[str, float]:
        """Return blame and hits on clips that are not learned from."""
        self.mean.eval()
        store = self.held
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

    def run(self) -> bool:
        """Train until the run is over or is to be paused; return whether it is over."""
        given, begun = self.given, time.monotonic()
        if not self.step:
            self._wait_for_clips()
            self.spent_s = time.monotonic() - begun
        since, found = time.monotonic() - self.spent_s, {}
        while (share := share_of(given.rules, self.step, self.spent_s)) < 1.0:
            if time.monotonic() - begun >= given.pause_after_s or self.step == given.pause_at_step:
                self.save(given.out / "checkpoint.pt")
                return False
            for group in self.optimiser.param_groups:
                group["lr"] = rate_at(share, self.step)
            found = self.learn()
            if share >= self.next_look:
                self.next_look = share + 1 / LOOKS
                self.store.refresh(most_s=20.0)
                self.held.refresh()
                self._tell(found)
                self.save(given.out / "checkpoint.pt")
            self.spent_s = time.monotonic() - since
        self._tell(found)
        self.save(given.out / "checkpoint.pt")
        return True

    def _wait_for_clips(self) -> None:
        start = time.monotonic()
        while self.store.refresh() < self.given.least_clips:
            if time.monotonic() - start > self.given.seconds:
                raise SystemExit(
                    f"{self.given.data} held {self.store.n} clips when the time was up: draw more or wait longer"
                )
            time.sleep(1.0)

    def _tell(self, found: dict[str, Any]) -> None:
        row = {"seconds": self.spent_s, "steps": float(self.step), "clips": float(self.store.n)}
        row |= {f"train {k}": float(v.detach()) for k, v in found.items()}
        if self.held.n:
            row |= {f"held {k}": v for k, v in self.hold_out().items()}
        self.log.append(row)
        print(" ".join(f"{k} {v:.3g}" for k, v in row.items()), flush=True)


def main() -> None:
    """Read the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("data", "held-out", "out"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    go_on = parser.add_mutually_exclusive_group()
    go_on.add_argument("--resume", type=Path, help="a checkpoint: go on with its run")
    go_on.add_argument("--warm-from", type=Path, help="a checkpoint: begin a run from its weights")
    parser.add_argument("--seconds", type=float, required=True, help="of the whole run, pauses left out")
    parser.add_argument("--steps", type=int, help="of the whole run; then time decides nothing")
    parser.add_argument("--pause-after-s", type=float, default=math.inf, help="of this command")
    parser.add_argument("--pause-at-step", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=BATCH_CLIPS, help="clips of six frames a step")
    parser.add_argument("--capacity", type=int, default=60_000, help="clips kept on the card")
    parser.add_argument("--least-clips", type=int, default=1500, help="before the first step")
    given = Given(**vars(parser.parse_args()))
    given.out.mkdir(parents=True, exist_ok=True)
    try:
        trainer = Trainer(given)
    except ValueError as error:
        parser.error(str(error))
    print(f"{n_parameters(trainer.network)} parameters on {trainer.device}, from step {trainer.step} on", flush=True)
    if not trainer.run():
        print(f"paused at step {trainer.step}: go on with --resume {given.out / 'checkpoint.pt'}", flush=True)
        raise SystemExit(PAUSED)


if __name__ == "__main__":
    main()
