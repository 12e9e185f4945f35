"""Compressed frames of a DICOM file, taken out one at a time."""

from __future__ import annotations

import io
import struct
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO

from pydicom.encaps import generate_frames

from fanlight.intake.dicom_header import DicomSource, lenient, value_of
from fanlight.intake.limits import Limits
from fanlight.study import FrameDamageError

_ITEM = (0xFFFE, 0xE000)
_DELIMITER = (0xFFFE, 0xE0DD)
# Engineering judgement: ten fragments for each of the 20 000 frames that a clip may have.
_MAX_FRAGMENTS = 200_000


@dataclass(frozen=True, slots=True)
class Fragment:
    """One item of the encapsulated value: where its bytes lie."""

    offset: int
    length: int


def list_fragments(source: DicomSource) -> tuple[tuple[Fragment, ...], bool]:
    """Return the fragments behind the Basic Offset Table, and whether the closing delimiter was there.

    Walks the item headers only (PS3.5 A.4); a fragment cut short by the end of the file keeps what is there.
    """
    file = source.file
    position = source.pixel_offset
    found: list[Fragment] = []
    is_table = True
    while len(found) < _MAX_FRAGMENTS:
        file.seek(position)
        head = file.read(8)
        if len(head) < 8:
            return tuple(found), False
        group, element, length = struct.unpack("<HHL", head)
        if (group, element) == _DELIMITER:
            return tuple(found), True
        if (group, element) != _ITEM:
            return tuple(found), False
        there = min(length, source.file_length - position - 8)
        if not is_table:
            found.append(Fragment(position + 8, there))
        is_table = False
        if there < length:
            return tuple(found), False
        position += 8 + length
    return tuple(found), False


def compressed_frames(source: DicomSource, n_frames: int, limits: Limits, first: int = 0) -> Iterator[bytes]:
    """Yield the code streams of `n_frames` frames in order, those before `first` left out.

    Raises
    ------
    FrameDamageError
        When the fragments end, or stop making sense, before the last frame.
    """
    fragments, _ = list_fragments(source)
    _check_offset_table(source)
    tables = value_of(source.data, "ExtendedOffsetTable"), value_of(source.data, "ExtendedOffsetTableLengths")
    extended = (tables[0], tables[1]) if isinstance(tables[0], bytes) and isinstance(tables[1], bytes) else None
    total = sum(item.length for item in fragments)
    if n_frames == 1 and total > limits.frame_code_bytes:
        raise FrameDamageError(0, f"its code is {total / 1e6:.0f} MB long, more than a picture can need")
    if len(fragments) == n_frames and extended is None:
        # One fragment a frame, as nearly all machines write: no offset table needed, so a wrong one does no harm.
        yield from _one_by_one(source.file, fragments, limits, first)
        return
    source.file.seek(source.pixel_offset)
    index = 0
    with lenient():
        frames = generate_frames(source.file, number_of_frames=n_frames, extended_offsets=extended)
    while index < n_frames:
        try:
            with lenient():
                code = next(frames)
        except StopIteration:
            break
        except (ValueError, EOFError, struct.error, OverflowError, OSError, AttributeError) as error:
            raise FrameDamageError(index, f"the fragments do not make a frame ({type(error).__name__})") from error
        if index >= first:
            yield code
        index += 1
    if index < n_frames:
        raise FrameDamageError(index, "the file ends before this frame")


def _check_offset_table(source: DicomSource) -> None:
    """Raise at a Basic Offset Table longer than the file: pydicom would ask for memory as long as it says."""
    source.file.seek(source.pixel_offset + 4)
    (length,) = struct.unpack("<L", source.file.read(4))
    if source.pixel_offset + 8 + length > source.file_length:
        raise FrameDamageError(0, "the table of its fragments is longer than the file")


def _one_by_one(file: IO[bytes], fragments: tuple[Fragment, ...], limits: Limits, first: int) -> Iterator[bytes]:
    for index, fragment in enumerate(fragments[first:], first):
        if fragment.length > limits.frame_code_bytes:
            raise FrameDamageError(
                index, f"its code is {fragment.length / 1e6:.0f} MB long, more than a picture can need"
            )
        file.seek(fragment.offset)
        yield file.read(fragment.length)


class FragmentStream(io.RawIOBase):
    """All fragments joined end to end as one readable, seekable stream: the payload of a video in DICOM."""

    def __init__(self, file: IO[bytes], fragments: tuple[Fragment, ...]) -> None:
        super().__init__()
        self._file = file
        self._fragments = tuple(item for item in fragments if item.length)
        self._starts: list[int] = []
        total = 0
        for fragment in self._fragments:
            self._starts.append(total)
            total += fragment.length
        self._length = total
        self._position = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._position

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._position, io.SEEK_END: self._length}[whence]
        self._position = max(0, base + offset)
        return self._position

    def readinto(self, buffer: object) -> int:
        view = memoryview(buffer).cast("B")  # type: ignore[arg-type]
        done = 0
        while done < len(view) and self._position < self._length:
            at = bisect_right(self._starts, self._position) - 1
            fragment, inside = self._fragments[at], self._position - self._starts[at]
            self._file.seek(fragment.offset + inside)
            block = self._file.read(min(fragment.length - inside, len(view) - done))
            if not block:
                break
            view[done : done + len(block)] = block
            done += len(block)
            self._position += len(block)
        return done
