"""Measure how fast the store answers with many studies in it, and print the times.

    python -m measure.store_speed [N_STUDIES]

One store in a scratch folder, SQLite as shipped (every write reaches the disk before it is acknowledged). Fills it with
invented studies, then times the list of waiting studies, one more entry, and the state of a study as the desk loads it.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from sqlalchemy import Connection

from fanlight import __version__
from fanlight.store import (
    Store,
    add_entry,
    clip_reading,
    clip_readings,
    latest_coverages,
    new_id,
    open_store,
    study_state,
    waiting_studies,
)
from fanlight.store.entry import write_action
from fanlight.store.feed import assembly_columns
from fanlight.store.packed import pack
from fanlight.store.standing import rebuild_standing
from fanlight.store.tables import ASSEMBLIES, ENTRIES, FILES, READINGS, REVIEWS, STUDIES
from measure._store_samples import HOUSE, sample_actions, sample_id, sample_review, sample_study

N_STUDIES = 10_000
N_CLIPS = 40  # engineering judgement: a full examination
N_ENTRIES = 250  # the demo study by keyboard, docs/desk.md
N_FULL = 20  # studies with every reading and entry; the others have their rows and small values
REPEATS = 200


def fill(store: Store, n_studies: int) -> list[str]:
    """Fill a store in large transactions; return the ids of the full studies."""
    small = {"value": pack("x"), "coverage": pack(sample_review(sample_study(N_CLIPS)).coverage)}
    by = {"at": store.now(), "engine_version": __version__, "house": HOUSE}
    ids = [sample_id("speed", k) for k in range(n_studies)]
    for start in range(0, n_studies, 500):
        some = range(start, min(start + 500, n_studies))
        with store.database.write() as connection:
            facts = [
                assembly_columns(sample_study(0, urgent=k % 50 == 0, trainee="T")) | {"n_clips": N_CLIPS} for k in some
            ]  # fmt: skip
            connection.execute(STUDIES.insert(), [
                {"id": ids[k], "made_at": store.now(), "title": f"study {k}", "parent": None, "thread": ids[k]}
                for k in some
            ])  # fmt: skip
            connection.execute(ASSEMBLIES.insert(), [{"study": ids[k], **by, **facts[k - start]} for k in some])
            connection.execute(REVIEWS.insert(), [{"study": ids[k], **by, **small} for k in some])
            connection.execute(FILES.insert(), [
                {"id": sample_id(ids[k], n), "study": ids[k], "received_at": by["at"], "name": f"{n}.dcm",
                 "sha256": f"{k:032x}{n:032x}", "size": 1}
                for k in some for n in range(N_CLIPS)
            ])  # fmt: skip
            connection.execute(READINGS.insert(), [
                {"study": ids[k], **by, "clip": f"c{n}", "digest": "", "value": small["value"]}
                for k in some for n in range(N_CLIPS)
            ])  # fmt: skip
            fill_log(store, connection, [ids[k] for k in some if k >= N_FULL], 3)
    for study in ids[:N_FULL]:
        with store.database.write() as connection:
            review = sample_review(sample_study(N_CLIPS, study))
            connection.execute(READINGS.insert(), [
                {"study": study, **by, "clip": reading.clip.key, "digest": "", "value": pack(reading)}
                for reading in review.readings
            ])  # fmt: skip
            fill_log(store, connection, [study], N_ENTRIES)
    rebuild_standing(store)
    return ids[:N_FULL]


def fill_log(store: Store, connection: Connection, studies: list[str], n: int) -> None:
    """Write entries of invented actions."""
    rows = [
        {"id": sample_id(study, "entry", k), "study": study, "clip": getattr(action, "clip", ""), "at": store.now(),
         "author": "M", "action": name, "payload": payload, "undoes": None}
        for study in studies
        for k, action in enumerate(sample_actions(n, study))
        for name, payload in [write_action(action)]
    ]  # fmt: skip
    if rows:
        connection.execute(ENTRIES.insert(), rows)


def times_ms(work: Callable[[int], object], repeats: int = REPEATS) -> np.ndarray:
    """Return how long each of some calls took, ms."""
    work(0)
    taken = []
    for k in range(1, repeats + 1):
        start = time.perf_counter()
        work(k)
        taken.append(1000 * (time.perf_counter() - start))
    return np.array(taken)


def pages(store: Store) -> Callable[[int], object]:
    """Return a reader of one page after the other, as a person leafs through the list."""
    after = [""]

    def one(_: int) -> None:
        page = waiting_studies(store, after=after[0])
        latest_coverages(store, [line.id for line in page.studies])
        after[0] = page.after

    return one


def main(n_studies: int) -> None:
    """Fill, measure, print."""
    with tempfile.TemporaryDirectory() as scratch, open_store(Path(scratch) / "store") as store:
        start = time.perf_counter()
        full = fill(store, n_studies)
        size = sum(path.stat().st_size for path in Path(scratch).rglob("*") if path.is_file())
        print(f"{n_studies} studies, {size / 1e6:.0f} MB, filled in {time.perf_counter() - start:.0f} s")
        actions = sample_actions(REPEATS + 1, full[0])
        work: tuple[tuple[str, Callable[[int], object], int], ...] = (
            ("first page of the list", lambda _: waiting_studies(store), REPEATS),
            ("a page of the list with its small pictures, leafing", pages(store), min(REPEATS, n_studies // 25)),
            (f"state of a study with {N_ENTRIES} entries", lambda k: study_state(store, full[k % N_FULL]), REPEATS),
            (f"readings of a study with {N_CLIPS} clips", lambda k: clip_readings(store, full[k % N_FULL]), 20),
            (
                "reading of one clip",
                lambda k: clip_reading(store, full[k % N_FULL], f"{full[k % N_FULL]}-clip-1"),
                REPEATS,
            ),
            ("one more entry", lambda k: add_entry(store, full[1], actions[k], author="M", entry=new_id()), REPEATS),
        )
        print("| what | p50, ms | p95, ms | n |\n|---|---|---|---|")
        for name, one, repeats in work:
            taken = times_ms(one, repeats)
            p50, p95 = np.percentile(taken, [50, 95])
            print(f"| {name} | {p50:.1f} | {p95:.1f} | {len(taken)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else N_STUDIES)
