"""How often the Doppler criteria see a fault that is there, from which grade on, and how often one that is not.

Rungs of the ladder are set on simulated animals as a steady hand sets them, then with one Doppler fault; each is
stored as a file and read by the engine as any file is. Rings A, B and C as for the 2-D criteria: A may be tuned on, B
are fresh seeds, C comes from the shifted generator. A criterion counts as raised when it is borderline or missed.

    python -m measure.doppler_criteria                      makes clips and writes docs/accuracy.md
    python -m measure.doppler_criteria make --subjects 20    makes clips, all rings in turn, until there are so many
    python -m measure.doppler_criteria print --ring A        asks the criteria of ring A, prints its tables, to tune
    python -m measure.doppler_criteria write --subjects 20   asks all rings on what is made, writes the page

Making clips takes about a minute a subject, asking some seconds. Clips are kept in a folder of the user's temporary
files named after the code that makes them, answers beside them after the code that judges. `--clips FOLDER` names clips
that were made by other code: a few are made anew, and the folder is used only when they come out the same.
"""

from __future__ import annotations

import argparse
import getpass
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import cv2

from fanlight.simulate.clip.ring import Ring
from measure._described import described, imported
from measure._doppler_answers import AskedClip, Job, ask_subject
from measure._doppler_cases import DOPPLER_FAMILY_NAMES
from measure._doppler_clips import LIST, make_subject
from measure._doppler_same import differences
from measure._doppler_table import tables
from scripts.measured import contents_hash, write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
N_SUBJECTS = 21  # of each ring: three of each class of heart
FIRST_SEED = {Ring.A: 0, Ring.B: 10_000, Ring.C: 15_000}
MAKES_CLIPS = tuple(described("measure/_doppler_bench.py", "measure/_doppler_clips.py", "measure/_criterion_clips.py"))
TABLES = "src/fanlight/reference/tables"
# What stands where on the screen, and when it beats.
LOOKS = (
    *(
        path for path in imported(("fanlight.frames", "fanlight.intake"))
        if not path.startswith("src/fanlight/frames/doppler/")
    ),
    f"{TABLES}/screen_words.toml",
)  # fmt: skip
MARKS = ("measure/_doppler_marks.py",)
UNCOUNTED = "src/fanlight/critique/doppler/confidence.py"  # follows from the figures and changes none
JUDGES = (
    *(
        path for path in imported(
            ("fanlight.critique.doppler", "fanlight.critique.accumulator", "fanlight.critique.applies",
             "fanlight.frames.doppler", "fanlight.recognise")
        ) if path != UNCOUNTED
    ),
    *(f"{TABLES}/criteria/{name}.toml" for name in DOPPLER_FAMILY_NAMES),
    "src/fanlight/study/mode.py", f"{TABLES}/views.toml", f"{TABLES}/valves.toml", f"{TABLES}/recognition.toml",
    "src/fanlight/review/box_split.py", "src/fanlight/recognise/picture.onnx",
    "measure/_doppler_answers.py", "measure/_one_clip.py", *MARKS,
)  # fmt: skip
WORDS = ("measure/_doppler_cases.py",)


def _key(paths: tuple[str, ...]) -> str:
    return hashlib.sha256(contents_hash(paths, ROOT).encode()).hexdigest()[:12]


def clips_folder() -> Path:
    """Return where the clips of this code lie."""
    return Path(tempfile.gettempdir()) / f"fanlight-doppler-{getpass.getuser()}" / f"clips-{_key(MAKES_CLIPS)}"


def subjects_in_turn(rings: list[Ring], n: int) -> Iterator[tuple[Ring, int]]:
    """Yield ring and seed of so many subjects of each ring, so that all rings grow alike."""
    for k in range(n):
        yield from ((ring, FIRST_SEED[ring] + k) for ring in rings)


def _make(job: tuple[Ring, int, Path]) -> int:
    ring, seed, folder = job
    cv2.setNumThreads(1)
    return make_subject(seed, ring, folder / f"{ring.value}-{seed}")


