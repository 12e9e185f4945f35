"""Worker tasks that look at files before any pixel: quick to load, so that a folder is listed at once."""

from __future__ import annotations

from pathlib import Path

from fanlight.intake import Item, Limits, Probed, gather, gather_named, probe_item
from fanlight.intake.dicom_origin import DicomOrigin, read_origin
from fanlight.intake.gather import Gathered
from fanlight.intake.own_report import without_own_numbers
from fanlight.review.worker import Beat


def gather_files(path: str, scratch: str, limits: Limits, *, beat: Beat) -> Gathered:
    """List the files of a study; worker task."""
    beat("listing files")
    return gather(Path(path), Path(scratch), limits, lambda n: beat("listing files", done=n))


def gather_named_files(files: tuple[tuple[str, str], ...], scratch: str, limits: Limits, *, beat: Beat) -> Gathered:
    """List files that lie anywhere, under the names that the user knows; worker task."""
    beat("listing files")
    named = [(Path(path), name) for path, name in files]
    return gather_named(named, Path(scratch), limits, lambda n: beat("listing files", done=n))


def probe_file(item: Item, limits: Limits, *, beat: Beat) -> Probed:
    """Read the header of one file; worker task."""
    beat("reading the header")
    probed = probe_item(item, limits, lambda n: beat("reading the header", done=n))
    return without_own_numbers(item, probed, limits)


def origin_of_file(item: Item, limits: Limits, *, beat: Beat) -> DicomOrigin | str:
    """Return where a picture lies in its archive, or why that is not known; worker task."""
    beat("reading the header")
    return read_origin(item, limits)
