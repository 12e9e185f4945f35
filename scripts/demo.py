"""Simulate two invented studies, review them, say where the results lie, and open the desk on them.

    python scripts/demo.py [--no-serve] [--out DIR]

An improving hand scans a healthy dog of 12 kg. A beginner looks at one of 9 kg for the first time; there a mentor
marked landmarks, so that letter and desk tell how to move the probe (demo_visit.py). Practices, people and animals are
invented. What is true of the studies lies in folders of its own, which neither review nor desk opens. The desk keeps
what is done there in a folder beside them.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SEED = 27  # ring A; this hand leaves the depth of a larger animal, but for M-modes, which are measured
COMMAND = [sys.executable, "-m", "fanlight.cli"]
# The plan of the whole right side asks for colour only; this trainee stored the spectra of the pulmonic valve as well,
# and named M-modes and spectra, as people do who measure on them: unnamed strips are measured once somebody names them.
SETTING = (
    "--seed", str(SEED), "--weight", "12", "--hand", "improving", "--plan", "full_right_side", "--spectra", "pulmonic",
    "--label-strips",
)  # fmt: skip

SIMULATE = (*COMMAND, "simulate")
FIRST_LOOK = (sys.executable, "-m", "scripts.demo_visit")


def main(arguments: list[str]) -> int:
    """Simulate and review both studies and serve; return the exit code."""
    parser = argparse.ArgumentParser(prog="scripts/demo", description="Simulate two invented studies and review them.")
    parser.add_argument("--out", type=Path, default=ROOT / "demo-output", help="folder for studies and results")
    parser.add_argument("--no-serve", action="store_true", help="end with the letter; do not open the desk")
    asked = parser.parse_args(arguments)
    out = asked.out.resolve()
    study, first_look = out / "study", out / "first-look"
    workers = ("--workers", str(min(os.cpu_count() or 1, 4)))
    steps = (
        ("an improving hand, a healthy dog of 12 kg", study, out / "truth", out / "review", [*SIMULATE, *SETTING]),
        ("a beginner's first look, landmarks marked by a mentor", first_look, out / "first-look-truth",
         out / "first-look-review", FIRST_LOOK),
    )  # fmt: skip
    code = 0
    for what, made, truth, results, simulate in steps:
        code = code or _study(what, made, truth, results, [*simulate, *workers])
    if code == 0:
        print(f"What `fanlight check` says of {first_look} while the animal is still on the table:", flush=True)
        code = _fanlight("check", str(first_look), "--quiet")
    if code == 0 and not asked.no_serve:
        # The same seeds make the same files: what was done at the desk last time is still there.
        print(f"Opening the desk on both; what is done there is kept in {out / 'desk'}.", flush=True)
        places = ("--study", str(study), "--study", str(first_look), "--data", str(out / "desk"))
        code = _fanlight("desk", *places, "--read-first", "--port", "0")
    if code:
        print(f"The demo ended with exit code {code}; docs/cli.md says what that means.", file=sys.stderr)
    return code


def _study(what: str, study: Path, truth: Path, results: Path, simulate: Sequence[str]) -> int:
    """Simulate a study, review it and say where the results lie; return the exit code."""
    for made in (study, truth):  # by an earlier run; nothing else is thrown away
        if any(truth.glob("*.json")) or not any(made.glob("*")):
            shutil.rmtree(made, ignore_errors=True)
    print(f"Simulating a study into {study}: {what}", flush=True)
    code = _run(*simulate, "--out", str(study), "--truth", str(truth))
    if code == 0:
        print("Reviewing it", flush=True)
        code = _fanlight("review", str(study), "--out", str(results))
    if code == 0:
        print(f"The results lie in {results}. Start with letter.pdf, then summary.pdf and study-sheet.html.")
        print(f"What is true of the study lies in {truth}: hold the letter against it.", flush=True)
    return code


def _fanlight(*arguments: str) -> int:
    return _run(*COMMAND, *arguments)


def _run(*arguments: str) -> int:
    command = subprocess.Popen(arguments, cwd=ROOT)
    while True:
        try:
            return command.wait()
        except KeyboardInterrupt:  # the command was told as well: it ends by itself, and in order
            continue


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
