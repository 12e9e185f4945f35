"""Files as they came, each kept once under the hash of its bytes, and never altered."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import sys
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from fanlight.store.errors import DamagedError, NoRoomError, StoreError, UnknownRowError

if sys.platform != "win32":
    import fcntl

CHUNK_BYTES = 1024 * 1024
_HASH = re.compile(r"[0-9a-f]{64}")
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """Name and size of a kept file."""

    sha256: str
    size: int


class Originals:
    """A folder of kept files: `ab/cd/abcd…`, beside `incoming` for those on their way.

    Parameters
    ----------
    folder : Path
        Made when missing. What a crash left in `incoming` is swept.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._incoming = folder / "incoming"
        try:
            self._incoming.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._sweep()
        except OSError as error:
            raise told(error, folder) from error

    def _sweep(self) -> None:
        """Remove what no living program is writing."""
        for path in self._incoming.iterdir():
            try:
                descriptor = os.open(path, os.O_RDONLY)
            except FileNotFoundError:
                continue  # another program was quicker
            try:
                if _lock(descriptor) and sys.platform != "win32":
                    path.unlink(missing_ok=True)
            finally:
                os.close(descriptor)
            if sys.platform == "win32":
                _unlink_unless_open(path)

    def incoming(self) -> Incoming:
        """Begin to keep a file: write its bytes as they arrive, then `keep()`."""
        return Incoming(self, self._incoming)

    def keep(self, chunks: Iterable[bytes]) -> Original:
        """Keep a file whose bytes come in pieces.

        Raises
        ------
        NoRoomError
            When the disk is full; nothing is left of the file.
        """
        with self.incoming() as incoming:
            for chunk in chunks:
                incoming.write(chunk)
            return incoming.keep()

    def path(self, sha256: str) -> Path:
        """Return where a kept file lies, for reading.

        Raises
        ------
        UnknownRowError
            When no such file was kept, or it has gone.
        """
        path = self.place(sha256)
        if not path.is_file():
            remedy = "Send the file again, or restore an export: fanlight store restore EXPORT --data FOLDER."
            raise UnknownRowError(str(path), "this original is not there", remedy)
        return path

    def place(self, sha256: str) -> Path:
        """Return where a file of this hash belongs, whether it is there or not."""
        if not _HASH.fullmatch(sha256):
            raise ValueError(f"a hash is 64 hexadecimal digits, got {sha256!r}")
        return self.folder / sha256[:2] / sha256[2:4] / sha256

    def read(self, sha256: str) -> bytes:
        """Return the bytes of a kept file, compared with their hash.

        Raises
        ------
        DamagedError
            When they are not those that were kept.
        """
        data = self.path(sha256).read_bytes()
        if hashlib.sha256(data).hexdigest() != sha256:
            raise DamagedError(str(self.place(sha256)), "the bytes have changed", "Send the file again: it is mended.")
        return data

    def is_whole(self, sha256: str) -> bool:
        """Return whether the file is there and its bytes are those that were kept."""
        try:
            with self.place(sha256).open("rb") as file:
                return hash_of(file) == sha256
        except OSError:
            return False

    def hashes(self) -> Iterator[str]:
        """Yield the hash of every kept file, in order."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/[0-9a-f][0-9a-f]/*")):
            if _HASH.fullmatch(path.name):
                yield path.name


class Incoming:
    """One file on its way in. Used in a `with`: what was not kept at its end is removed."""

    def __init__(self, originals: Originals, folder: Path) -> None:
        self._originals = originals
        self._hash = hashlib.sha256()
        self._path, self._descriptor = _new_file(folder)
        self.size = 0

    def write(self, data: bytes) -> None:
        """Take some more bytes.

        Raises
        ------
        NoRoomError
            When the disk is full.
        """
        self._hash.update(data)
        self.size += len(data)
        try:
            view = memoryview(data)
            while view:
                view = view[os.write(self._descriptor, view) :]
        except OSError as error:
            raise told(error, self._originals.folder) from error

    def keep(self) -> Original:
        """Give the file its place; when this returns, it survives a power cut."""
        sha256 = self._hash.hexdigest()
        target = self._originals.place(sha256)
        try:
            if self._originals.is_whole(sha256):
                return Original(sha256=sha256, size=self.size)
            os.fsync(self._descriptor)
            self._path.chmod(0o400)
            _make_folders(target.parent)
            if sys.platform == "win32":
                self._close()  # there an open file cannot be moved
                if target.exists():
                    target.chmod(0o600)  # a damaged file that is about to be mended
            self._path.replace(target)
            sync_folder(target.parent)
        except OSError as error:
            raise told(error, self._originals.folder) from error
        return Original(sha256=sha256, size=self.size)

    def _close(self) -> None:
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()
        self._path.unlink(missing_ok=True)


def hash_of(file: BinaryIO) -> str:
    """Return the SHA-256 of an open file."""
    digest = hashlib.sha256()
    for chunk in chunks_of(file):
        digest.update(chunk)
    return digest.hexdigest()


def chunks_of(file: BinaryIO) -> Iterator[bytes]:
    """Yield an open file in pieces."""
    while chunk := file.read(CHUNK_BYTES):
        yield chunk


def told(error: OSError, place: Path) -> StoreError:
    """Return what the user is told when the disk refuses."""
    if error.errno in _FULL:
        found = f"no room is left on the disk ({error.strerror}); nothing was kept of the file"
        return NoRoomError(str(place), found, "Free some space, then send the file again.")
    found = f"the folder cannot be written ({error.strerror or error})"
    return StoreError(str(place), found, "Check that it is there and that you may write it.")


def sync_folder(folder: Path) -> None:
    """Make names in a folder survive a power cut, where the system lets a folder be synchronised."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _make_folders(folder: Path) -> None:
    for part in (folder.parent, folder):
        if not part.is_dir():
            part.mkdir(exist_ok=True, mode=0o700)
            sync_folder(part.parent)


def _new_file(folder: Path) -> tuple[Path, int]:
    """Make an empty file and hold it locked; a sweep that comes between making and locking may take it away."""
    while True:
        path = folder / uuid.uuid4().hex
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        except OSError as error:
            raise told(error, folder) from error
        if _lock(descriptor) and path.exists():
            return path, descriptor
        os.close(descriptor)


def _lock(descriptor: int) -> bool:
    """Return whether the file is ours now. The system lets go of it when its program ends, however that ends."""
    if sys.platform == "win32":
        return True  # there an open file cannot be removed, which does the same
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _unlink_unless_open(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except PermissionError:
        return
