"""How often the 2-D criteria see a fault that is there, from which strength on, and how often one that is not.

Every criterion of a single 2-D clip is asked on simulated clips of real anatomy at true standard poses: good ones, over
all that varies without being a fault, and ones with a single fault of five strengths. Ring A are seeds that bands may
be set on; ring B are fresh seeds; ring C comes from a shifted generator: hearts deformed outside the model's family,
other beams, grey maps and screens. Nothing is tuned on B or C. A criterion counts as raised when it is borderline or
missed.

    python -m measure.criteria                          all rings; writes docs/accuracy.md
    python -m measure.criteria --ring A --subjects 35   prints one ring, for tuning

A run that was cut off goes on: what was judged is kept in a folder of the user's temporary files, by the code's hash.
"""

from __future__ import annotations

import argparse
import getpass
import hashlib
import json
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # two processes share two cores

import cv2

from fanlight.simulate.clip.ring import Ring
from measure._criterion_cases import PICTURE_FAMILIES
from measure._criterion_clips import BeamStore
from measure._criterion_record import SubjectRecord, from_json, to_json
from measure._criterion_subject import describe, measure_subject
from measure._criterion_table import tables
from measure._described import described, imported
from scripts.measured import contents_hash, write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
N_SUBJECTS = 105  # 15 of each class of heart
FIRST_SEED = {Ring.A: 0, Ring.B: 10_000, Ring.C: 15_000}
MAKES_CLIPS = tuple(described("measure/_criterion_clips.py"))
CRITERIA = "src/fanlight/reference/tables/criteria"
JUDGES = (
    *imported(("fanlight.critique", "fanlight.frames")),
    *(f"{CRITERIA}/{name}.toml" for name in PICTURE_FAMILIES), f"{CRITERIA}/time.toml",
    "measure/_criterion_cases.py", "measure/_criterion_subject.py",
)  # fmt: skip


def _folder(what: str, described: tuple[str, ...]) -> Path:
    digest = hashlib.sha256(contents_hash(described, ROOT).encode()).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"fanlight-criteria-{getpass.getuser()}" / f"{what}-{digest}"


def _one(job: tuple[int, str, Path | None, Path]) -> SubjectRecord | None:
    """Return the record of a subject; None where its own lung and ribs leave no view free."""
    seed, ring, beams, answers = job
    cv2.setNumThreads(1)
    path = answers / f"{ring}-{seed}.json"
    if path.is_file():
        return from_json(json.loads(path.read_text(encoding="utf-8")))
    try:
        record = measure_subject(seed, Ring(ring), BeamStore(beams))
    except ValueError as error:
        if "no view is free" not in str(error):
            raise
        return None
    part = path.with_suffix(f".part{os.getpid()}")
    part.write_text(json.dumps(to_json(record)), encoding="utf-8")
    part.rename(path)
    return record


def measure_ring(
    ring: Ring, n_subjects: int, keeps: bool, pool: ProcessPoolExecutor
) -> tuple[list[SubjectRecord], list[int]]:
    """Return the records of a ring's subjects and the seeds passed over, and say on the way how far it is.

    A subject that shows no view free of its own lung and ribs is passed over; the next seed takes its place.
    """
    beams = _folder("beams", MAKES_CLIPS) if keeps else None
    answers = _folder("answers", (*MAKES_CLIPS, *JUDGES))
    answers.mkdir(mode=0o700, parents=True, exist_ok=True)
    start = time.perf_counter()
    records: list[SubjectRecord] = []
    passed_over: list[int] = []
    first = FIRST_SEED[ring]
    while len(records) < n_subjects:
        seeds = range(first, first + n_subjects - len(records))
        first = seeds.stop
        jobs = {pool.submit(_one, (seed, ring.value, beams, answers)): seed for seed in seeds}
        for job in as_completed(jobs):
            record = job.result()
            if record is None:
                passed_over.append(jobs[job])
                continue
            records.append(record)
            left = (time.perf_counter() - start) / len(records) * (n_subjects - len(records))
            print(
                f"ring {ring}: {len(records)} of {n_subjects}, {left / 60:.1f} min left; {describe(records[-1])}",
                file=sys.stderr, flush=True,
            )  # fmt: skip
    return sorted(records, key=lambda record: record.seed), sorted(passed_over)


def main() -> None:
    """Measure, and write or print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ring", choices=[ring.value for ring in Ring], help="print one ring only")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--tuned-subjects", type=int, help="fewer of ring A, on which no claim rests")
    parser.add_argument("--keep", action="store_true", help="keep the pictures, 10 MB a subject, for other criteria")
    asked = parser.parse_args()
    rings = [Ring(asked.ring)] if asked.ring else list(Ring)
    with ProcessPoolExecutor(2) as pool:
        wanted = dict.fromkeys(rings, asked.subjects)
        if Ring.A in wanted and asked.tuned_subjects:
            wanted[Ring.A] = asked.tuned_subjects
        measured = {ring: measure_ring(ring, n, asked.keep, pool) for ring, n in wanted.items()}
    found = {ring: records for ring, (records, _) in measured.items()}
    if asked.ring:
        print("\n\n".join(f"## {name}\n\n{text}" for name, text in tables(found).items()))
        return
    seeds = ", ".join(_seeds_in_words(ring, *both) for ring, both in measured.items())
    for name, text in tables(found).items():
        write_table(PAGE, name, text, script="measure/criteria.py", describes=[*MAKES_CLIPS, *JUDGES], seeds=seeds)


def _seeds_in_words(ring: Ring, records: list[SubjectRecord], passed_over: list[int]) -> str:
    words = f"ring {ring} {records[0].seed}-{records[-1].seed}"
    return f"{words} ({len(passed_over)} without a view free of lung and ribs)" if passed_over else words


if __name__ == "__main__":
    main()
