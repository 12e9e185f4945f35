"""Kill a program that fills a store, at random moments, and look whether all that it was told was kept is there.

`kill_loop` is used by the tests with a few kills and can be run with many: `python -m measure._killed_store N SEED`.
The program in the middle is this module again, called with a folder.
"""

from __future__ import annotations

import hashlib
import json
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanlight.review.events import ClipFinished, StudyAssembled
from fanlight.store import (
    DocumentKind,
    NewPart,
    Store,
    add_entry,
    add_file,
    add_study,
    clip_readings,
    documents_of,
    entries_of,
    files_of,
    new_id,
    open_store,
    record_event,
    sign_document,
    undo_entry,
    verify_store,
)
from measure._store_samples import HOUSE, sample_actions, sample_reading, sample_study

ROOT = Path(__file__).resolve().parent.parent
LONGEST_LIFE_S = 0.35  # long enough to make a store and some rows, short enough to be killed while doing so
N_CLIPS = 10_000
PIECE_BYTES = 32 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class KillReport:
    """What a loop of kills saw."""

    n_kills: int
    acknowledged: dict[str, int]  # rows and files that the program was told are kept, by kind; all were found
    n_half: int  # kills that left a half-written original, swept at the next opening


def kill_loop(folder: Path, n: int, seed: int) -> KillReport:
    """Start and kill a program on one store again and again.

    Parameters
    ----------
    folder : Path
        Of the store; the same for all kills.
    n : int
        How many.
    seed : int
        Of the moments and of what is written.

    Raises
    ------
    AssertionError
        When something acknowledged is not there, or something is damaged.
    """
    rng = random.Random(seed)
    told: list[dict[str, Any]] = []
    n_half = 0
    for k in range(n):
        told += _one_life(folder, f"{seed}-{k}", rng.uniform(0.0, LONGEST_LIFE_S), after_first_row=k % 2 == 1)
        n_half += bool(list((folder / "originals" / "incoming").glob("*")))
        _check(folder, told)
    kinds = [item["kind"] for item in told]
    return KillReport(n_kills=n, acknowledged={kind: kinds.count(kind) for kind in sorted(set(kinds))}, n_half=n_half)


def _one_life(folder: Path, seed: str, life_s: float, after_first_row: bool) -> list[dict[str, Any]]:
    """Return what one program was told before it was killed: while it opens the store, or while it fills it."""
    command = [sys.executable, "-m", "measure._killed_store", "fill", str(folder), seed]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        first = child.stdout.readline()
        assert first == b"ready\n", first
        early = child.stdout.readline() if after_first_row else b""
        time.sleep(life_s)
        assert child.poll() is None, "the program ended by itself"
        child.kill()
        said = early + child.stdout.read()
    lines = said.split(b"\n")[:-1]  # the last one may be cut off
    return [json.loads(line) for line in lines]


def _check(folder: Path, told: list[dict[str, Any]]) -> None:
    with open_store(folder) as store:
        assert not list((folder / "originals" / "incoming").iterdir()), "a half-written original was not swept"
        verification = verify_store(store)
        assert verification.is_whole, verification.damage
        for study in {item["study"] for item in told}:
            _check_study(store, study, [item for item in told if item["study"] == study])


def _check_study(store: Store, study: str, told: list[dict[str, Any]]) -> None:
    files = {item.id: item.sha256 for item in files_of(store, study)}
    readings = clip_readings(store, study)
    entries = {item.id: item.payload for item in entries_of(store, study)}
    papers = {item.id: item.sha256 for item in documents_of(store, study)}
    for item in told:
        match item["kind"]:
            case "file":
                assert files[item["id"]] == item["said"], item
                assert store.originals.is_whole(item["said"]), item
            case "reading":
                assert readings[item["id"]].reading is not None, item
            case "entry" | "undo":
                assert entries[item["id"]] == item["said"], item
            case "paper":
                assert papers[item["id"]] == item["said"], item


def fill(folder: Path, seed: str) -> None:
    """Fill the store until killed, and say after each row that it is kept."""
    rng = random.Random(seed)
    print("ready", flush=True)
    with open_store(folder) as store:
        study = new_id()
        add_study(store, study, title=f"invented {seed}")
        whole = sample_study(50, study)
        record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
        actions = sample_actions(700, study)
        newest = ""
        for k in range(N_CLIPS):
            data = rng.randbytes(rng.randrange(1, 400_000))
            pieces = [data[at : at + PIECE_BYTES] for at in range(0, len(data), PIECE_BYTES)]
            file = add_file(store, study, file=new_id(), name=f"{k}.dcm", chunks=pieces)
            _say("file", study, file.id, hashlib.sha256(data).hexdigest())
            reading = sample_reading(whole.clips[k % len(whole.clips)])
            record_event(store, study, ClipFinished(reading=reading, from_cache=False), house=HOUSE)
            _say("reading", study, reading.clip.key, "")
            entry = add_entry(store, study, actions[k % len(actions)], author="M", entry=new_id())
            _say("entry", study, entry.id, entry.payload)
            if k % 3 == 0:
                undo = undo_entry(store, study, entry.id, author="M", entry=new_id())
                _say("undo", study, undo.id, undo.payload)
            if k % 5 == 1:
                parts = [NewPart(name="summary.html", media_type="text/html", data=data[:1000])]
                paper = sign_document(
                    store, study, DocumentKind.SUMMARY, parts, author="M", document=new_id(), supersedes=newest
                )
                newest = paper.id
                _say("paper", study, paper.id, paper.sha256)


def _say(kind: str, study: str, key: str, said: str) -> None:
    print(json.dumps({"kind": kind, "study": study, "id": key, "said": said}), flush=True)


if __name__ == "__main__":
    if sys.argv[1] == "fill":
        fill(Path(sys.argv[2]), sys.argv[3])
    else:
        with tempfile.TemporaryDirectory() as scratch:
            print(kill_loop(Path(scratch) / "store", int(sys.argv[1]), int(sys.argv[2])))
