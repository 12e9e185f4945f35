"""The header of a DICOM file, read without its pixels, and where the pixels lie in the file."""

from __future__ import annotations

import contextlib
import io
import logging
import struct
import tempfile
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, cast

from pydicom import config
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.errors import InvalidDicomError
from pydicom.filebase import DicomIO
from pydicom.filereader import read_dataset, read_partial
from pydicom.filewriter import write_file_meta_info
from pydicom.multival import MultiValue
from pydicom.uid import (
    UID,
    DeflatedExplicitVRLittleEndian,
    ExplicitVRBigEndian,
    ExplicitVRLittleEndian,
    ImplicitVRLittleEndian,
)

from fanlight.intake.kinds import Kind
from fanlight.intake.limits import Limits
from fanlight.intake.refused import SEND_AGAIN, FileRefusedError

# These libraries log what they find wrong, with the value: a name could get into somebody's log file. Errors reach us
# as exceptions anyway.
for _name in ("pydicom", "openjpeg", "PIL"):
    _logger = logging.getLogger(_name)
    _logger.addHandler(logging.NullHandler())
    _logger.propagate = False

_PYDICOM_LOG = logging.getLogger("pydicom")
_PIXEL_TAGS = frozenset({0x7FE00010, 0x7FE00008, 0x7FE00009})  # Pixel Data, Float Pixel Data, Double Float Pixel Data
_UNDEFINED = 0xFFFFFFFF  # PS3.5 7.1.1
_INFLATE_BYTES = 1024 * 1024
NATIVE = frozenset({ImplicitVRLittleEndian, ExplicitVRLittleEndian, ExplicitVRBigEndian})


@dataclass(frozen=True, slots=True)
class DicomSource:
    """An open DICOM file. The data set holds everything before the pixels."""

    name: str
    file: io.BufferedReader
    data: Dataset
    transfer_syntax: str  # of the pixels; deflated files were inflated and count as explicit little endian
    stored_syntax: str  # as written in the file
    little_endian: bool
    pixel_tag: int | None  # None: no pixels in the file
    pixel_vr: str  # "OB", "OW", or "" with implicit VR
    pixel_offset: int  # of the first byte of the value
    pixel_length: int | None  # as written; None: undefined length, that is, encapsulated
    file_length: int

    @property
    def is_encapsulated(self) -> bool:
        """Whether the pixels are compressed fragments (PS3.5 A.4)."""
        return self.transfer_syntax not in NATIVE


def _stop_at_pixels(tag: Any, _vr: str | None, _length: int) -> bool:
    return int(tag) in _PIXEL_TAGS


@contextlib.contextmanager
def lenient() -> Iterator[None]:
    """Read or write what is there, even if a value breaks the standard's rules.

    A warning or a line in a log would only repeat the value, and with it somebody's name: both are silent inside.
    Errors are raised as ever. The places in which this can be used may lie within one another.
    """
    was = _PYDICOM_LOG.disabled
    _PYDICOM_LOG.disabled = True
    try:
        with warnings.catch_warnings(), config.disable_value_validation():
            warnings.simplefilter("ignore")
            yield
    finally:
        _PYDICOM_LOG.disabled = was


class _BoundedReader(io.BufferedReader):
    """A file that never asks for more memory than it has bytes left, whatever length a damaged header states."""

    def __init__(self, raw: io.RawIOBase) -> None:
        super().__init__(raw)
        self.length = self.seek(0, io.SEEK_END)
        self.seek(0)

    def read(self, size: int | None = -1, /) -> bytes:
        left = max(0, self.length - self.tell())
        return super().read(left if size is None or size < 0 else min(size, left))


def _read_meta(file: BinaryIO) -> FileMetaDataset:
    """Read group 2 (PS3.10 7.1: explicit little endian, after 128 bytes and "DICM"); leave the file at the data set."""
    file.seek(132)
    return FileMetaDataset(read_dataset(file, False, True, stop_when=lambda tag, _vr, _length: int(tag) >> 16 != 2))


def _inflated(file: BinaryIO, meta: FileMetaDataset, name: str, limits: Limits) -> _BoundedReader:
    """Return a temporary file with the rest of a deflated file (PS3.5 A.5) unpacked behind its meta information."""
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    # Closed by the caller, with the reader around it.
    raw = cast(io.RawIOBase, tempfile.TemporaryFile(prefix="fanlight-", buffering=0))  # noqa: SIM115
    try:
        raw.write(b"\x00" * 128 + b"DICM")
        write_file_meta_info(cast(DicomIO, raw), meta, enforce_standard=False)
        unpacker = zlib.decompressobj(wbits=-zlib.MAX_WBITS)
        written = 0
        while not unpacker.eof:
            packed = unpacker.unconsumed_tail or file.read(_INFLATE_BYTES)
            if not packed:
                break  # ends too early: what came is read, the length check of the pixels tells the rest
            block = unpacker.decompress(packed, _INFLATE_BYTES)
            written += len(block)
            if written > limits.file_bytes:
                raise FileRefusedError(
                    name,
                    f"a file of at most {limits.file_bytes / 1e9:.1f} GB when inflated",
                    "a larger one",
                    "Export it without deflate compression.",
                )
            raw.write(block)
    except BaseException:
        raw.close()
        raise
    return _BoundedReader(raw)


