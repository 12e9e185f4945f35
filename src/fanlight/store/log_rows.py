"""Rows of the log as values."""

from __future__ import annotations

from sqlalchemy import RowMapping

from fanlight.store.entry import Entry
from fanlight.store.store import time_of


def entry_of(row: RowMapping) -> Entry:
    """Return the entry that a row holds."""
    return Entry(
        id=row["id"],
        study=row["study"],
        clip=row["clip"],
        at=time_of(row["at"]),
        author=row["author"],
        action=row["action"],
        payload=row["payload"],
        undoes=row["undoes"] or "",
    )
