"""The database of a store: opened, brought up to date, read and written in short transactions."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, create_engine, event, inspect, text
from sqlalchemy.exc import DBAPIError

from fanlight.store.errors import DamagedError, LockedError, NewerStoreError, NoRoomError, StoreError

HEAD = "0002"  # the newest migration; a test compares it with the folder
MIGRATIONS = Path(__file__).parent / "migrations"

# What a user is told, by SQLite's primary result code (sqlite.org/rescode.html).
_BUSY, _LOCKED, _READONLY, _IOERR, _CORRUPT, _FULL, _CANTOPEN, _NOTADB = 5, 6, 8, 10, 11, 13, 14, 26
_RESTORE = "Restore the newest export into an empty folder: fanlight store restore EXPORT --data FOLDER."
_TOLD: dict[int, tuple[type[StoreError], str, str]] = {
    _READONLY: (StoreError, "the database may not be written", "Give yourself the right to write this folder."),
    _IOERR: (StoreError, "the disk failed while reading or writing", "Check the disk, then open the store again."),
    _CORRUPT: (DamagedError, "the database is damaged", _RESTORE),
    _FULL: (NoRoomError, "no room is left on the disk; nothing was kept", "Free some space, then do it again."),
    _CANTOPEN: (StoreError, "the database cannot be opened", "Check that the folder is there and may be written."),
    _NOTADB: (DamagedError, "the file is no database", _RESTORE),
}

# Alembic keeps the migration under way in a global: one a process.
_ONE_UPGRADE = threading.Lock()


class Database:
    """Connections to the tables of a store. Close it at the end.

    Parameters
    ----------
    url : URL
        Which database.
    wait_s : float
        How long a write waits while another program writes.
    """

    def __init__(self, url: URL, wait_s: float) -> None:
        self.is_sqlite = url.get_backend_name() == "sqlite"
        self.place = url.database or "memory" if self.is_sqlite else url.render_as_string(hide_password=True)
        self._wait_s = wait_s
        self._engine = create_engine(url)
        if self.is_sqlite:
            event.listen(self._engine, "connect", self._prepare)
            event.listen(self._engine, "begin", _begin)
        self._writer = self._engine.execution_options(is_write=True)
        try:
            self._migrate()
        except BaseException:
            self.close()
            raise

    def _prepare(self, connection: sqlite3.Connection, _: Any) -> None:
        """Set what SQLite forgets between connections."""
        connection.isolation_level = None  # BEGIN is said by us, so that a write can ask for its lock at once
        connection.execute(f"PRAGMA busy_timeout = {round(1000 * self._wait_s)}")
        self._use_wal(connection)
        for setting in ("synchronous = FULL", "foreign_keys = ON", "recursive_triggers = ON"):
            connection.execute(f"PRAGMA {setting}")

    def _use_wal(self, connection: sqlite3.Connection) -> None:
        """Write ahead: reading never waits for a write. Two programs that make the same store may meet here."""
        give_up = time.monotonic() + self._wait_s
        while True:
            try:
                connection.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF not in (_BUSY, _LOCKED) or time.monotonic() > give_up:
                    raise
                time.sleep(0.01)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Give a connection that sees the tables as they are now, whatever is written meanwhile."""
        with self._said(), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Give a connection whose changes are kept together at the end, or not at all.

        Raises
        ------
        LockedError
            When another program writes for longer than was waited.
        NoRoomError
            When the disk is full.
        """
        with self._said(), self._writer.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Turn what the database's driver says into an error of our own."""
        try:
            yield
        except (DBAPIError, sqlite3.Error) as error:
            raised = self._told(error.orig if isinstance(error, DBAPIError) else error)
            if raised is None:
                raise
            raise raised from error

    def _told(self, error: BaseException | None) -> StoreError | None:
        if not isinstance(error, sqlite3.Error):
            return None
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code in (_BUSY, _LOCKED):
            found = f"another program has been writing for more than {self._wait_s:g} s; nothing was kept"
            return LockedError(self.place, found, "Try again; if it stays so, close the other program.")
        if code not in _TOLD:
            return None
        kind, found, remedy = _TOLD[code]
        return kind(self.place, found, remedy)

    def _migrate(self) -> None:
        with self.read() as connection:
            if _version(connection) == HEAD:
                return
        with self.write() as connection:  # two programs may open a new store at once: the second finds it made
            if _version(connection) != HEAD:
                with _ONE_UPGRADE:
                    _upgrade(connection, self.place)

    def problems(self) -> tuple[str, ...]:
        """Return what the database itself finds wrong with its file, in words."""
        if not self.is_sqlite:
            return ()
        with self.read() as connection:
            found = [row[0] for row in connection.execute(text("PRAGMA integrity_check")) if row[0] != "ok"]
            broken = [f"{row[0]}, row {row[1]}: names a row of {row[2]} that is not there"
                      for row in connection.execute(text("PRAGMA foreign_key_check"))]  # fmt: skip
        return (*found, *broken)

    def close(self) -> None:
        """Close all connections."""
        self._engine.dispose()


def _begin(connection: Connection) -> None:
    is_write = connection.get_execution_options().get("is_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if is_write else "BEGIN")


def _version(connection: Connection) -> str:
    """Return the migration at which the tables stand; "" when there are none."""
    if not inspect(connection).has_table("alembic_version"):
        return ""
    return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")


def _upgrade(connection: Connection, place: str) -> None:
    """Bring the tables up to date within the open transaction."""
    from alembic import command  # loads templates and a parser: only where there is something to do
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    version = _version(connection)
    if version and version not in known:
        raise NewerStoreError(
            place,
            f"the tables are of version {version}, this program knows up to {HEAD}",
            "Install the newer Fanlight.",
        )
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
