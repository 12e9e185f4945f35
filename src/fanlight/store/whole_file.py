"""A file that is there whole, or as it was: written beside its place, then put there in one step."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from fanlight.store.originals import sync_folder, told


@contextmanager
def whole_file(path: Path, kind: str) -> Iterator[IO[bytes]]:
    """Yield a file to write into; what was written takes its place at the end, and nothing is left of it on an error.

    Parameters
    ----------
    path : Path
        Where it is to lie.
    kind : str
        Stands in the name of the part that is being written.

    Raises
    ------
    StoreError
        When the disk is full or the folder cannot be written.
    """
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{kind}-", suffix=".part", delete=False) as file:
            part = Path(file.name)
            try:
                yield file
                file.flush()
                os.fsync(file.fileno())
                file.close()
                part.replace(path)
            finally:
                file.close()
                part.unlink(missing_ok=True)
        sync_folder(path.parent)
    except OSError as error:
        raise told(error, path) from error
