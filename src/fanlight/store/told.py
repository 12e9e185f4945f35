"""What a practice was told, kept in a small file beside the database, so that it is told once."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import cattrs

from fanlight.store.errors import DamagedError
from fanlight.store.store import Store
from fanlight.store.whole_file import whole_file
from fanlight.study import name_key
from fanlight.study.codec import from_plain, to_plain

TOLD_FILE = "practice-told.json"
_FORM = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldHabit:
    """A setting that was told to a practice."""

    practice: str  # as names are told apart
    cause: str
    on: date
    n_trainees: int  # in whose studies it was a habit then
    n_studies: int


def read_told(store: Store) -> dict[tuple[str, str], ToldHabit]:
    """Return what was told, by practice (`name_key`) and cause.

    Raises
    ------
    DamagedError
        When the file is there and cannot be read.
    """
    path = store.folder / TOLD_FILE
    if not path.exists():
        return {}
    try:
        plain = json.loads(path.read_text("utf-8"))
        if plain["form"] != _FORM:
            raise ValueError(f"form {plain['form']}, this program reads {_FORM}")
        found = from_plain(plain["told"], tuple[ToldHabit, ...])
    except (cattrs.BaseValidationError, ValueError, TypeError, KeyError) as error:
        remedy = "Put it back from an export, or take it out of the folder: then all is told once more."
        raise DamagedError(str(path), f"it cannot be read ({error})", remedy) from error
    return {(name_key(item.practice), item.cause): item for item in found}


def keep_told(store: Store, told: Iterable[ToldHabit]) -> None:
    """Add to what was told; the file is there whole, or as it was.

    Raises
    ------
    NoRoomError
        When the disk is full.
    """
    kept = {**read_told(store), **{(name_key(item.practice), item.cause): item for item in told}}
    rows = to_plain(tuple(kept[key] for key in sorted(kept)))
    write_told(store, f"{json.dumps({'form': _FORM, 'told': rows}, indent=1, ensure_ascii=False)}\n".encode())


def write_told(store: Store, data: bytes) -> None:
    """Write the whole file."""
    with whole_file(store.folder / TOLD_FILE, "told") as file:
        file.write(data)