def _pixel_element(file: BinaryIO, little: bool) -> tuple[int | None, str, int, int | None]:
    """Return tag, VR, offset of the value and its length (None: undefined) of the element at the current position."""
    start = file.tell()
    head = file.read(12)
    end = "<" if little else ">"
    if len(head) < 8:
        return None, "", start, 0
    group, element = struct.unpack(f"{end}HH", head[:4])
    tag = group << 16 | element
    if tag not in _PIXEL_TAGS:
        return None, "", start, 0
    # With implicit VR the length follows at once. It is even (PS3.5 7.1.1), so it never looks like these letters.
    if head[4:6] in (b"OB", b"OW", b"UN", b"OF", b"OD"):
        if len(head) < 12:
            return tag, "", start + len(head), 0
        (length,) = struct.unpack(f"{end}L", head[8:12])
        offset, vr = start + 12, head[4:6].decode("ascii")
    else:
        (length,) = struct.unpack(f"{end}L", head[4:8])
        offset, vr = start + 8, ""
    return tag, vr, offset, None if length == _UNDEFINED else length


@contextlib.contextmanager
def open_dicom(path: Path, name: str, kind: Kind, limits: Limits) -> Iterator[DicomSource]:
    """Open a DICOM file and read its header.

    Raises
    ------
    FileRefusedError
        If the header cannot be read.
    """
    with contextlib.ExitStack() as stack:
        file = stack.enter_context(_BoundedReader(io.FileIO(path)))
        try:
            with lenient():
                stored_syntax = ""
                if kind is Kind.DICOM:
                    meta = _read_meta(file)
                    stored_syntax = str(meta.get("TransferSyntaxUID", "") or "")
                    if stored_syntax == DeflatedExplicitVRLittleEndian:
                        file = stack.enter_context(_inflated(file, meta, name, limits))
                    file.seek(0)
                data = read_partial(file, stop_when=_stop_at_pixels, defer_size=limits.header_value_bytes, force=True)
        except FileRefusedError:
            raise
        except InvalidDicomError as error:
            raise FileRefusedError(name, "a DICOM file", "a file without DICOM's mark", SEND_AGAIN) from error
        except (MemoryError, KeyboardInterrupt):
            raise
        except Exception as error:
            # pydicom raises whatever its parts meet on damaged bytes: struct, value, key, recursion and other errors.
            raise FileRefusedError(
                name, "a DICOM header that can be read", f"a damaged one ({type(error).__name__})", SEND_AGAIN, "header"
            ) from error
        little = bool(data.original_encoding[1])
        implicit = bool(data.original_encoding[0])
        tag, vr, offset, pixel_length = _pixel_element(file, little)
        if not stored_syntax:  # PS3.5 10.1: implicit little endian unless something else was said
            if pixel_length is None and tag is not None:
                raise FileRefusedError(
                    name,
                    "a DICOM file that says how its pixels are compressed",
                    "compressed pixels without a Transfer Syntax UID (0002,0010)",
                    SEND_AGAIN,
                    "header",
                )
            stored_syntax = (
                ImplicitVRLittleEndian if implicit else ExplicitVRLittleEndian if little else ExplicitVRBigEndian
            )
        syntax = ExplicitVRLittleEndian if stored_syntax == DeflatedExplicitVRLittleEndian else stored_syntax
        yield DicomSource(
            name=name,
            file=file,
            data=data,
            transfer_syntax=str(syntax),
            stored_syntax=str(stored_syntax),
            little_endian=little,
            pixel_tag=tag,
            pixel_vr=vr,
            pixel_offset=offset,
            pixel_length=pixel_length,
            file_length=file.length,
        )


def uid_name(text: str) -> str:
    """Return the name that PS3.6 registers for a UID, or the text itself."""
    return UID(text, validation_mode=config.IGNORE).name


def value_of(data: Dataset, keyword: str) -> Any:
    """Return a value, or None when it is absent, empty or cannot be read as its kind."""
    try:
        with lenient():
            value = data.get(keyword)
    except Exception:
        # A broken value counts as not stated; pydicom raises many kinds of error when it converts one.
        return None
    if value is None or (isinstance(value, str | bytes | MultiValue | list) and len(value) == 0):
        return None
    return value


def text_of(data: Dataset, keyword: str) -> str:
    """Return a text value on one line, "" when absent; several values are joined by a backslash as in the file."""
    value = value_of(data, keyword)
    if value is None:
        return ""
    text = "\\".join(map(str, value)) if isinstance(value, MultiValue | list) else str(value)
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def texts_of(data: Dataset, keyword: str) -> tuple[str, ...]:
    """Return all values of an attribute as texts."""
    value = value_of(data, keyword)
    if value is None:
        return ()
    return tuple(str(item).strip() for item in value) if isinstance(value, MultiValue | list) else (str(value).strip(),)


def numbers_of(data: Dataset, keyword: str) -> tuple[float, ...]:
    """Return all values of an attribute that are finite numbers; () when one of them is not."""
    value = value_of(data, keyword)
    if value is None:
        return ()
    try:
        values = tuple(float(item) for item in (value if isinstance(value, MultiValue | list) else [value]))
    except (TypeError, ValueError, OverflowError):
        return ()
    return values if all(abs(item) < 1e300 for item in values) else ()


def number_of(data: Dataset, keyword: str) -> float | None:
    """Return the first value of an attribute as a number."""
    values = numbers_of(data, keyword)
    return values[0] if values else None


def whole_of(data: Dataset, keyword: str) -> int | None:
    """Return the first value as a whole number, None when it is not one."""
    value = number_of(data, keyword)
    return int(value) if value is not None and value == int(value) else None


def items_of(data: Dataset, keyword: str) -> tuple[Dataset, ...]:
    """Return the items of a sequence, () when it is absent or not a sequence."""
    value = value_of(data, keyword)
    if value is None or not hasattr(value, "__iter__"):
        return ()
    return tuple(item for item in value if isinstance(item, Dataset))
