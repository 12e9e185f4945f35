"""Worker tasks that look at files before any pixel: quick to load, so that a folder is listed at once."""

from __future__ import annotations

from pathlib import Path

from fanlight.intake import Item, Limits, Probed, gather, probe_item
from fanlight.intake.gather import Gathered
from fanlight.review.worker import Beat


def gather_files(path: str, scratch: str, limits: Limits, *, beat: Beat) -> Gathered:
    """List the files of a study; worker task."""
    beat("listing files")
    return gather(Path(path), Path(scratch), limits, lambda n: beat("listing files", done=n))


def probe_file(item: Item, limits: Limits, *, beat: Beat) -> Probed:
    """Read the header of one file; worker task."""
    beat("reading the header")
    return probe_item(item, limits, lambda n: beat("reading the header", done=n))
