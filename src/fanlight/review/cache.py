"""Results of stages kept on disk, by a key that changes when anything they rest on changes.

Holds values only: no pixels, no names, no text of the screen that is not technical.
"""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

# Engineering judgement: a clip's results take 5 to 50 kB, so this holds some tens of thousands of clips.
DEFAULT_LIMIT_BYTES = 500 * 1024**2


def stage_key(stage: str, version: int, *parts: str) -> str:
    """Return the key of a stage's result: stage, version, pixels, upstream keys, parameters, House rows."""
    text = "\x1f".join((stage, str(version), *parts))
    return hashlib.sha256(text.encode()).hexdigest()[:40]


class Cache(Protocol):
    """Port: where results of stages are kept between runs."""

    def get(self, keys: Iterable[str]) -> dict[str, bytes]: ...
    def put(self, values: Mapping[str, bytes]) -> None: ...


class NoCache:
    """Keeps nothing."""

    def get(self, keys: Iterable[str]) -> dict[str, bytes]:
        """Return nothing."""
        del keys
        return {}

    def put(self, values: Mapping[str, bytes]) -> None:
        """Forget."""
        del values

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Have nothing to close."""


class DiskCache:
    """A bounded SQLite file; the least recently used results go first.

    Parameters
    ----------
    folder : Path
        Made when missing, readable by the user only.
    limit_bytes : int
        Upper bound of the stored values.
    """

    def __init__(self, folder: Path, limit_bytes: int = DEFAULT_LIMIT_BYTES) -> None:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.file = folder / "stages.sqlite"
        self._limit = limit_bytes
        self._db = self._open()

    def _open(self) -> sqlite3.Connection:
        try:
            return self._prepared()
        except sqlite3.DatabaseError:
            # A cache may always be thrown away: a damaged file is replaced.
            self.file.unlink(missing_ok=True)
            return self._prepared()

    def _prepared(self) -> sqlite3.Connection:
        db = sqlite3.connect(self.file, timeout=10, isolation_level=None)
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("PRAGMA synchronous=NORMAL")
        db.execute(
            "CREATE TABLE IF NOT EXISTS stage "
            "(key TEXT PRIMARY KEY, value BLOB NOT NULL, size INTEGER NOT NULL, used INTEGER NOT NULL)"
        )
        db.execute("CREATE INDEX IF NOT EXISTS stage_used ON stage (used)")
        return db

    def _next_use(self) -> int:
        return int(self._db.execute("SELECT COALESCE(MAX(used), 0) + 1 FROM stage").fetchone()[0])

    def get(self, keys: Iterable[str]) -> dict[str, bytes]:
        """Return the stored values of those keys that are there."""
        found: dict[str, bytes] = {}
        for key in keys:
            row = self._db.execute("SELECT value FROM stage WHERE key = ?", (key,)).fetchone()
            if row is not None:
                try:
                    found[key] = zlib.decompress(row[0])
                except zlib.error:
                    self._db.execute("DELETE FROM stage WHERE key = ?", (key,))
        if found:
            use = self._next_use()
            self._db.executemany("UPDATE stage SET used = ? WHERE key = ?", [(use, key) for key in found])
        return found

    def put(self, values: Mapping[str, bytes]) -> None:
        """Store values, then drop the least recently used above the limit."""
        use = self._next_use()
        packed = [(key, zlib.compress(value, 3)) for key, value in values.items()]
        self._db.execute("BEGIN IMMEDIATE")
        self._db.executemany(
            "INSERT OR REPLACE INTO stage VALUES (?, ?, ?, ?)", [(key, blob, len(blob), use) for key, blob in packed]
        )
        total = int(self._db.execute("SELECT COALESCE(SUM(size), 0) FROM stage").fetchone()[0])
        while total > self._limit:
            oldest = self._db.execute("SELECT key, size FROM stage ORDER BY used LIMIT 1").fetchone()
            self._db.execute("DELETE FROM stage WHERE key = ?", (oldest[0],))
            total -= oldest[1]
        self._db.execute("COMMIT")

    def size_bytes(self) -> int:
        """Return how much is stored."""
        return int(self._db.execute("SELECT COALESCE(SUM(size), 0) FROM stage").fetchone()[0])

    def purge(self) -> int:
        """Throw everything away; return how many results there were."""
        count = int(self._db.execute("SELECT COUNT(*) FROM stage").fetchone()[0])
        self._db.execute("DELETE FROM stage")
        self._db.execute("VACUUM")
        return count

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
