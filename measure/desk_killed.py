"""Kill the desk while files come, clips are read, findings decided and papers signed; write the table of docs/store.md.

    scripts/measure desk_killed [--rounds N] [--seed N] [--counts FILE] [--write]

A round is one life of `fanlight desk`: it starts, a page works with it, and at a random moment the service, its engine
or all of it is killed (SIGKILL). Then the store is opened and held against what the page was told; the next life gets
again what was not answered. Any loss ends the run. `--counts FILE` keeps the counts after each batch, so that a long
run can be looked at; `--write` writes the table from that file and runs nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

from measure._killed_desk import PHASES, KillLoop
from scripts.measured import commit_now, contents_hash, write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "store.md"
SCRIPT = "measure/desk_killed.py"
DESCRIBES = (
    "src/fanlight/desk/engine.py", "src/fanlight/desk/engine_process.py", "src/fanlight/desk/intake.py",
    "src/fanlight/store/database.py", "src/fanlight/store/documents.py", "src/fanlight/store/feed.py",
    "src/fanlight/store/log.py", "src/fanlight/store/originals.py",
)  # fmt: skip
ROUNDS, SEED = 100, 41
BATCH = 40  # rounds on one folder: a check reads all of it
WORDS = {"upload": "files", "reading": "clips", "deciding": "acts", "signing": "papers"}


def run(rounds: int, seed: int, counts: Path | None) -> dict[str, Any]:
    """Do the rounds, a phase after the other; return the counts by phase."""
    total: dict[str, dict[str, int]] = {phase: {} for phase in PHASES}
    start, contents, commit, done, again = time.monotonic(), contents_hash(DESCRIBES), commit_now(), 0, 0
    while done < rounds:
        n = min(BATCH, rounds - done)
        folder = Path(tempfile.mkdtemp(prefix="fanlight-killed-"))
        loop = KillLoop(folder / "store", seed + done)
        try:
            for k in range(done, done + n):
                loop.round(PHASES[k % len(PHASES)])
            loop.finish()
        except BaseException:
            print(f"round {sum(each.rounds for each in loop.tallies.values())}; kept: {folder}", file=sys.stderr)
            raise
        shutil.rmtree(folder)
        done += n
        for phase, tally in loop.tallies.items():
            for name, count in asdict(tally).items():
                total[phase][name] = total[phase].get(name, 0) + count
        again += loop.memory.n_again
        said = {"rounds": done, "seed": seed, "contents": contents, "commit": commit, "again": again, "phases": total}
        if counts is not None:
            counts.write_text(json.dumps(said, indent=1), "utf-8")
        print(f"{done} rounds, {time.monotonic() - start:.0f} s, load {os.getloadavg()[0]:.1f}: {total}", flush=True)
    return said


def table(said: dict[str, Any]) -> str:
    """Return the counts as Markdown."""
    head = (
        "| while | kills | of the service / the engine / both | in the middle of something "
        "| answered before, all there | lost |\n|---|---|---|---|---|---|\n"
    )
    rows = [_row(phase, each) for phase, each in said["phases"].items()]
    n = said["rounds"]
    kept = sum(each["answered"] for each in said["phases"].values())
    note = (
        f"A kill lost nothing in {n} of {n}: with 95 % confidence at most {100 * 3 / n:.1f} % of kills lose something "
        f"(rule of three, Hanley and Lippman-Hand, JAMA 1983; 249: 1743). {kept} answers were held against the store. "
        f"What was sent and not answered, {said['again']} requests, was sent again in the next life and kept once. "
        "No clip that had been read was read again; nothing was there twice, and nothing that nobody sent. After each "
        "kill every original and every signed paper had its hash, and after the service's own kill the engine ended by "
        "itself."
    )
    return head + "\n".join(rows) + "\n\n" + note


def _row(phase: str, each: dict[str, int]) -> str:
    victims = f"{each['killed_service']} / {each['killed_engine']} / {each['killed_all']}"
    kept = f"{each['answered']} {WORDS[phase]}"
    return f"| {phase} | {each['rounds']} | {victims} | {each['in_the_middle']} | {kept} | 0 |"


def write(said: dict[str, Any]) -> None:
    """Put the table into the page, unless the code has changed since."""
    if said["contents"] != contents_hash(DESCRIBES):
        raise SystemExit(f"the counts are of other code ({said['commit']}); run {SCRIPT} again")
    write_table(
        PAGE, "killed", table(said), script=SCRIPT, describes=DESCRIBES,
        seeds=f"{said['seed']} to {said['seed'] + said['rounds'] - 1}",
    )  # fmt: skip


def main() -> None:
    """Run, or write what an earlier run counted."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--counts", type=Path)
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    if given.write:
        write(json.loads(given.counts.read_text("utf-8")))
    else:
        write(run(given.rounds, given.seed, given.counts))


if __name__ == "__main__":
    main()
