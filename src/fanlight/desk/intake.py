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
from fanlight.review.events import FileRefused
from fanlight.store import (
    Original,
    Store,
    StoredFile,
    add_study,
    files_of,
    read_study,
    record_event,
    record_file,
)
from fanlight.store.originals import Incoming
from fanlight.study import Refusal

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


def take_in_path(store: Store, study: str, path: Path, limits: Limits) -> tuple[int, tuple[Refusal, ...]]:
    """Keep a file, or all files of a folder, that lie on this machine; return how many, and what was left there.

    Links are not followed; files of the system are left to the engine to pass over. What cannot be taken stops no
    other file.
    """
    is_one = path.is_file()
    paths = [path] if is_one else sorted(item for item in path.rglob("*") if item.is_symlink() or item.is_file())
    kept, left = 0, []
    for item in paths:
        name = item.name if is_one else item.relative_to(path).as_posix()
        refusal = _left_there(item, name, limits, is_full=kept >= limits.files) or _keep_one(store, study, item, name)
        if refusal is None:
            kept += 1
        else:
            left.append(refusal)
    return kept, tuple(left)


def _left_there(item: Path, name: str, limits: Limits, *, is_full: bool) -> Refusal | None:
    """Return why a file is not taken in; None when it is."""
    if item.is_symlink():
        return _left(name, "a file", "a link, which is not followed", "Put the file itself there.")
    if is_full:
        expected, found = f"at most {limits.files} files in a study", "one more"
        return _left(name, expected, found, "Take in one examination at a time.")
    try:
        safe_name(name)
        size, bound = item.stat().st_size, bound_of(name, limits)
    except DeskError as error:
        return _left(error.what.rpartition(": ")[2], "a plain name", "a name that cannot be kept", error.remedy)
    except OSError as error:
        return _unreadable(name, error)
    if size > bound:
        remedy = "Export a shorter clip, or take the study in by parts."
        return _left(name, f"at most {bound / 1e9:.3g} GB", f"{size / 1e9:.3g} GB", remedy)
    return None


def _keep_one(store: Store, study: str, item: Path, name: str) -> Refusal | None:
    """Keep a file; return why it cannot be read, None when it was kept."""
    try:
        file = item.open("rb")
    except OSError as error:
        return _unreadable(name, error)
    with file, store.originals.incoming() as incoming:
        while True:
            try:
                block = file.read(_WRITE_BYTES)
            except OSError as error:
                return _unreadable(name, error)
            if not block:
                break
            incoming.write(block)
        _record(store, study, safe_name(name), incoming.keep())
    return None


def _left(name: str, expected: str, found: str, remedy: str) -> Refusal:
    return Refusal(name=name, expected=expected, found=found, remedy=remedy)


def _unreadable(name: str, error: OSError) -> Refusal:
    return _left(name, "a file that can be read", error.strerror or str(error), "Give yourself the right to read it.")


def keep_text(store: Store, study: str, name: str, text: str) -> StoredFile:
    """Keep a text that was written on the desk as a file of the study."""
    return record_file(store, study, file=str(uuid.uuid4()), name=name, original=store.originals.keep([text.encode()]))


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """A study that was taken in from this machine."""

    study: str  # its id
    n_files: int  # that were taken in
    left: tuple[Refusal, ...]  # what lies there and was not


def take_in_place(desk: Desk, path: Path) -> TakenIn:
    """Take in a study that lies on this machine, and have it read.

    The same place again is the same study: only what is new there is added.
    """
    place = path.resolve()  # a link that the user names is meant
    study = str(uuid.uuid5(_FILES, place.as_posix()))
    add_study(desk.store, study, title=place.name)
    kept, left = take_in_path(desk.store, study, place, desk.options.limits)
    for refusal in left:
        record_event(desk.store, study, FileRefused(refusal=refusal), house=desk.house.fingerprint())
    desk.engine.all_sent(study)
    return TakenIn(study=study, n_files=kept, left=left)
