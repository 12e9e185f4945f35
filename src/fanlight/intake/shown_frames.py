"""Frames for a viewer: JPEG baseline goes out as it is stored, everything else as it is decoded here."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from enum import IntEnum
from typing import Self

import numpy as np
from numpy.typing import NDArray
from pydicom import uid

from fanlight.intake.decoders import refuse_syntax
from fanlight.intake.dicom_form import PixelForm, read_form
from fanlight.intake.dicom_header import DicomSource, open_dicom
from fanlight.intake.fragments import compressed_frames
from fanlight.intake.frames_of import open_frames
from fanlight.intake.gather import Item
from fanlight.intake.grey_levels import grey_table
from fanlight.intake.jpeg_frames import is_shown_alike, write_jpeg
from fanlight.intake.kinds import DICOMS
from fanlight.intake.limits import Limits
from fanlight.study import Clip


class FrameForm(IntEnum):
    """How the bytes of a shown frame are to be read."""

    JPEG = 1  # baseline, as stored in the file, padding included
    RAW = 2  # 8-bit samples, row by row, grey or RGB


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownFrame:
    """One frame on its way to a viewer."""

    index: int  # counted from 0
    form: FrameForm
    channels: int  # 1 or 3
    rows: int
    cols: int
    data: bytes


class ShownFrames:
    """Frames of one clip, one at a time, from any frame on. Close them, or use them in a ``with`` block."""

    def __init__(self, n_frames: int, start: Callable[[int], Iterator[ShownFrame]], close: Callable[[], None]) -> None:
        self.n_frames = n_frames
        self._start = start
        self._close = close

    def frames(self, first: int = 0) -> Iterator[ShownFrame]:
        """Yield the frames in order, from `first` on.

        Raises
        ------
        FrameDamageError
            At the first frame that cannot be had; those before it were delivered.
        """
        return self._start(first)

    def close(self) -> None:
        """Close the file."""
        self._close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()


def open_shown_frames(item: Item, clip: Clip, limits: Limits) -> ShownFrames:
    """Open the frames of a clip for a viewer.

    Raises
    ------
    FileRefusedError
        If the file is no longer what was probed.
    """
    if item.kind in DICOMS:
        with ExitStack() as stack:
            source = stack.enter_context(open_dicom(item.path, item.name, item.kind, limits))
            if source.transfer_syntax == uid.JPEGBaseline8Bit:
                form = read_form(source, limits)
                refuse_syntax(source, form)
                if _is_plain(source, form):
                    close = stack.pop_all().close
                    return ShownFrames(form.n_frames, lambda first: _stored(source, form, limits, first), close)
    frames = open_frames(item, clip, limits)

    def decoded(first: int) -> Iterator[ShownFrame]:
        for chunk in frames.chunks(1, first):
            yield _raw(chunk.first, chunk.pixels[0])

    return ShownFrames(frames.n_frames, decoded, frames.close)


def _is_plain(source: DicomSource, form: PixelForm) -> bool:
    """Return whether the samples are shown as they are, without a table of grey levels or colours."""
    if form.samples == 3:
        return True
    return form.photometric == "MONOCHROME2" and grey_table(source.data, form) is None


def _stored(source: DicomSource, form: PixelForm, limits: Limits, first: int) -> Iterator[ShownFrame]:
    shape = (form.rows, form.cols, 3) if form.samples == 3 else (form.rows, form.cols)
    scratch = np.empty((form.rows, form.cols, 1), dtype=np.uint8)
    out = np.empty(shape, dtype=np.uint8)
    for index, code in enumerate(compressed_frames(source, form.n_frames, limits, first), first):
        # Decoded here too: a viewer shows half of a damaged picture without a word.
        write_jpeg(code, index, form, None, scratch, out)
        if is_shown_alike(code, form):
            yield ShownFrame(
                index=index, form=FrameForm.JPEG, channels=form.samples, rows=form.rows, cols=form.cols, data=code
            )
            continue
        yield _raw(index, out)


def _raw(index: int, pixels: NDArray[np.uint8]) -> ShownFrame:
    rows, cols = pixels.shape[:2]
    channels = 3 if pixels.ndim == 3 else 1
    return ShownFrame(index=index, form=FrameForm.RAW, channels=channels, rows=rows, cols=cols, data=pixels.tobytes())
