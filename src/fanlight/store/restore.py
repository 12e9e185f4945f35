"""A store made anew from an export: all of it, or nothing."""

from __future__ import annotations

import hashlib
import json
import lzma
import re
import shutil
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import cattrs
from sqlalchemy import Connection, Table
from sqlalchemy.exc import OperationalError, StatementError

from fanlight.store.database import HEAD
from fanlight.store.errors import ExportError
from fanlight.store.export_form import FORM, MANIFEST, TABLES, Manifest, Member, read_row, table_member
from fanlight.store.originals import CHUNK_BYTES, sync_folder, told
from fanlight.store.standing import rebuild_standing
from fanlight.store.store import Store, open_store
from fanlight.store.tables import APPEND_ONLY
from fanlight.store.told import TOLD_FILE, write_told
from fanlight.store.verify import verify_store
from fanlight.study.codec import from_plain

_AGAIN = "Nothing was restored; take another copy of the export."
_ORIGINAL = re.compile(r"originals/([0-9a-f]{64})")
_MANIFEST_BYTES = 256 * 1024**2  # engineering judgement: over a million members
_LINE_BYTES = 1024**3  # engineering judgement: a draft of some hundred clips takes tens of megabytes
# What the standard library raises on damaged archives (RuntimeError: a password is needed).
_DAMAGE = (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError, struct.error)
_ROWS = 500


def restore_store(path: Path, folder: Path) -> None:
    """Make a store in an empty folder from an export. Every member is compared with its hash first.

    Parameters
    ----------
    path : Path
        What `export_store` wrote.
    folder : Path
        Not there yet, or empty. The store appears in it when it is complete and was verified.

    Raises
    ------
    ExportError
        When the folder is in use, or the export is damaged; the member at fault is named.
    NoRoomError
        When the disk is full.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ExportError(str(folder), "the folder is not empty", "Name a new one; nothing is written over.")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        half = Path(tempfile.mkdtemp(dir=folder.parent, prefix=f".{folder.name}-", suffix=".restoring"))
        try:
            _restore(path, half)
            if folder.exists():
                folder.rmdir()
            half.rename(folder)
            sync_folder(folder.parent)
        finally:
            shutil.rmtree(half, ignore_errors=True)
    except OSError as error:
        raise told(error, folder) from error


def _restore(path: Path, half: Path) -> None:
    try:
        archive = zipfile.ZipFile(path)
    except (*_DAMAGE, OSError) as error:
        raise ExportError(str(path), f"this is no zip that can be read ({error})", _AGAIN) from error
    with archive, open_store(half) as store:
        manifest = _manifest(archive)
        for member in manifest.members:
            original = _ORIGINAL.fullmatch(member.name)
            if original:
                _restore_original(archive, member, original[1], store)
            elif member.name == TOLD_FILE:
                write_told(store, b"".join(_chunks(archive, member)))
        with store.database.write() as connection:
            by_name = {member.name: member for member in manifest.members}
            for table in APPEND_ONLY:
                _restore_table(archive, by_name[table_member(table)], table, connection)
        rebuild_standing(store)
        found = verify_store(store).damage
        if found:
            raise ExportError(found[0].where, found[0].found, _AGAIN)


def _manifest(archive: zipfile.ZipFile) -> Manifest:
    """Return what the export says of itself, after comparing it with the members that are there."""
    names = archive.namelist()
    if names.count(MANIFEST) != 1:
        raise ExportError(MANIFEST, "the export has no list of its members, so it is not complete", _AGAIN)
    said = Member(name=MANIFEST, size=min(archive.getinfo(MANIFEST).file_size, _MANIFEST_BYTES), sha256="")
    try:
        plain = json.loads(b"".join(_chunks(archive, said)))
        if not isinstance(plain, dict):
            raise TypeError(f"expected fields by name, found {type(plain).__name__}")
        if isinstance(plain.get("form"), int) and plain["form"] > FORM:
            found = f"it has form {plain['form']}, this program restores up to {FORM}"
            raise ExportError(MANIFEST, found, "Restore it with a newer Fanlight.")
        manifest = from_plain(plain, Manifest)
    except (cattrs.BaseValidationError, ValueError, TypeError) as error:
        raise ExportError(MANIFEST, f"it cannot be read ({error})", _AGAIN) from error
    if manifest.tables_version > HEAD:
        found = f"its tables are of version {manifest.tables_version}, this program knows up to {HEAD}"
        raise ExportError(MANIFEST, found, "Restore it with a newer Fanlight.")
    listed = [member.name for member in manifest.members]
    for name in [*listed, *names]:
        known = name in (
            MANIFEST,
            TOLD_FILE,
            *(table_member(table) for table in TABLES.values()),
        ) or _ORIGINAL.fullmatch(name)
        if not known:
            raise ExportError(name, "an export has no member of this name", _AGAIN)
    wanted = {MANIFEST, *listed, *(table_member(table) for table in APPEND_ONLY)}
    for name in sorted(wanted ^ set(names) | wanted - {MANIFEST, *listed}):
        raise ExportError(name, "the member is missing, or not on the list of members", _AGAIN)
    if len(set(names)) != len(names) or len(set(listed)) != len(listed):
        raise ExportError(MANIFEST, "a member is there twice", _AGAIN)
    return manifest


def _chunks(archive: zipfile.ZipFile, member: Member) -> Iterator[bytes]:
    """Yield a member in pieces, never more than its listed size; compare with its hash at the end."""
    digest, size = hashlib.sha256(), 0
    try:
        with archive.open(member.name) as file:
            while chunk := file.read(CHUNK_BYTES):
                digest.update(chunk)
                size += len(chunk)
                if size > member.size:
                    break
                yield chunk
    except _DAMAGE as error:
        raise ExportError(member.name, f"the member is damaged ({error})", _AGAIN) from error
    if size != member.size or (member.sha256 and digest.hexdigest() != member.sha256):
        raise ExportError(member.name, "the bytes are not those that were exported", _AGAIN)


def _restore_original(archive: zipfile.ZipFile, member: Member, sha256: str, store: Store) -> None:
    if store.originals.keep(_chunks(archive, member)).sha256 != sha256:
        raise ExportError(member.name, "the bytes are not those of its name", _AGAIN)


def _restore_table(archive: zipfile.ZipFile, member: Member, table: Table, connection: Connection) -> None:
    rows = []
    try:
        for line in _lines(archive, member):
            rows.append(read_row(table, line))
            if len(rows) == _ROWS:
                connection.execute(table.insert(), rows)
                rows = []
        if rows:
            connection.execute(table.insert(), rows)
    except OperationalError:
        raise  # the disk, not the row: the database says what it is
    except (ValueError, StatementError) as error:
        raise ExportError(member.name, f"a row cannot be restored ({error})", _AGAIN) from error


def _lines(archive: zipfile.ZipFile, member: Member) -> Iterator[bytes]:
    rest = b""
    for chunk in _chunks(archive, member):
        *lines, rest = (rest + chunk).split(b"\n")
        yield from lines
        if len(rest) > _LINE_BYTES:
            raise ExportError(member.name, "a row is longer than any that is written", _AGAIN)
    if rest:
        raise ExportError(member.name, "the last row is cut off", _AGAIN)
