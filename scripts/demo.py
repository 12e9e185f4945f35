"""Simulate an invented study, review it, say where the results lie, and open the desk on it.

    python scripts/demo.py [--no-serve] [--out DIR]

An improving hand scans a healthy dog of 12 kg; practice, people and animal are invented. What is true of the study lies
in a folder of its own, which neither review nor desk opens. The desk keeps what is done there in a folder beside it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
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


def main(arguments: list[str]) -> int:
    """Simulate, review and serve; return the exit code."""
    parser = argparse.ArgumentParser(prog="scripts/demo", description="Simulate an invented study and review it.")
    parser.add_argument("--out", type=Path, default=ROOT / "demo-output", help="folder for the study and the results")
    parser.add_argument("--no-serve", action="store_true", help="end with the letter; do not open the desk")
    asked = parser.parse_args(arguments)
    out = asked.out.resolve()
    study, truth, results = out / "study", out / "truth", out / "review"
    for made in (study, truth):  # by an earlier run; nothing else is thrown away
        if any(truth.glob("*.json")) or not any(made.glob("*")):
            shutil.rmtree(made, ignore_errors=True)
    print(f"Simulating a study into {study}: an improving hand, a healthy dog of 12 kg", flush=True)
    workers = str(min(os.cpu_count() or 1, 4))
    code = _fanlight("simulate", *SETTING, "--workers", workers, "--out", str(study), "--truth", str(truth))
    if code == 0:
        print("Reviewing it", flush=True)
        code = _fanlight("review", str(study), "--out", str(results))
    if code == 0:
        print(f"The results lie in {results}. Start with letter.pdf, then summary.pdf and study-sheet.html.")
        print(f"What is true of the study lies in {truth}: hold the letter against it.", flush=True)
    if code == 0 and not asked.no_serve:
        # The same seed makes the same files: what was done at the desk last time is still there.
        print(f"Opening the desk on it; what is done there is kept in {out / 'desk'}.", flush=True)
        code = _fanlight("desk", "--study", str(study), "--data", str(out / "desk"), "--read-first", "--port", "0")
    if code:
        print(f"The demo ended with exit code {code}; docs/cli.md says what that means.", file=sys.stderr)
    return code


def _fanlight(*arguments: str) -> int:
    command = subprocess.Popen([*COMMAND, *arguments], cwd=ROOT)
    while True:
        try:
            return command.wait()
        except KeyboardInterrupt:  # the command was told as well: it ends by itself, and in order
            continue


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
