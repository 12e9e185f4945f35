"""How well the causes behind the findings of a study are told, through the pixels: habits, slips, and nothing at all.

    python -m measure.causes --records FOLDER                      draws, asks, writes docs/causes.md
    python -m measure.causes --records FOLDER --print-only --ring A --subjects 6
    python -m measure.causes --records FOLDER --tables-only

A third of the studies has no habit, a third one, a third two at different knobs; each acts in four of five clips, and
one clip in sixteen has a slip of its own. Six clips of three views, one beat each, with the view named. Ring A are
animals from which nothing was learnt; the prior probabilities were set on it. A run that was cut off goes on where it
ended; other criteria need another folder.
"""

from __future__ import annotations

import argparse
import os
from dataclasses import asdict
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

from fanlight.simulate.clip.ring import Ring
from fanlight.study import ClipReading
from measure._cause_answers import answered
from measure._cause_places import with_places
from measure._cause_table import main_table, reliability_table
from measure._described import described, imported
from measure._records import Record, Records, jobs_of, seeds_words
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "causes.md"
FIRST_SEED = {Ring.A: 9800, Ring.B: 10_800, Ring.C: 15_800}
N_SUBJECTS = 42  # of each ring: six of each class of heart
SCRIPTS = (
    "measure/causes.py", "measure/_cause_studies.py", "measure/_cause_table.py", "measure/_cause_answers.py",
    "measure/_cause_places.py",
)  # fmt: skip
TABLES = ("causes", "cause_weights", "cause_weights_doppler", "cause_weights_beside")


def one(job: tuple[int, Ring]) -> Record:
    """Return what is true of one study, and what the criteria said of its clips."""
    from fanlight.reference.causes import read_causes
    from fanlight.reference.load import load_house
    from measure._cause_studies import draw_study

    seed, ring = job
    try:
        study = draw_study(seed, ring, read_causes(load_house()))
    except ValueError as error:
        return {"seed": seed, "not_drawn": str(error)}
    return {
        "seed": seed, "heart": study.heart, "habits": study.habits,
        "clips": [
            {"key": reading.clip.key, "view": reading.view.view, "acting": acts, "findings": [
                [item.criterion, item.verdict.value, item.side.value, item.confidence] for item in reading.findings
            ], **_seen(reading)}
            for reading, acts in zip(study.readings, study.acting, strict=True)
        ],
    }  # fmt: skip


def _seen(reading: ClipReading) -> Record:
    picture, sector = reading.picture, reading.layout.picture
    assert picture is not None  # every clip that is drawn was shown to the network
    assert sector is not None
    return {"picture": asdict(picture), "sector": asdict(sector)}


def main() -> None:
    """Draw, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="folder in which what was said is kept")
    parser.add_argument("--ring", action="append", choices=[ring.value for ring in Ring], help="all of them")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    parser.add_argument("--tables-only", action="store_true", help="draw nothing")
    given = parser.parse_args()
    rings = [Ring(value) for value in given.ring] if given.ring else list(Ring)
    kept = Records(folder=given.records, kind="causes")
    if not given.tables_only:
        kept.draw(one, jobs_of(rings, FIRST_SEED, given.subjects), given.workers)
    records = {ring: [answered(with_places(r)) for r in rows] for ring, rows in kept.read(rings).items()}
    tables = {"causes": main_table(records), "causes-reliability": reliability_table(records)}
    if given.print_only:
        print("\n\n".join(tables.values()))
        return
    import measure._cause_studies  # noqa: F401  its imports are what the studies were drawn by

    made_by = [
        *described(*SCRIPTS), *imported(("fanlight.critique", "fanlight.frames", "fanlight.coach.causes")),
        *(f"src/fanlight/reference/tables/{name}.toml" for name in TABLES), "src/fanlight/reference/causes.py",
        "src/fanlight/reference/animal_facts.py",
    ]  # fmt: skip
    for name, table in tables.items():
        write_table(PAGE, name, table, script=SCRIPTS[0], describes=sorted(set(made_by)), seeds=seeds_words(records))


if __name__ == "__main__":
    main()
