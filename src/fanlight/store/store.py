"""The keeper of what a desk knows: a folder with the database and the files as they came."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import URL, Connection, RowMapping, Table, make_url, select

from fanlight.review.settings import data_folder
from fanlight.store.database import Database
from fanlight.store.errors import StoreError, UnknownRowError, UsedIdError
from fanlight.store.originals import Originals
from fanlight.store.tables import STUDIES

DATABASE_FILE = "fanlight.sqlite"
ORIGINALS_FOLDER = "originals"
# Engineering judgement: a write takes milliseconds; who waits this long meets a program that hangs.
WAIT_S = 5.0


def utc_now() -> datetime:
    """Return the time of day in UTC."""
    return datetime.now(tz=UTC)


class Store:
    """An open store; made by `open_store`. May be shared by threads. Close it at the end.

    Attributes
    ----------
    folder : Path
        Where it lies.
    originals : Originals
        Files as they came.
    database : Database
        Everything else.
    """

    def __init__(self, folder: Path, originals: Originals, database: Database, clock: Callable[[], datetime]) -> None:
        self.folder = folder
        self.originals = originals
        self.database = database
        self._clock = clock

    def now(self) -> str:
        """Return the time as the tables hold it."""
        return text_of(self._clock())

    def close(self) -> None:
        """Close the database."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def default_folder() -> Path:
    """Return where the store of this user lies. `FANLIGHT_DATA` names another place."""
    return data_folder() / "store"


def open_store(
    folder: Path | None = None, *, url: str = "", wait_s: float = WAIT_S, clock: Callable[[], datetime] = utc_now
) -> Store:
    """Open a store, or make an empty one; bring its tables up to date and sweep what a crash left half-written.

    Parameters
    ----------
    folder : Path, optional
        Where it lies; the user's data folder when not given.
    url : str
        Another database than the SQLite file in the folder, as SQLAlchemy writes it. Originals stay in the folder.
    wait_s : float
        How long a write waits while another program writes, s.
    clock : callable
        Gives the time that rows carry.

    Raises
    ------
    StoreError
        When the folder cannot be used; its subclasses say why.
    """
    folder = default_folder() if folder is None else folder
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise StoreError(
            str(folder), f"the folder cannot be made ({error.strerror or error})", "Name another folder."
        ) from error
    originals = Originals(folder / ORIGINALS_FOLDER)
    place = make_url(url) if url else URL.create("sqlite", database=str(folder / DATABASE_FILE))
    return Store(folder, originals, Database(place, wait_s), clock)


def text_of(at: datetime) -> str:
    """Return a moment as the tables hold it: UTC, always of the same length."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def time_of(text: str) -> datetime:
    """Return the moment that a row names."""
    return datetime.fromisoformat(text)


def new_id() -> str:
    """Return a fresh id."""
    return str(uuid.uuid4())


def checked_id(text: str) -> str:
    """Return an id in its usual form; ValueError when it is no UUID."""
    return str(uuid.UUID(text))


def row_by_id(connection: Connection, table: Table, key: str) -> RowMapping | None:
    """Return the row with this id, or None."""
    return connection.execute(select(table).where(table.c.id == key)).mappings().first()


def insert_once(connection: Connection, table: Table, key: str, said: dict[str, Any], made: dict[str, Any]) -> bool:
    """Insert a row whose id the page made; return False when this very row is there already.

    Parameters
    ----------
    key : str
        The id.
    said : dict of str to object
        Columns that the page sent: the same in a repeated request.
    made : dict of str to object
        Columns that the store adds, as the time.

    Raises
    ------
    UsedIdError
        When the id stands for something else.
    """
    there = row_by_id(connection, table, key)
    if there is None:
        connection.execute(table.insert().values(id=key, **said, **made))
        return True
    other = sorted(name for name, value in said.items() if there[name] != value)
    if other:
        found = f"this id was used before with another {', '.join(other)}"
        raise UsedIdError(f"{table.name}, id {key}", found, "Nothing was kept; load the study anew.")
    return False


def need_study(connection: Connection, study: str) -> RowMapping:
    """Return the row of a study; UnknownRowError when there is none."""
    row = row_by_id(connection, STUDIES, study)
    if row is None:
        raise UnknownRowError(f"study {study}", "no such study is in the store", "Load the list of studies anew.")
    return row
