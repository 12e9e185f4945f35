"""Whether a second training of the picture network, from other seeds, says what the packaged one says.

    python -m measure.recognition_trainings --second FILE --records FOLDER --draw-only --workers 64 --seconds 250
    python -m measure.recognition_trainings --second FILE --records FOLDER        draws what is missing, writes the card

Both networks are shown the same clips: those of `measure.recognition` and, for calipers, of
`measure.recognition_ventricle`. The second network need not be in the package: the table tells how it came about.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import time
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache, partial
from hashlib import sha256
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

from fanlight.recognise.picture_network import SHIPPED, PictureNetwork, open_network
from fanlight.simulate.clip.ring import Ring
from measure._described import described
from measure.recognition import FIRST_SEED, LIMIT, NAMES
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "model-card.md"
SCRIPT, TABLE = "measure/recognition_trainings.py", "recognition-trainings"
N_SUBJECTS = 28  # of each ring: four of each class of heart
N_VENTRICLE = 28  # of each ring: their short axes that show the ventricle, apart from the views
PARTS = 4  # an animal's clips are drawn in so many jobs, so that no core waits long for another
VIEWS, VENTRICLE = "views", "ventricle"
KEPT = ("seed", "kind", "view", "shares", "unit_mm", "species", "weight_kg", "said", "landmarks", "lv_mm")
MEASURED_BY = (
    SCRIPT, "measure/_trainings_figures.py", "measure/_recognition_answers.py", "measure/_recognition_clips.py",
    "measure/_recognition_figures.py", "measure/_ventricle_clips.py", "measure/_criterion_clips.py",
    "training/draw.py", "training/label_sets.py", "training/plane_rule.py",
    "training/randomise.py", "src/fanlight/recognise/picture_square.py", "src/fanlight/recognise/picture.onnx",
)  # fmt: skip

Job = tuple[str, Ring, int, int]  # what, ring, seed, part
Pair = tuple[dict[str, Any], dict[str, Any]]  # what the packaged and the second network say of one clip


def jobs(n_subjects: int) -> list[Job]:
    """Return all jobs, rings in turn, so that a run cut off has all rings alike."""
    first: list[Job] = [(VENTRICLE, ring, FIRST_SEED[ring] + k, 0) for k in range(N_VENTRICLE) for ring in Ring]
    views = [
        (VIEWS, ring, FIRST_SEED[ring] + k, part) for k in range(n_subjects) for ring in Ring for part in range(PARTS)
    ]
    return [*first, *views]


def path_of(folder: Path, job: Job) -> Path:
    """Return the file of a job's records."""
    what, ring, seed, part = job
    return folder / f"{what}-{ring.value}-{seed:05d}-{part}.json.gz"


@lru_cache(maxsize=2)
def _network(path: Path) -> PictureNetwork:
    return open_network(path)


def draw_job(folder: Path, second: Path, until_s: float, job: Job) -> None:
    """Draw the clips of a job and write what both networks say of them; nothing when the time is up."""
    from measure._recognition_answers import record_of
    from measure._recognition_clips import shots_of, show
    from measure._ventricle_clips import ventricle_shots

    if time.time() > until_s:
        return
    what, ring, seed, part = job
    shots = ventricle_shots(seed, ring) if what == VENTRICLE else shots_of(seed, ring)[part::PARTS]
    pairs = []
    for shot in shots:
        shown = show(shot)
        both = (record_of(_network(path), shown) for path in (SHIPPED, second))
        pairs.append([{key: record[key] for key in KEPT} for record in both])
    part_file = path_of(folder, job).with_suffix(".part")
    part_file.write_bytes(gzip.compress(json.dumps(pairs).encode()))
    part_file.rename(path_of(folder, job))


def draw(folder: Path, second: Path, n_subjects: int, workers: int, seconds: float) -> None:
    """Draw what is not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    missing = [job for job in jobs(n_subjects) if not path_of(folder, job).exists()]
    with ProcessPoolExecutor(workers) as pool:
        list(pool.map(partial(draw_job, folder, second, time.time() + seconds), missing))
    print(f"{sum(path_of(folder, job).exists() for job in missing)} of {len(missing)} jobs done", flush=True)


def read_pairs(folder: Path, what: str) -> dict[str, list[Pair]]:
    """Return all pairs by ring.

    Raises
    ------
    SystemExit
        If a ring has none; the message says what to run.
    """
    rings: dict[str, list[Pair]] = {}
    for ring in Ring:
        files = sorted(folder.glob(f"{what}-{ring.value}-*.json.gz"))
        if not files:
            raise SystemExit(f"{folder} holds no {what} of ring {ring.value}: run without --tables-only first")
        rings[NAMES[ring]] = [tuple(pair) for file in files for pair in json.loads(gzip.decompress(file.read_bytes()))]
    return rings


def facts_of(network: PictureNetwork, file: Path) -> str:
    """Return how a network came about, in a line."""
    steps = "; ".join(
        f"seed {t['seed']}, {t['steps']} steps in {float(t['seconds_spent']):.0f} s on {t['clips']} clips"
        + "".join(f", cut and gone on with at step {step}" for step in t.get("gone_on_at_steps", []))
        for t in network.facts["trainings"]
    )
    return f"{steps} (file {sha256(file.read_bytes()).hexdigest()[:16]})"


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--second", type=Path, required=True, help="the network of another training")
    parser.add_argument("--records", type=Path, required=True, help="a folder")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, default=1e9, help="after which no job is begun")
    parser.add_argument("--draw-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.tables_only:
        draw(given.records, given.second, given.subjects, given.workers, given.seconds)
    if not given.draw_only:
        _write(given.records, given.second)


def _write(folder: Path, second: Path) -> None:
    import measure._recognition_answers  # noqa: F401  so that the table names the simulator's code that it rests on
    from measure._trainings_figures import card

    views, ventricle = read_pairs(folder, VIEWS), read_pairs(folder, VENTRICLE)
    trainings = [facts_of(open_network(file), file) for file in (SHIPPED, second)]
    spans = {name: sorted({first["seed"] for first, _ in pairs}) for name, pairs in views.items()}
    more = {name: len({first["seed"] for first, _ in pairs}) for name, pairs in ventricle.items()}
    write_table(
        PAGE, TABLE, card(trainings, views, ventricle, LIMIT), script=SCRIPT, describes=described(*MEASURED_BY),
        seeds=", ".join(
            f"ring {name} {seeds[0]}-{seeds[-1]}, calipers {more[name]} animals" for name, seeds in spans.items()
        ),
    )  # fmt: skip


if __name__ == "__main__":
    main()
