"""How far calipers laid on the picture network's masks lie off the left ventricle, by class of heart and kind of clip.

    python -m measure.recognition_ventricle --records FOLDER                 draws, asks, writes docs/model-card.md
    python -m measure.recognition_ventricle --records FOLDER --draw-only --seconds 900
    python -m measure.recognition_ventricle --records FOLDER --tables-only

Of each animal only the two short axes that show the ventricle are drawn, each by a steady hand and one also displaced:
a small part of `measure.recognition`, so that more animals can be had, and as many cats as their target needs. Rings
are those of `measure.recognition`; the cats are the first ones from other seeds of the same rings.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

from fanlight.recognise.picture_network import SHIPPED, network_hash
from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure.recognition import FIRST_SEED, LIMIT, NAMES
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "model-card.md"
SCRIPT = "measure/recognition_ventricle.py"
TABLE = "recognition-ventricle"
FIRST_CAT_SEED = {Ring.A: 9_700, Ring.B: 10_700, Ring.C: 15_700}  # of ring A none that the network learnt from
N_SUBJECTS, N_CATS = 21, 12  # of each ring: three of each class of heart, and cats beside them
MEASURED_BY = (
    SCRIPT, "measure/_ventricle_clips.py", "measure/_ventricle_figures.py", "measure/_recognition_answers.py",
    "measure/_recognition_clips.py", "measure/_criterion_clips.py", "training/draw.py", "training/label_sets.py",
    "training/plane_rule.py", "training/randomise.py", "src/fanlight/recognise/picture_square.py",
)  # fmt: skip

Record = dict[str, Any]


def jobs() -> Iterator[tuple[Ring, int]]:
    """Yield subjects of all rings in turn, cats among the others, so that a run cut off has all rings alike."""
    cats = {ring: cat_seeds(ring) for ring in Ring}
    for k in range(max(N_SUBJECTS, N_CATS)):
        for ring in Ring:
            if k < N_SUBJECTS:
                yield ring, FIRST_SEED[ring] + k
            if k < N_CATS:
                yield ring, next(cats[ring])


def cat_seeds(ring: Ring) -> Iterator[int]:
    """Yield the seeds from the ring's first on that draw a cat."""
    from fanlight.study import Species
    from measure._criterion_clips import draw_subject

    seed = FIRST_CAT_SEED[ring]
    while True:
        if draw_subject(seed, ring).animal.species is Species.CAT:
            yield seed
        seed += 1


def records_of(seed: int, ring: Ring) -> list[Record]:
    """Return the records of a subject."""
    from fanlight.recognise.picture_network import shipped_network
    from measure._recognition_answers import record_of
    from measure._recognition_clips import show
    from measure._ventricle_clips import ventricle_shots

    return [record_of(shipped_network(), show(shot)) for shot in ventricle_shots(seed, ring)]


def draw(folder: Path, until_s: float) -> None:
    """Draw and ask all subjects whose records are not there yet, until the time is up."""
    folder.mkdir(parents=True, exist_ok=True)
    for ring, seed in jobs():
        path = folder / f"{network_hash()}-{ring.value}-{seed:05d}.json"
        if not path.exists():
            if time.monotonic() > until_s:
                return
            path.write_text(json.dumps(records_of(seed, ring)), encoding="utf-8")
            print(f"{time.strftime('%H:%M:%S')} ring {NAMES[ring]}, seed {seed}", flush=True)


def read_records(folder: Path) -> dict[str, list[Record]]:
    """Return all records of the shipped network by ring.

    Raises
    ------
    SystemExit
        If a ring has none; the message says what to run.
    """
    found = {}
    for ring in Ring:
        files = sorted(folder.glob(f"{network_hash()}-{ring.value}-*.json"))
        if not files:
            raise SystemExit(
                f"{folder}: no records of ring {ring.value} by the shipped network; run without --tables-only first"
            )
        found[NAMES[ring]] = [record for file in files for record in json.loads(file.read_text("utf-8"))]
    return found


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--seconds", type=float, default=1e9, help="after which no subject is begun")
    parser.add_argument("--draw-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.tables_only:
        draw(given.records, time.monotonic() + given.seconds)
    if not given.draw_only:
        _write(read_records(given.records))


def _write(rings: dict[str, list[Record]]) -> None:
    import measure._recognition_answers  # noqa: F401  so that the table names the simulator's code that it rests on
    from measure._ventricle_figures import card

    spans = {name: sorted({r["seed"] for r in records}) for name, records in rings.items()}
    write_table(
        PAGE, TABLE, card(rings, LIMIT), script=SCRIPT,
        describes=described(*MEASURED_BY, SHIPPED.relative_to(ROOT).as_posix()),
        seeds=", ".join(f"ring {name} {seeds[0]}-{seeds[-1]} ({len(seeds)} animals)" for name, seeds in spans.items()),
    )  # fmt: skip


if __name__ == "__main__":
    main()
