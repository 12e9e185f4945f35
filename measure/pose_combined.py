"""How the pose fit does where the probe is wrong in two ways at once: one clip, and three views of one study.

Animals, landmarks and hands are those of `measure/pose_fit.py`, on other seeds; every pair of its five kinds of fault
is drawn in turn. Nothing is tuned on rings B or C.

    python -m measure.pose_combined --records FOLDER                 writes docs/pose-fit.md
    python -m measure.pose_combined --records FOLDER --tables-only   the same from the records that are there
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core, as the review has

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._pose_combined_subject import measure_subject
from measure._pose_table import FIRM, PLACE, SURE, said_of, share
from measure._record_run import ByRing, Measurement, run
from measure.pose_fit import MAKERS, PAGE, described

Record = dict[str, Any]
SCRIPT = "measure/pose_combined.py"
N_ANIMALS = 134  # 402 studies in all; at least 400 are asked for
FIRST_SEED = {Ring.A: 3_000, Ring.B: 13_000, Ring.C: 18_000}


def named_in(clip: Record) -> dict[str, int]:
    """Return the movements that are named of a clip, with their senses."""
    return {
        kind: 1 if one["plus"] >= one["minus"] else -1
        for kind, one in clip["offsets"].items()
        if kind != "press" and max(one["plus"], one["minus"]) >= SURE
    }


def is_right(clip: Record, kind: str, sense: int) -> bool:
    """Whether the probe truly stood off in that sense, by half of what counts at least: a hand's scatter is none."""
    return bool(clip["true"].get(kind, 0.0) * sense > 0.5 * clip["offsets"][kind]["limit"])


def pair_holds(clip: Record, pair: Sequence[Any]) -> bool:
    """Whether one of the two of an either-or is truly off in its sense."""
    first, first_sense, second, second_sense = pair
    return is_right(clip, first, first_sense) or is_right(clip, second, second_sense)


def says_nothing(clip: Record) -> bool:
    """Whether no movement and no either-or is told of a clip."""
    return not named_in(clip) and not clip["pairs"]


def names_opposite(clip: Record, faults: Sequence[str]) -> bool:
    """Whether one of the faults is named the other way."""
    return any(said_of(clip, kind) == "opposite" for kind in faults)


def clips_rows(clips: Sequence[tuple[Record, Sequence[str]]], where: str) -> dict[str, str]:
    """Return the figures of clips, each with its two faults."""
    named = [(clip, kind, sense) for clip, _ in clips for kind, sense in named_in(clip).items()]
    pairs = [(clip, pair) for clip, _ in clips for pair in clip["pairs"]]
    told = [[said_of(clip, kind) in ("right", "pair") for kind in faults] for clip, faults in clips]
    return {
        f"{where}: a named movement is right in its sense": share(sum(is_right(*one) for one in named), len(named)),
        f"{where}: one of an either-or is right in its sense": share(
            sum(pair_holds(*one) for one in pairs), len(pairs)
        ),
        f"{where}: the opposite of a fault is named": share(sum(names_opposite(*one) for one in clips), len(clips)),
        f"{where}: both faults are named or in an either-or": share(sum(all(each) for each in told), len(told)),
        f"{where}: one of the two": share(sum(sum(each) == 1 for each in told), len(told)),
        f"{where}: nothing is said": share(sum(says_nothing(clip) for clip, _ in clips), len(clips)),
    }


def of_clips(records: Sequence[Record], which: str) -> list[tuple[Record, Sequence[str]]]:
    """Return the clips of all studies with their faults."""
    return [(clip, record["faults"]) for record in records for clip in record[which]["clips"]]


def rows(records: Sequence[Record]) -> dict[str, str]:
    """Return the figures of one ring, by title."""
    single, joint = of_clips(records, "single"), of_clips(records, "joint")
    sorts: dict[str, Callable[[Sequence[str]], bool]] = {
        "two turns": lambda faults: set(faults) <= set(FIRM),
        "a turn and a wrong place": lambda faults: bool(set(faults) & set(FIRM)) and bool(set(faults) & set(PLACE)),
        "two wrong places": lambda faults: set(faults) <= set(PLACE),
    }
    found = {"studies": str(len(records)), **clips_rows(single, "one clip")}
    for title, is_of in sorts.items():
        own = [clip for clip, faults in single if is_of(faults)]
        found[f"one clip, {title}: nothing is said"] = share(sum(map(says_nothing, own)), len(own))
    places = [
        (window, kind) for record in records if len((window := record["joint"])["clips"]) > 1
        for kind in record["faults"] if kind in PLACE
    ]  # fmt: skip
    return {
        **found,
        **clips_rows(joint, "three views, each clip"),
        "three views: a wrong place is told for the window": share(sum(_place(*one, 1) for one in places), len(places)),
        "three views: the opposite place is told": share(sum(_place(*one, -1) for one in places), len(places)),
        "clips with fewer than three landmarks, or no place to stand": str(
            sum(record[which]["not_fitted"] for record in records for which in ("single", "joint"))
        ),
    }


def _place(window: Record, kind: str, sense: int) -> bool:
    one, true = window["place"][kind], window["clips"][0]["true"][kind]
    said = 1 if one["plus"] >= one["minus"] else -1
    return bool(max(one["plus"], one["minus"]) >= SURE and said * true * sense > 0)


def table_of(by_ring: Mapping[str, Sequence[Record]]) -> str:
    """Return a row for each figure, a column for each ring."""
    columns = {name: rows(records) for name, records in by_ring.items()}
    lines = ["| | " + " | ".join(f"ring {name}" for name in columns) + " |", "|---" * (len(columns) + 1) + "|"]
    lines += [
        f"| {title} | " + " | ".join(column[title] for column in columns.values()) + " |"
        for title in next(iter(columns.values()))
    ]
    return "\n".join(lines)


def axis_table(by_ring: Mapping[str, Sequence[Record]]) -> str:
    """Return a row for each third of the animals by their heart axis and each ring; thirds of all rings together."""
    axes = [record["axis_deg"] for records in by_ring.values() for record in records]
    low, high = (float(cut) for cut in np.quantile(axes, [1 / 3, 2 / 3]))
    words = (f"lying, below {low:.0f}°", "between", f"upright, above {high:.0f}°")
    heads = ("studies", "a named movement is right", "the opposite is named", "nothing is said of one clip",
             "three views: a named movement is right", "three views: the opposite is named")  # fmt: skip
    lines = ["| heart axis | " + " | ".join(heads) + " |", "|---" * (len(heads) + 1) + "|"]
    for third, title in enumerate(words):
        for name, records in by_ring.items():
            own = [one for one in records if (one["axis_deg"] > low) + (one["axis_deg"] > high) == third]
            single, joint = (list(clips_rows(of_clips(own, which), "x").values()) for which in ("single", "joint"))
            cells = (str(len(own)), single[0], single[2], single[5], joint[0], joint[2])
            lines.append(f"| {title}; ring {name} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def tables(found: ByRing) -> dict[str, str]:
    """Return the tables, by name."""
    return {"pose-combined": table_of(found), "pose-combined-by-axis": axis_table(found)}


def drawn_and_told_by() -> list[str]:
    """Return the files by which the figures are what they are."""
    own = ("measure/_pose_combined_subject.py", "measure/_pose_table.py", "measure/_wilson.py")
    return sorted({*described(), *MAKERS, SCRIPT, *own})


MEASUREMENT = Measurement(
    kind="combined", one=measure_subject, first_seed=FIRST_SEED, n_subjects=N_ANIMALS, tables=tables, page=PAGE,
    measured_by=(SCRIPT,), describes=drawn_and_told_by,
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
