"""One line of the log of everything that people did, and its action in writing."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from typing import Any

import cattrs

from fanlight.store.actions import NAMES, UNDO, Action
from fanlight.store.errors import EntryError
from fanlight.study.codec import from_plain, to_bytes

_NAME_OF: dict[type, str] = {kind: name for name, kind in NAMES.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What one person did at one moment. Never changed; undoing it is another entry."""

    id: str  # uuid made by the page, so that a repeated request adds nothing twice
    study: str
    clip: str  # Clip.key; "" when it is about the study
    at: datetime  # UTC, clock of the store
    author: str  # locally entered name, not authenticated
    action: str  # a name of `NAMES`, or `UNDO`
    payload: str  # the action's fields as JSON
    undoes: str = ""  # id of the entry that this one undoes


def write_action(action: Action) -> tuple[str, str]:
    """Return an action's name in the log and its fields as JSON.

    Raises
    ------
    EntryError
        When a field holds something else than its type says: it could not be read again.
    """
    name = _NAME_OF[type(action)]
    try:
        payload = to_bytes(action).decode()
    except (ValueError, TypeError, AttributeError) as error:
        raise EntryError("new", name, "", str(error)) from error
    again = parse_action(name, json.loads(payload))
    for field in fields(action):
        if getattr(again, field.name) != getattr(action, field.name):
            raise EntryError("new", name, field.name, f"{getattr(action, field.name)!r} does not fit its type")
    return name, payload


def read_action(entry: Entry) -> Action:
    """Return the action of an entry that is no undo.

    Raises
    ------
    EntryError
        Naming entry and field, when the payload is not what the action holds.
    """
    try:
        return _parsed(entry.action, entry.payload)
    except EntryError as error:
        raise EntryError(entry.id, error.action, error.field, error.found) from error
    except ValueError as error:
        raise EntryError(entry.id, entry.action, "", f"the payload is no JSON ({error})") from error


@lru_cache(maxsize=8192)  # the logs of some studies: each act on a page folds the whole log again
def _parsed(name: str, payload: str) -> Action:
    return parse_action(name, json.loads(payload))


def parse_action(name: str, plain: Any, entry: str = "new") -> Action:
    """Return the action that a page sent or the log holds: its name, and its fields as plain values.

    Raises
    ------
    EntryError
        Naming entry and field.
    """
    kind = NAMES.get(name)
    if kind is None:
        known = "it undoes another entry" if name == UNDO else "no action has this name"
        raise EntryError(entry, name, "", known)
    if not isinstance(plain, dict):
        raise EntryError(entry, name, "", f"expected fields by name, found {type(plain).__name__}")
    try:
        action = from_plain(plain, kind)
    except (cattrs.BaseValidationError, ValueError, TypeError) as error:
        field, found = _fault(error)
        raise EntryError(entry, name, field, found) from error
    again = json.loads(to_bytes(action))
    for field, value in plain.items():
        if isinstance(getattr(action, field), datetime) and isinstance(value, str):
            continue  # one time has several forms: browsers write milliseconds and Z
        if again[field] != value:  # the reader of plain values bends a number into a text, and the like
            raise EntryError(entry, name, field, f"{value!r} does not fit its type")
    return action


def plain_action(action: Action) -> tuple[str, Any]:
    """Return an action's name and its fields as JSON holds them, for a page."""
    return _NAME_OF[type(action)], json.loads(to_bytes(action))


def _fault(error: BaseException, field: str = "") -> tuple[str, str]:
    """Return the field at fault and what was found there, of the first fault."""
    if not field:
        field = next((note.name for note in getattr(error, "__notes__", ()) if hasattr(note, "name")), "")
    if isinstance(error, BaseExceptionGroup):
        return _fault(error.exceptions[0], field)
    if isinstance(error, cattrs.ForbiddenExtraKeysError):
        return field or sorted(error.extra_fields)[0], "a field that this action does not have"
    if isinstance(error, KeyError):
        return field, "nothing; the field is missing"
    return field, str(error) or type(error).__name__
