"""What every gallery needs: its pictures written small, or shown without loss to somebody who looks."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from measure._panel import jpeg_below


class Sheet(Protocol):
    """One picture of a gallery."""

    @property
    def name(self) -> str:
        """Of the file, without ending."""
        ...

    @property
    def most_bytes(self) -> int:
        """How large its file may be."""
        ...

    @property
    def make(self) -> Callable[[], NDArray[np.uint8]]:
        """Draws it: (row, col) or (row, col, 3), RGB."""
        ...


def write_pictures(made: Sequence[Sheet], folder: Path, most_bytes: int) -> None:
    """Make every picture, then put them in place of those in the folder, all or none.

    Raises
    ------
    SystemExit
        If together they take more than `most_bytes`.
    """
    with tempfile.TemporaryDirectory() as scratch:
        size = 0
        for number, sheet in enumerate(made, start=1):
            print(f"{number}/{len(made)} {sheet.name}", file=sys.stderr, flush=True)
            data = jpeg_below(bgr(sheet.make()), sheet.most_bytes)
            size += len(data)
            (Path(scratch) / f"{sheet.name}.jpg").write_bytes(data)
        if size > most_bytes:
            raise SystemExit(f"the gallery takes {size} bytes, at most {most_bytes} are wanted; lower MOST_BYTES")
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(scratch, folder)


def bgr(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return colours in OpenCV's order."""
    return np.ascontiguousarray(image[..., ::-1]) if image.ndim == 3 else image


def run(page: str, sheets: Callable[[], Iterable[Sheet]], write: Callable[[], None]) -> None:
    """Read the command line: write the gallery, or its sheets without loss for somebody to look at."""
    parser = argparse.ArgumentParser(description=f"Make {page} and its pictures.")
    parser.add_argument("--look", type=Path, help="write the sheets as PNG into this folder and leave docs/ alone")
    parser.add_argument("--only", default="", help="with --look: only sheets whose name holds this")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    if chosen.look is None:
        write()
        return
    chosen.look.mkdir(parents=True, exist_ok=True)
    for sheet in sheets():
        if chosen.only in sheet.name:
            print(sheet.name, file=sys.stderr, flush=True)
            cv2.imwrite(str(chosen.look / f"{sheet.name}.png"), bgr(sheet.make()))
