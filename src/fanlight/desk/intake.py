"""Files on their way in: streamed to the originals, bounded, under names that are safe to show."""

from __future__ import annotations

import uuid
from collections.abc import AsyncIterator
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError, bad_request
from fanlight.desk.guard import too_large
from fanlight.intake import Limits
from fanlight.store import Original, Store, StoredFile, add_study, files_of, read_study, record_file
from fanlight.store.originals import Incoming

_NAME_LETTERS = 240
_WRITE_BYTES = 1024 * 1024
# Names of files and studies below which the desk makes its own ids, so that a repeated request makes the same.
_FILES = uuid.UUID("8b0b0a5e-5f4e-5a52-9a0d-5a6f1d3c7e11")


def safe_name(name: str) -> str:
    """Return a file's name as the user knows it: parts with "/" between, nothing that leads anywhere.

    It is shown and compared, and never becomes a path.
    """
    plain = "".join(letter if letter.isprintable() else "?" for letter in name.replace("\\", "/"))
    parts = [part for part in plain.split("/") if part not in ("", ".")]
    if not parts or ".." in parts or len(plain) > _NAME_LETTERS:
        shown = plain[:80] or "no name"
        raise bad_request(f"a file cannot have this name: {shown}", "name", "Give it a shorter, plain name.")
    return "/".join(parts)


def bound_of(name: str, limits: Limits) -> int:
    """Return how large a file may be, in bytes; a zip holds a whole study."""
    return limits.zip_total_bytes if name.lower().endswith(".zip") else limits.file_bytes


async def take_in(
    store: Store, study: str, name: str, body: AsyncIterator[bytes], stated_bytes: int | None, limits: Limits
) -> StoredFile:
    """Keep one file of a study; when this returns, it survives a power cut. The same file again adds nothing.

    Parameters
    ----------
    name : str
        As the user knows it.
    body : async iterator of bytes
    stated_bytes : int, optional
        What the sender says: a body that ends earlier was cut off and is not kept.

    Raises
    ------
    DeskError
        When it is too large, cut off, or one too many.
    """
    name = safe_name(name)
    if stated_bytes is not None and stated_bytes > bound_of(name, limits):
        raise too_large(bound_of(name, limits))  # before anything of it is written
    await run_in_threadpool(_check_room, store, study, limits)
    with await run_in_threadpool(store.originals.incoming) as incoming:
        try:
            await _stream(incoming, body, bound_of(name, limits))
        except ClientDisconnect as error:
            raise _cut_off(name, incoming.size, stated_bytes) from error
        if stated_bytes is not None and incoming.size != stated_bytes:
            raise _cut_off(name, incoming.size, stated_bytes)
        original = await run_in_threadpool(incoming.keep)
    return await run_in_threadpool(_record, store, study, name, original)


def _cut_off(name: str, got_bytes: int, stated_bytes: int | None) -> DeskError:
    of = f" of {stated_bytes}" if stated_bytes is not None else ""
    what = f"the connection ended after {got_bytes}{of} bytes"
    return DeskError(HTTPStatus.BAD_REQUEST, what, name, "Send the file again; nothing was kept of it.")


async def _stream(incoming: Incoming, body: AsyncIterator[bytes], limit: int) -> None:
    waiting = bytearray()
    async for piece in body:
        waiting += piece
        if incoming.size + len(waiting) > limit:
            raise too_large(limit)
        if len(waiting) >= _WRITE_BYTES:
            await run_in_threadpool(incoming.write, bytes(waiting))
            waiting.clear()
    await run_in_threadpool(incoming.write, bytes(waiting))


def _check_room(store: Store, study: str, limits: Limits) -> None:
    read_study(store, study)
    if len(files_of(store, study)) >= limits.files:
        raise DeskError(
            HTTPStatus.CONFLICT, f"a study has at most {limits.files} files", f"study {study}",
            "Send one examination at a time.",
        )  # fmt: skip


def _record(store: Store, study: str, name: str, original: Original) -> StoredFile:
    file = uuid.uuid5(_FILES, f"{study}\n{name}\n{original.sha256}")
    return record_file(store, study, file=str(file), name=name, original=original)


def take_in_path(store: Store, study: str, path: Path, limits: Limits) -> int:
    """Keep a file, or all files of a folder, that lie on this machine; return how many.

    Links are not followed; files of the system are left to the engine to pass over.
    """
    paths = [path] if path.is_file() else sorted(item for item in path.rglob("*") if item.is_file())
    kept = 0
    for item in paths[: limits.files]:
        name = item.name if item == path else item.relative_to(path).as_posix()
        if item.is_symlink() or item.stat().st_size > bound_of(name, limits):
            continue
        with item.open("rb") as file, store.originals.incoming() as incoming:
            while block := file.read(_WRITE_BYTES):
                incoming.write(block)
            _record(store, study, safe_name(name), incoming.keep())
        kept += 1
    return kept


def keep_text(store: Store, study: str, name: str, text: str) -> StoredFile:
    """Keep a text that was written on the desk as a file of the study."""
    return record_file(store, study, file=str(uuid.uuid4()), name=name, original=store.originals.keep([text.encode()]))


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """A study that was taken in from this machine."""

    study: str  # its id
    n_files: int  # that lie there


def take_in_place(desk: Desk, path: Path) -> TakenIn:
    """Take in a study that lies on this machine, and have it read.

    The same place again is the same study: only what is new there is added.
    """
    study = str(uuid.uuid5(_FILES, path.resolve().as_posix()))
    add_study(desk.store, study, title=path.resolve().name)
    kept = take_in_path(desk.store, study, path, desk.options.limits)
    desk.engine.all_sent(study)
    return TakenIn(study=study, n_files=kept)
