"""What the desk tells a page when something cannot be done: what happened, where, and what to do."""

from __future__ import annotations

from http import HTTPStatus

from fanlight.store import (
    DamagedError,
    EntryError,
    LockedError,
    NoRoomError,
    RefusedActionError,
    StoreError,
    UnknownRowError,
    UsedIdError,
)


class DeskError(Exception):
    """Something that a page asked for cannot be done; nothing of it was kept.

    Parameters
    ----------
    status : int
        HTTP status.
    what : str
        What happened, as a clause.
    where : str
        File, study or field at fault.
    remedy : str
        What the user can do, in a sentence.
    """

    def __init__(self, status: int, what: str, where: str, remedy: str) -> None:
        self.status = status
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(f"{where}: {what}. {remedy}")

    def plain(self) -> dict[str, dict[str, str]]:
        """Return the error as the page reads it."""
        return {"error": {"what": self.what, "where": self.where, "remedy": self.remedy}}


# The first class that fits counts.
_STATUS: tuple[tuple[type[StoreError], HTTPStatus], ...] = (
    (UnknownRowError, HTTPStatus.NOT_FOUND),
    (RefusedActionError, HTTPStatus.CONFLICT),
    (UsedIdError, HTTPStatus.CONFLICT),
    (EntryError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (LockedError, HTTPStatus.SERVICE_UNAVAILABLE),
    (NoRoomError, HTTPStatus.INSUFFICIENT_STORAGE),
    (DamagedError, HTTPStatus.INTERNAL_SERVER_ERROR),
)


def told(error: StoreError) -> DeskError:
    """Return an error of the store as the page is told it."""
    status = next((status for kind, status in _STATUS if isinstance(error, kind)), HTTPStatus.INTERNAL_SERVER_ERROR)
    what = f"{error.field or 'the action'}: {error.found}" if isinstance(error, EntryError) else error.found
    return DeskError(status, what, error.where, error.remedy)


def bad_request(
    what: str, where: str, remedy: str = "Load the page anew; if it happens again, report it."
) -> DeskError:
    """Return the error for a request that the desk's own pages never send."""
    return DeskError(HTTPStatus.UNPROCESSABLE_ENTITY, what, where, remedy)
