"""Everything that a store holds, in one zip."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO

from sqlalchemy import Connection, Table, select

from fanlight.store.database import HEAD
from fanlight.store.errors import DamagedError, ExportError
from fanlight.store.export_form import (
    FORM,
    FORM_WITHOUT_TOLD,
    MANIFEST,
    Manifest,
    Member,
    json_bytes,
    original_member,
    table_member,
    write_row,
)
from fanlight.store.originals import chunks_of
from fanlight.store.store import Store
from fanlight.store.tables import APPEND_ONLY, FILES, PARTS
from fanlight.store.told import TOLD_FILE
from fanlight.store.whole_file import whole_file
from fanlight.study.codec import to_plain

_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can say (APPNOTE 4.4.6): the same store, the same bytes


def export_store(store: Store, path: Path) -> Manifest:
    """Write everything to a zip, as it stands at one moment; work in the store may go on meanwhile.

    Parameters
    ----------
    path : Path
        A file that does not exist yet. It appears when it is complete.

    Raises
    ------
    ExportError
        When there is a file of this name already.
    DamagedError
        When an original is not as it came; it is named.
    NoRoomError
        When the disk is full; nothing is left of the zip.
    """
    if path.exists():
        raise ExportError(str(path), "there is a file of this name", "Name a new one; nothing is written over.")
    with whole_file(path, "export") as file:
        return _write(store, file)


def _write(store: Store, file: IO[bytes]) -> Manifest:
    members: list[Member] = []
    with zipfile.ZipFile(file, "w", allowZip64=True) as archive, store.database.read() as connection:
        for table in APPEND_ONLY:
            members.append(_add(archive, table_member(table), _lines(connection, table), zipfile.ZIP_DEFLATED))
        for sha256 in _named(connection):
            member = _add(archive, original_member(sha256), _bytes_of(store, sha256), zipfile.ZIP_STORED)
            if member.sha256 != sha256:
                remedy = "Send the file again, which mends it; then export."
                raise DamagedError(
                    str(store.originals.place(sha256)), "the bytes of this original have changed", remedy
                )
            members.append(member)
        told_file = store.folder / TOLD_FILE
        if has_told := told_file.exists():
            members.append(_add(archive, TOLD_FILE, [told_file.read_bytes()], zipfile.ZIP_DEFLATED))
        form = FORM if has_told else FORM_WITHOUT_TOLD
        manifest = Manifest(form=form, tables_version=HEAD, members=tuple(members))
        _add(archive, MANIFEST, [json_bytes(to_plain(manifest)) + b"\n"], zipfile.ZIP_DEFLATED)
    return manifest


def _lines(connection: Connection, table: Table) -> Iterator[bytes]:
    rows = connection.execution_options(yield_per=500).execute(select(table).order_by(table.c.seq))
    for row in rows.mappings():
        yield write_row(table, row)


def _named(connection: Connection) -> list[str]:
    return sorted({row[0] for table in (FILES, PARTS) for row in connection.execute(select(table.c.sha256))})


def _bytes_of(store: Store, sha256: str) -> Iterator[bytes]:
    with store.originals.path(sha256).open("rb") as file:
        yield from chunks_of(file)


def _add(archive: zipfile.ZipFile, name: str, chunks: Iterable[bytes], kind: int) -> Member:
    info = zipfile.ZipInfo(name, date_time=_EPOCH)
    info.compress_type = kind
    info.external_attr = 0o600 << 16
    info.create_system = 3  # Unix, on every system: the same store, the same bytes
    digest, size = hashlib.sha256(), 0
    with archive.open(info, "w", force_zip64=True) as member:
        for chunk in chunks:
            digest.update(chunk)
            size += len(chunk)
            member.write(chunk)
    return Member(name=name, size=size, sha256=digest.hexdigest())
