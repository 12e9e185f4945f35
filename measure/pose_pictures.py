"""How often a movement that is named is right: from the network's landmarks in pictures, and from a person's marks.

Each animal is scanned in five views by a steady hand, and once in each with one clear fault by an improving one. The
pictures are formed, and shown to the network as in a review, with view, scale and beat given. Marks are the model's
landmarks off by 1.2 % of the depth. A good picture under the name of another window should name nothing.

    python -m measure.pose_pictures --folder FOLDER                 writes docs/pose-fit.md
    python -m measure.pose_pictures --folder FOLDER --tables-only   the same from the records that are there
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

from fanlight.simulate.clip.ring import Ring
from measure._described import imported
from measure._pose_picture_clips import MARKED, Record, measure_subject
from measure._pose_table import share
from measure._records import Records, jobs_of, seeds_words
from measure.pose_fit import PAGE
from scripts.measured import write_table

SCRIPT = "measure/pose_pictures.py"
FIRST_SEED = {Ring.A: 9_850, Ring.B: 10_850, Ring.C: 15_850}  # of ring A, none that the network learnt from
N_ANIMALS = 21
ROOMS = (
    "fanlight.heart", "fanlight.simulate", "fanlight.plane.pose", "fanlight.coach.movements", "fanlight.recognise",
    "fanlight.reference.movements",
)  # fmt: skip
TABLE = "src/fanlight/reference/tables/movements.toml"


def is_right(clip: Record, move: list[object]) -> bool:
    """Whether a movement was truly off in its sense, by half of what counts at least: a hand's scatter is none."""
    kind, sense = move
    return float(clip["true"].get(kind, 0.0)) * float(str(sense)) > 0.5 * float(clip["limits"][kind])


def rows_of(clips: list[Record], wrong: list[Record]) -> dict[str, str]:
    """Return the figures of one way to name landmarks."""
    heard = [clip for clip in clips if clip["is_fitted"] and not clip["silent"]]
    good, faulty = ([clip for clip in heard if bool(clip["fault"]) is has] for has in (False, True))
    named = [(clip, move) for clip in heard for move in clip["named"]]
    return {
        "a named movement is right": share(sum(is_right(*each) for each in named), len(named)),
        "a named movement is the opposite of the fault": share(_n(faulty, lambda clip: _opposite(clip)), len(faulty)),
        "of a right plane something is named": share(_n(good, _says), len(good)),
        "a clear fault is named in its sense": share(_n(faulty, lambda clip: clip["fault"][0] in clip["named"]),
                                                     len(faulty)),
        "a clear fault stands in an either-or": share(
            _n(faulty, lambda clip: any(clip["fault"][0] in pair for pair in clip["pairs"])), len(faulty)
        ),
        "of a clear fault nothing is said": share(_n(faulty, lambda clip: not _says(clip)), len(faulty)),
        "too few landmarks, or fits no heart": share(len(clips) - len(heard), len(clips)),
        "under the name of another window something is named": share(_n(wrong, _says), len(wrong)),
    }  # fmt: skip


def _n(clips: Iterable[Record], is_so: Callable[[Record], bool]) -> int:
    return sum(map(is_so, clips))


def _says(clip: Record) -> bool:
    return bool(clip["named"] or clip["pairs"])


def _opposite(clip: Record) -> bool:
    kind, sense = clip["fault"][0]
    return [kind, -sense] in clip["named"]


def table_of(records: dict[str, list[Record]]) -> str:
    """Return the table: a block of rows for each way to name landmarks, a column for each ring."""
    ways: list[tuple[str, Callable[[Record], tuple[list[Record], list[Record]]]]] = [
        ("network", lambda record: (record["picture"], record["wrong"]))
    ]
    for n in MARKED:
        ways.append((f"{n} marks", lambda record, n=n: _of_marks(record, n)))  # type: ignore[misc]
    head = "| | " + " | ".join(f"ring {name}" for name in records) + " |"
    lines = [head, "|---" * (len(records) + 1) + "|"]
    lines.append("| animals | " + " | ".join(str(len(rows)) for rows in records.values()) + " |")
    for name, way in ways:
        columns = []
        for rows in records.values():
            both = [way(record) for record in rows]
            columns.append(rows_of([c for clips, _ in both for c in clips], [c for _, wrong in both for c in wrong]))
        lines += [f"| {name}: {what} | " + " | ".join(column[what] for column in columns) + " |" for what in columns[0]]
    return "\n".join(lines)


def _of_marks(record: Record, n: int) -> tuple[list[Record], list[Record]]:
    own = [clip for clip in record["marks"] if clip["n"] == n]
    return [clip for clip in own if not clip["is_wrong"]], [clip for clip in own if clip["is_wrong"]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--animals", type=int, default=N_ANIMALS)
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    records = Records(folder=given.folder, kind="pose")
    if not given.tables_only:
        records.draw(measure_subject, jobs_of(tuple(Ring), FIRST_SEED, given.animals), 1)
    found = records.read(tuple(Ring))
    write_table(
        PAGE, "pose-pictures", table_of(found), script=SCRIPT, seeds=seeds_words(found),
        describes=[*imported(ROOMS), TABLE, SCRIPT, "measure/_pose_picture_clips.py"],
    )  # fmt: skip


if __name__ == "__main__":
    main()