def make(rings: list[Ring], n: int, folder: Path, pool: ProcessPoolExecutor) -> None:
    """Make the clips that are not there yet, in turn."""
    start = time.perf_counter()
    jobs = [(ring, seed, folder) for ring, seed in subjects_in_turn(rings, n)]
    jobs = [job for job in jobs if not (folder / f"{job[0].value}-{job[1]}" / LIST).is_file()]
    running = {pool.submit(_make, job): job for job in jobs}
    for done, job in enumerate(as_completed(running), start=1):
        ring, seed, _ = running[job]
        left = (time.perf_counter() - start) / done * (len(jobs) - done)
        print(f"ring {ring} {seed}: {job.result()} clips, {left / 60:.0f} min left", file=sys.stderr, flush=True)


def _ask(job: Job) -> tuple[AskedClip, ...]:
    cv2.setNumThreads(1)
    return ask_subject(job)


def ask(rings: list[Ring], n: int, folder: Path, pool: ProcessPoolExecutor) -> dict[Ring, list[AskedClip]]:
    """Return the answers of the first so many subjects of each ring whose clips are there."""
    looks, answers = folder / f"looks-{_key(LOOKS)}", folder / f"answers-{_key((*LOOKS, *JUDGES))}"
    marks = folder / f"marks-{_key((*MAKES_CLIPS, *MARKS))}"
    jobs = {ring: [f"{ring.value}-{FIRST_SEED[ring] + k}" for k in range(n)] for ring in rings}
    running = {
        ring: [
            pool.submit(
                _ask,
                Job(
                    ring=ring, folder=folder / name, looks=looks / f"{name}.json", marks=marks / f"{name}.json",
                    answers=answers / f"{name}.json",
                ),
            )
            for name in names if (folder / name / LIST).is_file()
        ]
        for ring, names in jobs.items()
    }  # fmt: skip
    found: dict[Ring, list[AskedClip]] = {}
    for ring, waiting in running.items():
        if not waiting:
            raise SystemExit(f"{folder} holds no clips of ring {ring}; run the script with make first")
        found[ring] = []
        for done, job in enumerate(waiting, start=1):
            found[ring] += job.result()
            print(f"ring {ring}: {done} of {len(waiting)} subjects asked", file=sys.stderr, flush=True)
    return found


def check_same(folder: Path) -> None:
    """Stop unless clips of other code come out of this code as they are."""
    found = differences(folder)
    if found:
        raise SystemExit(f"the clips in {folder} are not those of this code: {'; '.join(found)}; make them anew")


def write(found: dict[Ring, list[AskedClip]]) -> None:
    """Write the tables into the page."""
    seeds = []
    for ring, clips in found.items():
        own = sorted({clip.truth.seed for clip in clips})
        seeds.append(f"ring {ring} {own[0]}-{own[-1]} ({len(own)} animals, {len(clips)} clips)")
    for name, text in tables(found).items():
        write_table(
            PAGE, name, text, script="measure/doppler_criteria.py", describes=[*MAKES_CLIPS, *LOOKS, *JUDGES, *WORDS],
            seeds=", ".join(seeds),
        )  # fmt: skip


def main() -> None:
    """Make, print or write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="?", choices=("make", "print", "write"), help="left out: make, then write")
    parser.add_argument("--ring", choices=[ring.value for ring in Ring], help="one ring only; not for write")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--clips", type=Path, help="folder of clips made before")
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    rings = [Ring(asked.ring)] if asked.ring else list(Ring)
    folder = asked.clips or clips_folder()
    with ProcessPoolExecutor(asked.processes) as pool:
        if asked.what in (None, "make"):
            make(rings, asked.subjects, folder, pool)
        if asked.what == "make":
            return
        found = ask(rings, asked.subjects, folder, pool)
    if asked.what == "print":
        print("\n\n".join(f"## {name}\n\n{text}" for name, text in tables(found).items()))
        return
    if asked.ring:
        parser.error("the page shows all rings side by side: leave --ring out")
    if asked.clips:
        check_same(folder)
    write(found)


if __name__ == "__main__":
    main()
