"""Kill the desk while files come, clips are read, findings decided and papers signed; write the table of docs/store.md.

    scripts/measure desk_killed [--rounds N] [--first N] [--seed N] [--counts FILE] [--write [FILE …]]

A round is one life of `fanlight desk`: it starts, a page works with it, and at a random moment the service, its engine
or all of it is killed (SIGKILL). Then the store is opened and held against what the page was told; the next life gets
again what was not answered. Any loss ends the run. `--counts FILE` keeps the counts after each batch, so that a long
run can be looked at, and goes on from them when it was stopped; `--first N` begins a file with round N, so that two
runs can share the rounds. `--write` writes the table from those files and runs nothing; their rounds must follow each
other without a gap.
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


def run(rounds: int, seed: int, counts: Path | None, first: int = 0) -> dict[str, Any]:
    """Do the rounds, a phase after the other, from where an earlier run of the same code stopped; return the counts."""
    start, said = time.monotonic(), begun(seed, counts, first)
    while said["rounds"] < rounds:
        n = min(BATCH, rounds - said["rounds"])
        loop = _batch(said["rounds"], n, seed)
        said["rounds"] += n
        said["again"] += loop.memory.n_again
        for phase, tally in loop.tallies.items():
            total = said["phases"][phase]
            for name, count in asdict(tally).items():
                total[name] = total.get(name, 0) + count
        if counts is not None:
            counts.write_text(json.dumps(said, indent=1), "utf-8")
        passed_s = time.monotonic() - start
        print(
            f"to round {said['rounds']}, {passed_s:.0f} s, load {os.getloadavg()[0]:.1f}: {said['phases']}", flush=True
        )
    return said


def begun(seed: int, counts: Path | None, first: int = 0) -> dict[str, Any]:
    """Return what an earlier run counted in whole batches, or counts of nothing when there was none.

    Raises
    ------
    SystemExit
        If the counts at hand are of other code or another seed: they cannot be added to.
    """
    contents = contents_hash(DESCRIBES)
    if counts is None or not counts.exists():
        phases: dict[str, dict[str, int]] = {phase: {} for phase in PHASES}
        return {
            "first": first, "rounds": first, "seed": seed, "contents": contents, "commit": commit_now(), "again": 0,
            "phases": phases,
        }  # fmt: skip
    said: dict[str, Any] = json.loads(counts.read_text("utf-8"))
    if (said["contents"], said["seed"]) != (contents, seed):
        raise SystemExit(f"{counts} is of other code ({said['commit']}) or of seed {said['seed']}; name another file")
    return said


def _batch(first: int, n: int, seed: int) -> KillLoop:
    """Do `n` rounds on a folder of their own; it stays when one of them lost something."""
    folder = Path(tempfile.mkdtemp(prefix="fanlight-killed-"))
    loop = KillLoop(folder / "store", seed + first)
    try:
        for k in range(first, first + n):
            loop.round(PHASES[k % len(PHASES)])
        loop.finish()
    except BaseException:
        print(f"round {first + sum(each.rounds for each in loop.tallies.values())}; kept: {folder}", file=sys.stderr)
        raise
    shutil.rmtree(folder)
    return loop


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


def joined(parts: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the counts of runs that shared the rounds as those of one run.

    Raises
    ------
    SystemExit
        If they are of different code or seeds, or rounds between them were not done.
    """
    first, *rest = sorted(parts, key=lambda part: int(part.get("first", 0)))
    whole: dict[str, Any] = json.loads(json.dumps(first))
    for part in rest:
        if any(part[key] != whole[key] for key in ("contents", "seed")):
            raise SystemExit("the counts are of different code or seeds; run the rounds again")
        if part["first"] != whole["rounds"]:
            raise SystemExit(f"rounds {whole['rounds']} to {part['first']} are missing, or were done twice")
        whole["rounds"] = part["rounds"]
        whole["again"] += part["again"]
        for phase, tally in part["phases"].items():
            for name, count in tally.items():
                whole["phases"][phase][name] = whole["phases"][phase].get(name, 0) + count
    return whole


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
    parser.add_argument("--first", type=int, default=0, help=f"round to begin a new file of counts with, of {BATCH}")
    parser.add_argument("--write", type=Path, nargs="*", help="files of counts beside --counts")
    given = parser.parse_args()
    if given.write is not None:
        files = [*([given.counts] if given.counts else []), *given.write]
        write(joined([json.loads(file.read_text("utf-8")) for file in files]))
        return
    said = run(given.rounds, given.seed, given.counts, given.first)
    if not given.first:
        write(said)


if __name__ == "__main__":
    main()
