"""How well marks on 2-D pictures are measured: LA:Ao, left ventricle, volumes, rings and ratios, with stated errors.

    python -m measure.picture_values --records FOLDER                 draws, measures, writes docs/picture-values.md
    python -m measure.picture_values --records FOLDER --print-only --ring A --first-seed 300 --subjects 2
    python -m measure.picture_values --records FOLDER --tables-only

Geometry alone: an animal is cut in standard planes of a steady hand, calipers are laid on the labels of each plane,
and what a person would set for them is drawn off by a stated error. What is measured of it is held against the
calipers of that same plane: neither pictures nor the choice of the plane are in these figures. A run that was cut off
goes on where it ended; other code needs another folder of records.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._picture_table import FOUND, ROWS, by_class_table, main_table
from measure._record_run import ByRing, Measurement, run
from measure._records import Record

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "picture-values.md"
FIRST_SEED = {Ring.A: 700, Ring.B: 10_700, Ring.C: 15_700}
N_SUBJECTS = 300
POSE_SD_DEG = 2.0  # of a steady hand, turned and tilted off the standard pose (engineering judgement)
FOUND_SD_MM = 1.0  # of landmarks that are found, about what the network errs by (model card)
MEASURED_BY = (
    "measure/picture_values.py", "measure/_picture_clips.py", "measure/_picture_table.py",
    "measure/_criterion_clips.py", "src/fanlight/measure/picture", "src/fanlight/measure/shapes.py",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what marks of three hands, and landmarks that are found, measure on one subject, and what is true."""
    from fanlight.heart.movements import Movement, moved
    from fanlight.heart.standard_poses import standard_pose
    from measure._criterion_clips import draw_subject
    from measure._picture_clips import BASE, BY_WAY, VIEWS, Hand, see

    seed, ring = job
    animal = draw_subject(seed, ring).animal
    rng = np.random.default_rng([seed, 31])
    record: Record = {
        "seed": seed, "heart": animal.heart.value, "species": animal.species.value, "kg": animal.weight_kg,
        "hand": {}, "hasty": {}, "found": {}, "not_seen": {},
    }  # fmt: skip
    for view in VIEWS:
        try:
            pose = standard_pose(animal, view)
            for movement in (Movement.ROTATE, Movement.TILT):
                pose = moved(animal, pose, movement, float(rng.normal(0, POSE_SD_DEG)))
            seen = see(animal, pose, view)
        except ValueError as err:
            record["not_seen"][view] = str(err)
            continue
        for way in BY_WAY if view == BASE else ("",):
            _by_hands(record, seen, way, {"hand": Hand(), "hasty": Hand(true_px=2.0)}, rng)
        _found(record, seen, rng)
    return record


def _by_hands(record: Record, seen: Any, way: str, hands: dict[str, Any], rng: np.random.Generator) -> None:
    from measure._picture_clips import drawn_by_hand, true_by_label

    true = true_by_label(seen, way)
    for giver, hand in hands.items():
        given, grid = drawn_by_hand(seen, hand, rng, way=way)
        record[giver] |= _items(seen, given, grid, true)


def _found(record: Record, seen: Any, rng: np.random.Generator) -> None:
    from measure._picture_clips import found_landmarks, true_rings

    given, grid = found_landmarks(seen, FOUND_SD_MM, rng)
    record["found"] |= _items(seen, given, grid, true_rings(seen))


def _items(seen: Any, given: Any, grid: Any, true: dict[str, float]) -> dict[str, Any]:
    """Return value, error and truth by view and label; what is asked and not given has no value and its reason."""
    from fanlight.measure.picture import measure_picture
    from fanlight.study import Patient, ViewReading, ViewSource
    from measure._picture_clips import SHORT, clip_time

    here = ViewReading(view=seen.view, source=ViewSource.MENTOR)
    said = measure_picture(given, grid, here, clip_time(), Patient(), _house())
    refused = {item.name: item.reason for item in said if item.value is None}
    given_values = {item.label: item for item in said if item.value is not None}
    found = {}
    for label, truth in true.items():
        item = given_values.get(label)
        found[f"{SHORT[seen.view]} {label}"] = {
            "value": None if item is None else item.value,
            "uncertainty": None if item is None else item.uncertainty,
            "true": truth,
            "reason": "" if item is not None else "; ".join(dict.fromkeys(refused.values())),
        }
    return found


@cache
def _house() -> Any:
    from fanlight.reference.load import load_house

    return load_house()


def tables(records: ByRing) -> dict[str, str]:
    """Return the tables by name."""
    return {
        "picture-values": main_table(records, "hand", ROWS),
        "picture-values-hasty": main_table(records, "hasty", ROWS[:5]),
        "picture-values-found": main_table(records, "found", FOUND),
        "picture-values-by-class": by_class_table(records, "hand"),
    }


MEASUREMENT = Measurement(
    kind="picture", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, drawn_by=(
        "fanlight.heart.movements", "fanlight.heart.standard_poses", "measure._criterion_clips",
        "measure._picture_clips",
    ),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
