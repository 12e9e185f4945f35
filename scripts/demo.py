"""Simulate an invented study, review it, and say where the results lie.

    python scripts/demo.py [--no-serve] [--out DIR]

An improving hand scans a healthy dog of 12 kg; practice, people and animal are invented. What is true of the study lies
in a folder of its own, which the review does not open. There is nothing to serve yet; the paths are printed either way.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SEED = 6  # ring A; this hand leaves the depth of a larger animal and puts the probe too far ventral


def main(arguments: list[str]) -> int:
    """Simulate and review; return the exit code."""
    parser = argparse.ArgumentParser(prog="scripts/demo", description="Simulate an invented study and review it.")
    parser.add_argument("--out", type=Path, default=ROOT / "demo-output", help="folder for the study and the results")
    parser.add_argument("--no-serve", action="store_true", help="only print the paths (there is nothing to serve yet)")
    out = parser.parse_args(arguments).out.resolve()
    study, truth, results = out / "study", out / "truth", out / "review"
    for made in (study, truth):  # by an earlier run; nothing else is thrown away
        if any(truth.glob("*.json")) or not any(made.glob("*")):
            shutil.rmtree(made, ignore_errors=True)
    print(f"Simulating a study into {study}: an improving hand, a healthy dog of 12 kg", flush=True)
    code = _fanlight(
        "simulate", "--seed", str(SEED), "--weight", "12", "--hand", "improving", "--plan", "full_right_side",
        "--workers", str(min(os.cpu_count() or 1, 4)), "--out", str(study), "--truth", str(truth),
    )  # fmt: skip
    if code == 0:
        print("Reviewing it", flush=True)
        code = _fanlight("review", str(study), "--out", str(results))
    if code == 0:
        print(f"The results lie in {results}. Start with letter.pdf, then summary.pdf and study-sheet.html.")
        print(f"What is true of the study lies in {truth}: hold the letter against it.")
    else:
        print(f"The demo ended with exit code {code}; docs/cli.md says what that means.", file=sys.stderr)
    return code


def _fanlight(*arguments: str) -> int:
    return subprocess.call([sys.executable, "-m", "fanlight.cli", *arguments], cwd=ROOT)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
