"""How the product names views of whole clips in files: screens, words, ECG and JPEG, read as a mentor's study is read.

    python -m measure.recognition_files --records FOLDER                  draws, asks, writes docs/model-card.md
    python -m measure.recognition_files --records FOLDER --draw-only --seconds 1800
    python -m measure.recognition_files --records FOLDER --tables-only

Rings side by side as in `measure.recognition`. What was drawn and asked before is kept in the folder, by the network
that was asked; records of two networks are never put into one table. Only the shipped network can be asked.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

import cv2

from fanlight.recognise.picture_network import network_hash
from fanlight.simulate.clip.ring import Ring
from measure.recognition import FIRST_SEED, NAMES

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "model-card.md"
N_SUBJECTS = 42  # six of each class of heart
N_ODD = 2  # subjects of each ring for what is no echo of a heart
N_COLOUR = {Ring.A: 11, Ring.B: 4, Ring.C: 4}  # likewise for colour
N_PHOTO = 6  # likewise for photographs of the screen
N_LONG = 2  # likewise for the time in a long clip
LONG_FRAMES = 72  # three beats as consoles store them, for the time only


def jobs(n_subjects: int) -> Iterator[tuple[str, Ring, int]]:
    """Yield parts of the work, subjects and rings in turn, so that a run cut off has all rings alike."""
    for k in range(n_subjects):
        for ring in Ring:
            seed = FIRST_SEED[ring] + k
            yield "echo", ring, seed
            if k < N_ODD:
                yield "odd", ring, seed
            if k < N_COLOUR[ring]:
                yield "colour", ring, seed


def draw(folder: Path, n_subjects: int, until_s: float) -> None:
    """Draw and ask all that is not there yet, until the time is up."""
    folder.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    for part, ring, seed in jobs(n_subjects):
        path = record_path(folder, part, ring, seed)
        if path.exists():
            continue
        if time.monotonic() > until_s:
            return
        with tempfile.TemporaryDirectory() as made:
            records = list(_records(part, ring, seed, Path(made)))
        told = {"network": network_hash(), "clips": records}
        path.write_bytes(gzip.compress(json.dumps(told).encode()))
        print(f"{time.strftime('%H:%M:%S')} {part} of ring {NAMES[ring]}, seed {seed}: {len(records)}", flush=True)


def _records(part: str, ring: Ring, seed: int, made: Path) -> Iterator[dict[str, Any]]:
    from measure import _recognition_file_answers as answers
    from measure import _recognition_file_clips as clips
    from measure import _recognition_file_colour as colour
    from measure import _recognition_file_odd as odd

    if part == "colour":
        yield from (colour.colour_record(stored) for stored in colour.store_colour(seed, ring, made))
        return
    if part == "odd":
        yield from odd.odd_records(seed, ring, made)
        return
    with answers.listening() as heard:
        for number, stored in enumerate(clips.store_echoes(seed, ring, made)):
            record = answers.record_of(stored, heard)
            yield record
            if seed - FIRST_SEED[ring] < N_PHOTO:
                yield answers.photo_record(record, stored)
            if number == 0 and seed - FIRST_SEED[ring] < N_LONG:
                yield answers.long_record(stored, LONG_FRAMES, heard)


def record_path(folder: Path, part: str, ring: Ring, seed: int) -> Path:
    """Return the file of a subject's records; it names the network that was asked."""
    return folder / f"{network_hash()}-{part}-{ring.value}-{seed:05d}.json.gz"


def read_records(folder: Path) -> dict[str, dict[str, list[dict[str, Any]]]]:
    """Return all records by part and ring.

    Raises
    ------
    SystemExit
        If there are none of a ring, or some were made with another network; the message says what to do.
    """
    found: dict[str, dict[str, list[dict[str, Any]]]] = {}
    for file in sorted(folder.glob("*.json.gz")):
        told = json.loads(gzip.decompress(file.read_bytes()))
        if told["network"] != network_hash() or not file.name.startswith(network_hash()):
            raise SystemExit(
                f"{file}: made with network {told['network']}, but {network_hash()} is shipped; figures of two "
                "networks must not be mixed: name another folder, or take these files away"
            )
        _, part, ring, _ = file.name.split("-")
        found.setdefault(part, {}).setdefault(NAMES[Ring(ring)], []).extend(told["clips"])
    missing = [name for name in NAMES.values() if name not in found.get("echo", {})]
    if missing:
        raise SystemExit(f"{folder} holds no clips of ring {', '.join(missing)}: run without --tables-only first")
    return found


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--seconds", type=float, default=1e9, help="after which nothing more is begun")
    parser.add_argument("--draw-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.tables_only:
        draw(given.records, given.subjects, time.monotonic() + given.seconds)
    if not given.draw_only:
        from measure._recognition_file_card import write_card

        write_card(PAGE, read_records(given.records))


if __name__ == "__main__":
    main()
