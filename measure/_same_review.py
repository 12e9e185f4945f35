"""What a review finds in clips, as one hash a thing: held against the hashes of other code by `scripts.carry_over`.

python measure/_same_review.py [FOLDER]     prints a JSON object, name: SHA-256

The clips lie in FOLDER; where it holds none they are drawn into it first (`measure._review_clips`). Both codes must be
given the same folder: what is held against each other is how clips are read, not how they are drawn. Beside them the
real files are read that the tests use (ring D). Of each clip every stage is asked that a review asks of a clip alone:
layout, mode, view, time, what the network sees, measured values, and all families of criteria. Not asked: tissue
Doppler, views that a person named, scales that a person marked.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import fields
from importlib import resources
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # as the review's worker does

import cv2

from fanlight.intake import Limits, gather, probe_item
from fanlight.reference.load import load_house
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.study import House, Refusal
from measure._hash_of import hash_of
from tests.real.real_files import EXPECTED, NAMES

LIMITS = Limits()
TIMED = "seconds"  # how long the stages took: no two runs agree


def hashes(folder: Path) -> dict[str, str]:
    """Return the hash of everything, by name."""
    house = load_house()
    found: dict[str, str] = {}
    for path in sorted(folder.rglob("*.dcm")):
        found.update(_of_file(path, path.relative_to(folder).as_posix(), house))
    for name in NAMES:
        entry = EXPECTED[name]
        with resources.as_file(resources.files(entry["package"]) / entry["path"]) as path:
            found.update(_of_file(path, f"real, {name}", house))
    return found


def _of_file(path: Path, name: str, house: House) -> Iterator[tuple[str, str]]:
    with tempfile.TemporaryDirectory() as scratch:
        for place, item in enumerate(gather(path, Path(scratch), LIMITS).items, 1):
            for clip in probe_item(item, LIMITS).clips:
                read = read_clip(item, clip, clip.patient, house, None, Known(), LIMITS, beat=lambda *_, **__: None)
                for what, value in _parts(read):
                    yield f"{name}, clip {place}.{clip.number}: {what}", hash_of(value)


def _parts(read: ClipPass | Refusal) -> Iterator[tuple[str, Any]]:
    """Yield what was read, by stage."""
    if isinstance(read, Refusal):
        yield "refused", read
        return
    for field in fields(read):
        if field.name == "families":
            yield from ((f"criteria, {family}", findings) for family, findings in read.families)
        elif field.name != TIMED:
            yield field.name, getattr(read, field.name)


def main(folder: Path) -> None:
    """Draw what is missing, and print the hashes."""
    cv2.setNumThreads(1)
    if not any(folder.rglob("*.dcm")):
        from measure._review_clips import draw_clips  # other code need not be able to draw

        draw_clips(folder)
    print(json.dumps(hashes(folder), indent=0))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as made:
            main(Path(made))
