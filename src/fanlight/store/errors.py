"""What can go wrong with the store: each error says where, what was found, and what to do."""

from __future__ import annotations


class StoreError(Exception):
    """The store could not do what was asked; nothing of it was kept.

    Parameters
    ----------
    where : str
        File, row or member at fault.
    found : str
        What happened.
    remedy : str
        What the user can do, in a sentence.
    """

    def __init__(self, where: str, found: str, remedy: str) -> None:
        self.where = where
        self.found = found
        self.remedy = remedy
        super().__init__(f"{where}: {found}. {remedy}")


class LockedError(StoreError):
    """Another program holds the database for writing, for longer than was waited."""


class NoRoomError(StoreError):
    """The disk, or the user's share of it, is full."""


class DamagedError(StoreError):
    """Bytes that were kept are not those that were written."""


class NewerStoreError(StoreError):
    """The store was written by a newer Fanlight."""


class UnknownRowError(StoreError):
    """A study, entry, document or message that is not there."""


class UsedIdError(StoreError):
    """An id was sent twice with different contents."""


class EntryError(StoreError):
    """An entry of the log cannot be read.

    Parameters
    ----------
    entry : str
        Id of the entry; "new" before it has one.
    action : str
        Name of its action.
    field : str
        Field at fault; "" when it is the action as a whole.
    found : str
        What stands there.
    """

    def __init__(self, entry: str, action: str, field: str, found: str) -> None:
        self.entry = entry
        self.action = action
        self.field = field
        place = f"entry {entry}, action {action!r}" + (f", field {field!r}" if field else "")
        remedy = "Open the store with the version of Fanlight that wrote the entry, or undo the entry."
        super().__init__(
            place, found, "Nothing was kept; send the action as its type says." if entry == "new" else remedy
        )


class RefusedActionError(StoreError):
    """The action does not fit what is there: a signed document cannot be undone, a version is out of date."""


class MovedError(RefusedActionError):
    """Something was done between looking at a study and signing it."""


class ExportError(StoreError):
    """An export cannot be written there, or cannot be restored; the member at fault is `where`."""
