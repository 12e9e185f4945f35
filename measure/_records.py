"""A folder of records: what was measured of each subject of each ring, so that a run that was cut off goes on."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanlight.simulate.clip.ring import Ring

Record = dict[str, Any]
Job = tuple[int, Ring]  # seed and ring


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """Records of one kind in a folder; other code needs another folder."""

    folder: Path
    kind: str  # first word of each file's name

    def draw(self, one: Callable[[Job], Record], jobs: Iterable[Job], workers: int) -> None:
        """Make the records that are not there yet; `one` is a function of a module, for the processes."""
        self.folder.mkdir(parents=True, exist_ok=True)
        left = [job for job in jobs if not self._path(*job).exists()]
        with ProcessPoolExecutor(workers) as pool:
            for done, (job, record) in enumerate(zip(left, pool.map(one, left), strict=True), start=1):
                self._path(*job).write_text(json.dumps(record), encoding="utf-8")
                print(f"{done} of {len(left)} subjects", file=sys.stderr, flush=True)

    def read(self, rings: Iterable[Ring]) -> dict[str, list[Record]]:
        """Return all records by ring.

        Raises
        ------
        SystemExit
            If a ring has none; the message says what to run.
        """
        found: dict[str, list[Record]] = {}
        for ring in rings:
            files = sorted(self.folder.glob(f"{self.kind}-{ring.value}-*.json"))
            if not files:
                raise SystemExit(
                    f"{self.folder} holds no records of ring {ring.value}: run without --tables-only first"
                )
            found[ring.value] = [json.loads(file.read_text("utf-8")) for file in files]
        return found

    def _path(self, seed: int, ring: Ring) -> Path:
        return self.folder / f"{self.kind}-{ring.value}-{seed:05d}.json"


def jobs_of(rings: Sequence[Ring], first_seed: Mapping[Ring, int], n_subjects: int) -> list[Job]:
    """Return subjects of all rings in turn, so that a run cut off has all rings alike."""
    return [(first_seed[ring] + k, ring) for k in range(n_subjects) for ring in rings]


def seeds_words(records: Mapping[str, Sequence[Record]]) -> str:
    """Return which seeds the records are of, ring by ring."""
    return ", ".join(f"ring {name} {rows[0]['seed']}-{rows[-1]['seed']}" for name, rows in records.items())
