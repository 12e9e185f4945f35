"""How often colour on the heart's muscle, told by the network's masks, is raised where it should be, and where not.

    python -m measure.colour_masks --records FOLDER                 asks about clips, writes docs/accuracy.md
    python -m measure.colour_masks --records FOLDER --print-only
    python -m measure.colour_masks --records FOLDER --tables-only

Clips are the colour clips that `python -m measure.doppler_criteria make` made with this code: nothing is drawn here.
The band was tuned on ring A, whose animals the network learnt from; B are fresh seeds, C comes from the shifted
generator. Raised: borderline or missed.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

import cv2

from fanlight.critique.colour_masks import NAME, OVER_MUSCLE
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.critique.picture_masks import read_mask_tables, with_masks
from fanlight.intake import Limits
from fanlight.recognise.picture_network import SHIPPED
from fanlight.reference.load import load_house
from fanlight.review.clip_jobs import reading_of
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.review.stages import stage_keys
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Verdict
from measure._doppler_clips import LIST, ClipTruth, read_list
from measure._one_clip import one_clip
from measure._recognition_figures import share_words
from measure.doppler_criteria import FIRST_SEED, MAKES_CLIPS, clips_folder, subjects_in_turn
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
TABLE = "colour-masks"
N_SUBJECTS = 14  # of each ring: two of each class of heart
FAULTS = ("colour_write_over", "colour_gain_high")  # that paint muscle; beside them the good clips are asked
FROM_STRENGTH = 3  # plain to an eye that knows
MEASURED_BY = (
    "measure/colour_masks.py", "measure/_one_clip.py", "src/fanlight/critique/picture_masks.py",
    "src/fanlight/critique/colour_masks.py", "src/fanlight/reference/tables/criteria/colour_masks.toml",
    *(f"src/fanlight/recognise/{name}" for name in (
        "beat_frames.py", "colour_on_muscle.py", "picture.onnx", "picture_network.py", "picture_square.py",
        "structure_summary.py")),
    "src/fanlight/frames/colour_box.py",
)  # fmt: skip

Record = dict[str, Any]


def records_of(folder: Path) -> list[Record]:
    """Return the records of a subject's clips, read as files."""
    asked = [clip for clip in read_list(folder) if clip.mode == "colour" and clip.fault in ("", *FAULTS)]
    return [record_of(folder / clip.file, clip) for clip in asked]


def record_of(path: Path, truth: ClipTruth) -> Record:
    """Return what a review says of a clip, beside its fault."""
    house, limits = load_house(), Limits()
    item, clip = one_clip(path, limits)
    known = Known(families=tuple(family.name for family in EVERY_FAMILY if family.name != NAME))
    read = read_clip(item, clip, clip.patient, house, None, known, limits, beat=lambda *_, **__: None)
    if not isinstance(read, ClipPass):
        raise RuntimeError(f"{path}: the engine refuses a file of the simulator: {read}")
    findings = {**dict.fromkeys(known.families, ()), **dict(read.families)}
    keys = stage_keys(clip, clip.patient, None, house)
    reading = with_masks(reading_of(clip, read, findings, keys, house), read_mask_tables(house))
    found = next((item for item in reading.findings if item.criterion == OVER_MUSCLE), None)
    value = None if found is None else found.value
    return {
        "seed": truth.seed, "heart": truth.heart, "species": truth.species, "view": truth.view, "fault": truth.fault,
        "strength": truth.strength, "value": value, "reason": "no colour clip" if found is None else found.reason,
        "raised": found is not None and found.verdict in (Verdict.BORDERLINE, Verdict.MISSED),
    }  # fmt: skip


def ask(clips: Path, folder: Path, n_subjects: int) -> None:
    """Ask about all subjects whose records are not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    for ring, seed in subjects_in_turn(list(Ring), n_subjects):
        made, path = clips / f"{ring.value}-{seed}", _path(folder, ring, seed)
        if not (made / LIST).is_file():
            raise SystemExit(f"{made}: no clips there; run python -m measure.doppler_criteria make first")
        if not path.exists():
            path.write_text(json.dumps(records_of(made)), encoding="utf-8")
            print(f"ring {ring.value}, seed {seed}", file=sys.stderr, flush=True)


def _path(folder: Path, ring: Ring, seed: int) -> Path:
    return folder / f"colour-{ring.value}-{seed:05d}.json"


def read_records(folder: Path) -> dict[str, list[Record]]:
    """Return all records of a folder by ring.

    Raises
    ------
    SystemExit
        If a ring has none; the message says what to run.
    """
    found = {}
    for ring in Ring:
        files = sorted(folder.glob(f"colour-{ring.value}-*.json"))
        if not files:
            raise SystemExit(f"{folder} holds no records of ring {ring.value}: run without --tables-only first")
        found[ring.value] = [record for file in files for record in json.loads(file.read_text("utf-8"))]
    return found


def table(rings: dict[str, list[Record]]) -> str:
    """Return what is raised and what is quiet of the judged clips, rings side by side."""
    rows: list[tuple[str, bool, Callable[[Record], bool]]] = [
        ("colour written over tissue, plain: raised", True, _has("colour_write_over")),
        ("colour gain too high, plain: raised", True, _has("colour_gain_high")),
        ("no fault: quiet", False, lambda r: not r["fault"]),
    ]
    lines = [f"| share of the judged clips | {' | '.join(f'ring {name}' for name in rings)} |"]
    lines.append("|---" * (len(rings) + 1) + "|")
    for words, wants_raised, chosen in rows:
        cells = [_share([r for r in records if chosen(r)], wants_raised=wants_raised) for records in rings.values()]
        lines.append(f"| {words} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _has(fault: str) -> Callable[[Record], bool]:
    return lambda record: record["fault"] == fault and record["strength"] >= FROM_STRENGTH


def _share(records: list[Record], *, wants_raised: bool) -> str:
    judged = [r for r in records if r["value"] is not None]
    words = share_words(sum(r["raised"] is wants_raised for r in judged), len(judged))
    left = len(records) - len(judged)
    return f"{words}; {left} n. a." if left else words


def main() -> None:
    """Read the command line, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder; other code needs another")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring")
    parser.add_argument("--print-only", action="store_true")
    parser.add_argument("--tables-only", action="store_true")
    given = parser.parse_args()
    if not given.tables_only:
        ask(clips_folder(), given.records, given.subjects)
    found = read_records(given.records)
    if given.print_only:
        print(table(found))
        return
    spans = {ring.value: FIRST_SEED[ring] for ring in Ring}
    n = {name: len({r["seed"] for r in records}) for name, records in found.items()}
    write_table(
        PAGE, TABLE, table(found), script="measure/colour_masks.py",
        describes=sorted({*MAKES_CLIPS, *MEASURED_BY, SHIPPED.relative_to(ROOT).as_posix()}),
        seeds=", ".join(f"ring {name} from {first} on ({n[name]} animals)" for name, first in spans.items()),
    )  # fmt: skip


if __name__ == "__main__":
    main()
