"""The log of everything that people did: written, undone, read."""

from __future__ import annotations

from sqlalchemy import Connection, select

from fanlight.store.actions import UNDO, Action, Sign
from fanlight.store.calls import keep_call
from fanlight.store.entry import Entry, write_action
from fanlight.store.errors import RefusedActionError, UnknownRowError
from fanlight.store.log_rows import entry_of
from fanlight.store.standing import MOVES, refresh_standing
from fanlight.store.state import StudyState, fold, live_undos
from fanlight.store.store import Store, checked_id, insert_once, need_study, row_by_id
from fanlight.store.tables import ENTRIES


def add_entry(store: Store, study: str, action: Action, *, author: str, entry: str) -> Entry:
    """Add what a person did; a repeated request with the same id adds nothing and returns what is there.

    Parameters
    ----------
    study : str
        Id of the study.
    action : Action
        What was done.
    author : str
        Locally entered name.
    entry : str
        UUID that the page made.

    Raises
    ------
    EntryError
        When a field of the action does not fit its type.
    RefusedActionError
        When the action does not fit what is there.
    UsedIdError
        When the id stands for another entry.
    """
    if isinstance(action, Sign):
        raise RefusedActionError(f"study {study}", "a signature comes with its document", "Use sign_document.")
    name, payload = write_action(action)
    with store.database.write() as connection:
        return write_entry(store, connection, study, action, name, payload, author, checked_id(entry))


def write_entry(
    store: Store, connection: Connection, study: str, action: Action, name: str, payload: str, author: str, entry: str
) -> Entry:
    """Add an entry within a transaction, with what is derived from it."""
    need_study(connection, study)
    said = {"study": study, "clip": getattr(action, "clip", ""), "author": _named(author), "action": name,
            "payload": payload, "undoes": None}  # fmt: skip
    if insert_once(connection, ENTRIES, entry, said, {"at": store.now()}):
        keep_call(connection, study, action, _entry(connection, entry))
        if name in MOVES:
            refresh_standing(connection, study)
    return _entry(connection, entry)


def undo_entry(store: Store, study: str, undoes: str, *, author: str, entry: str) -> Entry:
    """Undo an entry by another one. Undoing an undo brings back what it had undone.

    Parameters
    ----------
    undoes : str
        Id of the entry to undo. When it is undone already, the entry that did so is returned and nothing is added.
    entry : str
        UUID that the page made for the undoing.

    Raises
    ------
    RefusedActionError
        When it is a signature: what was signed stays, and is followed by an addendum.
    UnknownRowError
        When the study has no such entry.
    """
    entry = checked_id(entry)
    with store.database.write() as connection:
        target = row_by_id(connection, ENTRIES, undoes)
        if target is None or target["study"] != study:
            raise UnknownRowError(f"study {study}", f"it has no entry {undoes}", "Load the study anew.")
        if target["action"] == "sign":
            found = "what was signed cannot be undone"
            raise RefusedActionError(f"study {study}, entry {undoes}", found, "Sign an addendum that corrects it.")
        undos = select(ENTRIES).where(ENTRIES.c.study == study, ENTRIES.c.action == UNDO).order_by(ENTRIES.c.seq)
        there = live_undos([entry_of(row) for row in connection.execute(undos).mappings()]).get(undoes)
        if there is not None and there.id != entry:
            return there
        said = {"study": study, "clip": target["clip"], "author": _named(author), "action": UNDO, "payload": "{}",
                "undoes": undoes}  # fmt: skip
        if insert_once(connection, ENTRIES, entry, said, {"at": store.now()}):
            refresh_standing(connection, study)
        return _entry(connection, entry)


def entries_of(store: Store, study: str) -> tuple[Entry, ...]:
    """Return the whole log of a study, in the order in which it was written."""
    with store.database.read() as connection:
        rows = connection.execute(select(ENTRIES).where(ENTRIES.c.study == study).order_by(ENTRIES.c.seq))
        return tuple(entry_of(row) for row in rows.mappings())


def study_state(store: Store, study: str) -> StudyState:
    """Return everything that people have said about a study and not taken back."""
    return fold(entries_of(store, study))


def _entry(connection: Connection, key: str) -> Entry:
    row = row_by_id(connection, ENTRIES, key)
    assert row is not None
    return entry_of(row)


def _named(author: str) -> str:
    if not author.strip():
        raise ValueError("author must not be empty; enter a name first")
    return author
