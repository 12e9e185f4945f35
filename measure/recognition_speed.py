"""How long the picture stage of a review takes beside onnxruntime alone, on a quiet machine.

    python -m measure.recognition_speed       writes docs/model-card.md; some minutes
    python -m measure.recognition_speed --print --subjects 1

The clips of `measure.recognition_files`, a few of each of some animals, and the first of each again as three beats.
Drawing all of those takes an hour, and other work beside it shows in their times.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

import argparse
import tempfile
from itertools import islice
from pathlib import Path

import cv2
import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure._recognition_file_answers import listening, long_record, record_of
from measure._recognition_file_clips import store_echoes
from measure._recognition_file_figures import Record, Rings
from measure._recognition_file_time import time_table
from measure.recognition import FIRST_SEED, NAMES
from measure.recognition_files import LONG_FRAMES, PAGE
from scripts.measured import write_table

SCRIPT = "measure/recognition_speed.py"
N_SUBJECTS = 8  # of each ring
CLIPS_EACH = 3  # of each subject
TARGET = 1.2
DESCRIBES = (
    SCRIPT, "measure/_recognition_file_time.py", "measure/_recognition_file_clips.py",
    "src/fanlight/review/clip_pass.py",
    *(f"src/fanlight/recognise/{name}" for name in (
        "beat_frames.py", "found_lines.py", "picture.onnx", "picture_network.py", "picture_reading.py",
        "picture_square.py", "structure_summary.py")),
)  # fmt: skip


def timed(n_subjects: int) -> dict[str, list[Record]]:
    """Return the records of the clips as drawn and of long ones, by ring."""
    rings: dict[str, list[Record]] = {NAMES[ring]: [] for ring in Ring}
    with listening() as heard:
        for ring, seed in ((ring, FIRST_SEED[ring] + k) for k in range(n_subjects) for ring in Ring):
            records = rings[NAMES[ring]]
            with tempfile.TemporaryDirectory() as made:
                for number, stored in enumerate(islice(store_echoes(seed, ring, Path(made)), CLIPS_EACH)):
                    records.append(record_of(stored, heard))
                    if number == 0:
                        records.append(long_record(stored, LONG_FRAMES, heard))
            print(f"ring {NAMES[ring]}, seed {seed}", flush=True)
    return rings


def verdict(rings: Rings) -> str:
    """Return whether the stage without its calipers keeps to the target, for short clips and for long ones."""
    medians = []
    for is_long in (False, True):
        ratios = [
            (r["picture_s"] - r["lines_s"]) / r["bare_s"]
            for records in rings.values()
            for r in records
            if r["bare_s"] and (r["kind"] == "long") is is_long
        ]
        medians.append(float(np.median(ratios)))
    words = "met" if max(medians) <= TARGET else "missed"
    return f"target {TARGET} without calipers: {words} ({' and '.join(f'{each:.2f}' for each in medians)})"


def main() -> None:
    """Read the command line, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--print", action="store_true", help="write no page")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    rings = timed(given.subjects)
    text = (
        f"{time_table(rings)}\n\n"
        f"Processor times on one thread; {verdict(rings)}. Calipers are a measurement that is made of the masks, not a "
        "part of what names view and landmarks."
    )
    print(text)
    if not given.print:
        spans = [f"ring {NAMES[ring]} {FIRST_SEED[ring]}-{FIRST_SEED[ring] + given.subjects - 1}" for ring in Ring]
        write_table(
            PAGE, "recognition-time", text, script=SCRIPT, describes=described(*DESCRIBES), seeds=", ".join(spans)
        )


if __name__ == "__main__":
    main()
