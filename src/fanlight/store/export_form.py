"""The form of an export: one zip, described in docs/store.md.

`manifest.json` stands last and lists every other member with its hash. `tables/NAME.jsonl` holds one row a line, in
the order written; `originals/HASH` the files as they came; `practice-told.json`, where it is there, what practices were
told. The same store gives the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import LargeBinary, RowMapping, Table

from fanlight.store.packed import pack_json, unpack_json
from fanlight.store.tables import APPEND_ONLY

FORM = 2  # rises when an older program could no longer restore it
FORM_WITHOUT_TOLD = 1  # of a store that holds nothing that a practice was told; older programs restore that
MANIFEST = "manifest.json"
TABLES = {table.name: table for table in APPEND_ONLY}

# Text columns that hold JSON: written as JSON, not as a string within a string.
_JSON_TEXT = {"refusal", "payload", "identity", "patient"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One member of the zip."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What an export says of itself."""

    form: int
    tables_version: str  # the newest migration of the store that was exported
    members: tuple[Member, ...] = field(default=())


def table_member(table: Table) -> str:
    """Return the name of a table's member."""
    return f"tables/{table.name}.jsonl"


def original_member(sha256: str) -> str:
    """Return the name of an original's member."""
    return f"originals/{sha256}"


def json_bytes(value: Any) -> bytes:
    """Return JSON in its one form: as study/codec writes it."""
    return json.dumps(value, separators=(",", ":"), allow_nan=False).encode()


def write_row(table: Table, row: RowMapping) -> bytes:
    """Return a row as a line."""
    plain: dict[str, Any] = {}
    for column in table.columns:
        value = row[column.name]
        if value is not None and isinstance(column.type, LargeBinary):
            value = json.loads(unpack_json(value))
        elif value is not None and column.name in _JSON_TEXT:
            value = json.loads(value)
        plain[column.name] = value
    return json_bytes(plain) + b"\n"


def read_row(table: Table, line: bytes) -> dict[str, Any]:
    """Return the row that a line holds, as the table takes it.

    Raises
    ------
    ValueError
        When it is no row of this table.
    """
    plain = json.loads(line)
    if not isinstance(plain, dict):
        raise ValueError(f"expected a row by column, found {type(plain).__name__}")
    unknown = sorted(set(plain) - {column.name for column in table.columns})
    if unknown:
        raise ValueError(f"the table {table.name} has no column {unknown[0]}")
    row: dict[str, Any] = {}
    for column in table.columns:
        value = plain.get(column.name)
        if value is None and not column.nullable:
            raise ValueError(f"column {column.name} is missing")
        if value is not None and isinstance(column.type, LargeBinary):
            value = pack_json(json_bytes(value))
        elif value is not None and column.name in _JSON_TEXT:
            value = json_bytes(value).decode()
        row[column.name] = value
    return row
