"""How near the values that are read from spectra come to what the beam truly hears, and how well they know it.

Every beam that a steady hand finds in a simulated animal is shown by six consoles of several grey maps, ranges and
rejects, at gains of 6 dB about the usual one, compressed as an export does it, and measured; the truth is asked of the
model where the beam listens, field times cosine; of a ring only its wall counts, and the isovolumic relaxation is that
between the valves. Rings A, B and C as for the criteria: A may be tuned on, B are fresh seeds, C comes from the shifted
generator.

    python -m measure.spectral_values                          makes all, writes docs/spectral-values.md
    python -m measure.spectral_values make --subjects 20       makes answers, all rings in turn
    python -m measure.spectral_values print --ring A           prints the tables of one ring, to tune
    python -m measure.spectral_values write --subjects 20      writes the page from what is made

Drawing an animal takes one to two minutes and reading it some seconds. Stills (some 15 MB an animal) and answers are
kept in folders of the user's temporary files, named after the code that draws and after all code: a change of the
reading needs no drawing again.
"""

from __future__ import annotations

import argparse
import getpass
import hashlib
import json
import os
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import cv2

from fanlight.simulate.clip.ring import Ring
from measure._described import described, imported
from measure._spectral_clock import true_relaxations
from measure._spectral_ring import true_ring
from measure._spectral_rungs import Answer, answers_of
from measure._spectral_stills import kept_stills, stills_of
from measure._spectral_table import tables
from scripts.measured import contents_hash, write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "spectral-values.md"
SCRIPT = "measure/spectral_values.py"
N_SUBJECTS = 30  # of each ring: some 300 spectra of each value of the left heart
FIRST_SEED = {Ring.A: 0, Ring.B: 10_000, Ring.C: 15_000}
DRAWN_BY = described(
    "measure/_criterion_clips.py", "measure/_doppler_bench.py", "measure/_doppler_clips.py",
    "measure/_spectral_stills.py", "measure/_spectral_truth.py",
)  # fmt: skip
KEPT_AS = ("src/fanlight/study/clip.py", "src/fanlight/study/geometry.py")  # classes that lie in a file of stills
MADE_BY = (
    *DRAWN_BY, "measure/_spectral_clock.py", "measure/_spectral_expected.py", "measure/_spectral_ring.py",
    "measure/_spectral_rungs.py",
    *imported(("fanlight.measure.doppler", "fanlight.frames")),
)  # fmt: skip
WORDS = ("measure/_spectral_table.py", "measure/_confidently_wrong.py", "measure/_share_of_animals.py")


def folder(what: str, made_by: Sequence[str]) -> Path:
    """Return where the "stills" or "answers" lie that these files made."""
    key = hashlib.sha256(contents_hash(made_by, ROOT).encode()).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"fanlight-spectra-{getpass.getuser()}" / f"{what}-{key}"


def _path(ring: Ring, seed: int) -> Path:
    return folder("answers", MADE_BY) / f"{ring.value}-{seed}.json"


def _stills_path(ring: Ring, seed: int) -> Path:
    return folder("stills", [*DRAWN_BY, *KEPT_AS]) / f"{ring.value}-{seed}.pickle"


def _make(job: tuple[Ring, int]) -> int:
    ring, seed = job
    cv2.setNumThreads(1)
    stills = kept_stills(_stills_path(ring, seed), lambda: stills_of(seed, ring))
    rows = answers_of(
        stills, lambda still: true_ring(still, ring), lambda still: true_relaxations(seed, ring, still.r_times_ms)
    )
    path = _path(ring, seed)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_text(json.dumps(rows), encoding="utf-8")
    part.rename(path)
    return len(rows)


def make(rings: list[Ring], n: int, skip: int, processes: int) -> None:
    """Make the answers that are not there yet, all rings in turn."""
    jobs = [(ring, FIRST_SEED[ring] + k) for k in range(skip, skip + n) for ring in rings]
    with ProcessPoolExecutor(processes) as pool:
        running = {pool.submit(_make, job): job for job in jobs if not _path(*job).is_file()}
        for done in as_completed(running):
            ring, seed = running[done]
            print(f"ring {ring} {seed}: {done.result()} answers", file=sys.stderr, flush=True)


def read(rings: list[Ring], n: int, skip: int) -> dict[str, list[Answer]]:
    """Return the answers that are made, by ring."""
    found: dict[str, list[Answer]] = {}
    for ring in rings:
        paths = [path for k in range(skip, skip + n) if (path := _path(ring, FIRST_SEED[ring] + k)).is_file()]
        rows = [row for path in paths for row in json.loads(path.read_text(encoding="utf-8"))]
        if not rows:
            at = folder("answers", MADE_BY)
            raise SystemExit(f"{at} holds no answers of ring {ring}; run the script with make first")
        found[ring.value] = [Answer(**row) for row in rows]
    return found


def main() -> None:
    """Make, print or write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="?", choices=("make", "print", "write"), help="left out: make, then write")
    parser.add_argument("--ring", choices=[ring.value for ring in Ring], help="one ring only; not for write")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument(
        "--skip", type=int, default=0, help="so many of the first seeds, e.g. those tuned on; not for write"
    )
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    rings = [Ring(asked.ring)] if asked.ring else list(Ring)
    if asked.what in (None, "write") and (asked.ring or asked.skip):
        parser.error("the page shows all rings side by side, from their first seeds: leave --ring and --skip out")
    if asked.what in (None, "make"):
        make(rings, asked.subjects, asked.skip, asked.processes)
    if asked.what == "make":
        return
    found = read(rings, asked.subjects, asked.skip)
    if asked.what == "print":
        print("\n\n".join(f"## {name}\n\n{text}" for name, text in tables(found).items()))
        return
    seeds = ", ".join(
        f"ring {ring} {min(i.seed for i in own)}-{max(i.seed for i in own)} ({len({i.seed for i in own})} animals)"
        for ring, own in found.items()
    )
    for name, text in tables(found).items():
        write_table(PAGE, name, text, script=SCRIPT, describes=[*MADE_BY, *WORDS, SCRIPT], seeds=seeds)


if __name__ == "__main__":
    main()
