"""Uncompressed DICOM pixels, read a frame at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.intake.chunked import Picture, WriteFrame
from fanlight.intake.colour import planes_to_pixels, ybr_full_to_rgb, ybr_partial_to_rgb
from fanlight.intake.dicom_form import PixelForm
from fanlight.intake.dicom_header import DicomSource
from fanlight.intake.grey_levels import Levels
from fanlight.study import FrameDamageError

# Writes stored samples, shape (row, col) or (row, col, 3) or subsampled (row, col * 2), as a picture.
WriteSamples = Callable[[NDArray[np.generic], Picture], None]


def sample_writer(form: PixelForm, table: Levels | None) -> WriteSamples:
    """Return what turns stored samples, already in the machine's byte order, into 8-bit grey or RGB."""
    if form.samples == 1:
        return _one_sample_writer(form, table)

    def write_colour(samples: NDArray[np.generic], out: Picture) -> None:
        if samples.dtype.itemsize == 2:
            samples = np.right_shift(samples, form.high_bit - 7).astype(np.uint8)  # 8 bits stored, see read_form
        if form.photometric.startswith("YBR_FULL"):
            out[...] = ybr_full_to_rgb(samples.astype(np.uint8, copy=False))
        elif samples.dtype == np.uint8 and (planes := np.moveaxis(samples, -1, 0)).flags.c_contiguous:
            cv2.merge(list(planes), dst=out)  # twenty times as fast as copying a plane in steps of three
        else:
            out[...] = samples

    return write_colour


def _one_sample_writer(form: PixelForm, table: Levels | None) -> WriteSamples:
    shift = form.high_bit + 1 - form.bits_stored
    mask = 2**form.bits_stored - 1

    def write(samples: NDArray[np.generic], out: Picture) -> None:
        bits: NDArray[Any] = samples.view(np.uint8 if samples.dtype.itemsize == 1 else np.uint16)
        if bits.dtype.itemsize * 8 != form.bits_stored:
            # Bits outside those stored may hold overlays or anything else (PS3.5 8.1.1).
            bits = np.bitwise_and(np.right_shift(bits, shift), mask)
        if table is None:
            out[...] = bits
        else:
            np.take(table, bits, axis=0, out=out, mode="clip")  # clip: the mode that needs no buffer

    return write


def native_frames(source: DicomSource, form: PixelForm, table: Levels | None) -> Iterator[WriteFrame]:
    """Yield one writer a frame.

    Raises
    ------
    FrameDamageError
        By the writers, where the file ends too early.
    """
    order = "<" if source.little_endian else ">"
    sample_type = np.dtype(np.uint8) if form.bits_allocated == 8 else np.dtype(f"{order}u2")
    n_bytes = form.native_frame_bytes
    # PS3.5 8.1.2 and A.3: 8-bit samples written as words (OW) lie in pairs with the first sample in the low byte.
    in_words = not source.little_endian and source.pixel_vr == "OW" and form.bits_allocated == 8
    is_ready = table is None and form.photometric in ("RGB", "MONOCHROME2") and sample_type.itemsize == 1
    goes_straight = is_ready and not form.is_planar and not in_words
    buffer = np.empty(n_bytes + 2, dtype=np.uint8)  # a frame of odd length in words may share one with each neighbour
    write_samples = sample_writer(form, table)
    ends = source.file_length
    if source.pixel_length is not None:
        ends = min(ends, source.pixel_offset + source.pixel_length)

    def read_into(target: NDArray[np.uint8], start: int, index: int) -> None:
        source.file.seek(start)
        if source.file.readinto(target.data.cast("B")) < n_bytes:
            raise FrameDamageError(index, "the file ends before this frame is complete")

    def read_samples(start: int, index: int) -> NDArray[np.generic]:
        if not in_words:
            read_into(buffer[:n_bytes], start, index)
            return buffer[:n_bytes].view(sample_type)
        odd = (start - source.pixel_offset) % 2
        read_into(buffer[: (n_bytes + odd + 1) // 2 * 2], start - odd, index)
        swapped = buffer[: len(buffer) // 2 * 2].view(np.uint16).byteswap().view(np.uint8)
        return swapped[odd : odd + n_bytes]

    for index in range(form.n_frames):
        start = source.pixel_offset + index * n_bytes
        if start + n_bytes > ends:
            raise FrameDamageError(index, "the file ends before this frame is complete")

        def write(out: Picture, start: int = start, index: int = index) -> None:
            if goes_straight:
                read_into(out, start, index)
                return
            samples = read_samples(start, index)
            if form.is_subsampled:
                _write_subsampled(samples, form, out)
            elif form.is_planar:
                write_samples(planes_to_pixels(samples.reshape(3, form.rows, form.cols)), out)
            elif form.samples == 3:
                write_samples(samples.reshape(form.rows, form.cols, 3), out)
            else:
                own_order = samples.astype(sample_type.newbyteorder("="), copy=False)
                write_samples(own_order.reshape(form.rows, form.cols), out)

        yield write


def _write_subsampled(samples: NDArray[np.generic], form: PixelForm, out: Picture) -> None:
    """Two luma samples, then the chroma that they share (PS3.3 C.7.6.3.1.2): Y1 Y2 Cb Cr."""
    if form.bits_allocated == 16:
        samples = np.right_shift(samples, form.high_bit - 7).astype(np.uint8)
    pairs = samples.reshape(form.rows, form.cols // 2, 4)
    ybr = np.empty((form.rows, form.cols, 3), dtype=np.uint8)
    ybr[:, 0::2, 0] = pairs[..., 0]
    ybr[:, 1::2, 0] = pairs[..., 1]
    ybr[..., 1] = np.repeat(pairs[..., 2], 2, axis=1)
    ybr[..., 2] = np.repeat(pairs[..., 3], 2, axis=1)
    out[...] = ybr_partial_to_rgb(ybr) if form.photometric.startswith("YBR_PARTIAL") else ybr_full_to_rgb(ybr)
