"""Draw, train and export in one go: what a leased machine is given.

python -m training.one_go --work DIR --out DIR --seconds 500 --seed 1

Draws held-out clips first, then training clips on all cores but one while the network already learns from them.
A run longer than a command may take is cut: the first command says how long it is, and the next ones go on with it.

python -m training.one_go --work DIR --out DIR --seconds 580 --run-seconds 900 --seed 1
python -m training.one_go --work DIR --out DIR --seconds 580 --run-seconds 900 --seed 1 --resume
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

from training.checkpoint import PAUSED

HELD_OUT_SEEDS, TRAINING_SEEDS = (9500, 9999), (0, 9499)
HELD_OUT_SHARE, EXPORT_S = 0.07, 35.0  # of the time; seconds
NO_CHECKPOINT = {
    "resume": "--resume goes on with a run that was paused; begin it without, or name its folder with --out",
    "warm": "name a checkpoint with --warm-from",
}


def main() -> None:
    """Read the command line and run the steps."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path, required=True, help="room for drawn clips: 0.2 MB each")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, required=True, help="for all of this command")
    parser.add_argument("--run-seconds", type=float, help="of training, all commands together; else what is left here")
    parser.add_argument("--seed", type=int, default=1)
    go_on = parser.add_mutually_exclusive_group()
    go_on.add_argument("--resume", action="store_true", help="go on with the run of --out")
    go_on.add_argument("--warm-from", type=Path, help="a checkpoint: begin a run from its weights")
    parser.add_argument("--capacity", type=int, default=60_000)
    parser.add_argument("--least-clips", type=int, default=1500)
    parser.add_argument("--first-seed", type=int, default=TRAINING_SEEDS[0], help="of the animals to draw")
    parser.add_argument("--cool-s", type=float, default=60.0, help="of training after the last clip was drawn")
    parser.add_argument("--commit", default="")
    given = parser.parse_args()
    if given.resume and not given.run_seconds:
        parser.error("--resume needs --run-seconds, as the run began")
    held, checkpoint = given.work / "held", given.out / "checkpoint.pt"
    begun_from = checkpoint if given.resume else given.warm_from
    if begun_from and not begun_from.is_file():
        parser.error(f"{begun_from} is not there: {NO_CHECKPOINT['resume' if given.resume else 'warm']}")
    start = time.monotonic()
    given.out.mkdir(parents=True, exist_ok=True)
    workers = max(1, (os.cpu_count() or 2) - 1)
    if not given.resume:
        run("training.draw_shards", "--out", held, "--first-seed", HELD_OUT_SEEDS[0], "--last-seed", HELD_OUT_SEEDS[1],
            "--workers", workers, "--clips", 8, "--seconds", HELD_OUT_SHARE * given.seconds)  # fmt: skip
    left = given.seconds - (time.monotonic() - start) - EXPORT_S
    drawing = begin("training.draw_shards", "--out", given.work / "train", "--first-seed", given.first_seed,
        "--last-seed", TRAINING_SEEDS[1], "--workers", workers, "--seconds", left - given.cool_s)  # fmt: skip
    begun = ["--resume", checkpoint] if given.resume else ["--warm-from", given.warm_from] if given.warm_from else []
    code = begin("training.train", "--data", given.work / "train", "--held-out", held, "--out", given.out,
        "--seconds", given.run_seconds or left, "--pause-after-s", left, "--seed", given.seed,
        "--capacity", given.capacity, "--least-clips", given.least_clips, *begun).wait()  # fmt: skip
    drawing.wait()
    if code == PAUSED:
        print(f"paused after {time.monotonic() - start:.0f} s: go on with the same words and --resume", flush=True)
        return
    if code:
        raise SystemExit(code)
    run("training.export", "--checkpoint", checkpoint, "--held-out", held, "--out",
        given.out / "picture.onnx", "--commit", given.commit)  # fmt: skip
    print(f"all of it took {time.monotonic() - start:.0f} s", flush=True)


def begin(module: str, *words: object) -> subprocess.Popen[bytes]:
    """Start a step beside the others, one thread a process for what is drawn."""
    threads = {} if module == "training.train" else {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen([sys.executable, "-m", module, *map(str, words)], env={**os.environ, **threads})


def run(module: str, *words: object) -> None:
    """Run a step to its end; SystemExit with its own code where it fails."""
    code = begin(module, *words).wait()
    if code:
        raise SystemExit(code)


if __name__ == "__main__":
    main()
