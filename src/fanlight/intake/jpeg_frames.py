"""JPEG baseline frames of a DICOM file, decoded straight into the picture buffer."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import simplejpeg

from fanlight.intake.chunked import Picture, WriteFrame
from fanlight.intake.dicom_form import PixelForm
from fanlight.intake.dicom_header import DicomSource
from fanlight.intake.fragments import compressed_frames
from fanlight.intake.grey_levels import Levels
from fanlight.intake.limits import Limits
from fanlight.study import FrameDamageError

_SOI, _EOI, _SOS, _APP0, _APP1, _APP2, _APP14 = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xEE  # ITU-T T.81 table B.1
_FRAME_MARKERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # SOF0 to SOF15
_BASELINE = 0xC0
_NO_LENGTH = frozenset({0x01, *range(0xD0, 0xD8)})


@dataclass(frozen=True, slots=True, kw_only=True)
class JpegHeader:
    """What the markers before the first scan say."""

    process: int  # the SOF marker: 0xC0 baseline, 0xC1 extended, 0xC2 progressive, 0xC3 lossless
    precision: int
    rows: int
    cols: int
    components: tuple[int, ...]  # their identifiers
    is_subsampled: bool
    has_jfif: bool
    adobe_transform: int | None  # 0: no transform, 1: YCbCr
    has_display_hints: bool = False  # Exif (orientation) or a colour profile: viewers may turn or recolour the picture


def read_jpeg_header(code: bytes) -> JpegHeader:
    """Walk the markers of a JPEG stream up to its first scan.

    Raises
    ------
    ValueError
        When they do not make sense.
    """
    if code[:2] != b"\xff\xd8":
        raise ValueError("no JPEG start marker")
    position = 2
    has_jfif, adobe, frame, hints = False, None, None, False
    while position + 4 <= len(code):
        if code[position] != 0xFF:
            raise ValueError("a JPEG marker is missing")
        marker = code[position + 1]
        if marker == 0xFF:  # fill byte
            position += 1
            continue
        if marker in _NO_LENGTH:
            position += 2
            continue
        if marker in (_SOS, _EOI):
            break
        (length,) = struct.unpack(">H", code[position + 2 : position + 4])
        body = code[position + 4 : position + 2 + length]
        if length < 2 or len(body) != length - 2:
            raise ValueError("a JPEG header segment is cut short")
        if marker == _APP0 and body.startswith(b"JFIF\x00"):
            has_jfif = True
        elif marker == _APP14 and body.startswith(b"Adobe") and len(body) >= 12:
            adobe = body[11]
        elif marker in (_APP1, _APP2):
            hints = True
        elif marker in _FRAME_MARKERS:
            frame = (marker, body)
        position += 2 + length
    if frame is None:
        raise ValueError("no JPEG frame header")
    process, body = frame
    if len(body) < 6 or len(body) < 6 + 3 * body[5]:
        raise ValueError("a JPEG frame header is cut short")
    precision, rows, cols, count = struct.unpack(">BHHB", body[:6])
    parts = [body[6 + 3 * at : 9 + 3 * at] for at in range(count)]
    return JpegHeader(
        process=process,
        precision=precision,
        rows=rows,
        cols=cols,
        components=tuple(part[0] for part in parts),
        is_subsampled=len({part[1] for part in parts}) > 1,
        has_jfif=has_jfif,
        adobe_transform=adobe,
        has_display_hints=hints,
    )


def _is_stored_as_ybr(header: JpegHeader, photometric: str) -> bool:
    """Decide whether three components are YCbCr.

    The stream's own markers come first, since exporters often leave Photometric Interpretation as it was before
    compression: Adobe's transform flag, component names "R", "G", "B", a JFIF mark (always YCbCr). Then the header
    of the file (PS3.5 8.2.1); and components of different resolution are never red, green and blue.
    """
    if header.adobe_transform is not None:
        return header.adobe_transform != 0
    if header.components in ((82, 71, 66), (114, 103, 98)):
        return False
    if header.has_jfif or header.is_subsampled:
        return True
    return photometric != "RGB"


def _is_guessed_as_ybr(header: JpegHeader) -> bool:
    """Return what libjpeg assumes by itself (its default_decompress_parms)."""
    if header.has_jfif:
        return True
    if header.adobe_transform is not None:
        return header.adobe_transform != 0
    return header.components != (82, 71, 66)


def _say_colour(code: bytes, is_ybr: bool) -> bytes:
    """Return the stream with an Adobe segment that states the transform; a JFIF one would outrank it and goes."""
    segment = b"Adobe" + struct.pack(">HHHB", 100, 0, 0, 1 if is_ybr else 0)
    out = bytearray(b"\xff\xd8\xff\xee" + struct.pack(">H", len(segment) + 2) + segment)
    position = 2
    while code[position] == 0xFF and code[position + 1] != _SOS:
        if code[position + 1] == 0xFF:
            position += 1
            continue
        if code[position + 1] in _NO_LENGTH:
            position += 2
            continue
        (length,) = struct.unpack(">H", code[position + 2 : position + 4])
        if code[position + 1] not in (_APP0, _APP14):
            out += code[position : position + 2 + length]
        position += 2 + length
    return bytes(out) + code[position:]


def _check(header: JpegHeader, form: PixelForm, index: int) -> None:
    if header.precision != 8 or header.process not in (0xC0, 0xC1, 0xC2):
        raise FrameDamageError(
            index, f"JPEG process {header.process:X} with {header.precision} bits, 8-bit DCT expected"
        )
    if (header.rows, header.cols) != (form.rows, form.cols):
        raise FrameDamageError(
            index, f"a picture of {header.rows} x {header.cols} pixels where {form.rows} x {form.cols} are stated"
        )
    if len(header.components) != form.samples:
        raise FrameDamageError(index, f"{len(header.components)} colour components where {form.samples} are stated")


def jpeg_frames(source: DicomSource, form: PixelForm, table: Levels | None, limits: Limits) -> Iterator[WriteFrame]:
    """Yield one writer a frame.

    Raises
    ------
    FrameDamageError
        By the writers and by the source of fragments.
    """
    scratch = np.empty((form.rows, form.cols, 1), dtype=np.uint8)

    for index, code in enumerate(compressed_frames(source, form.n_frames, limits)):

        def write(out: Picture, code: bytes = code, index: int = index) -> None:
            write_jpeg(code, index, form, table, scratch, out)

        yield write


def write_jpeg(code: bytes, index: int, form: PixelForm, table: Levels | None, scratch: Picture, out: Picture) -> None:
    """Decode one frame.

    Parameters
    ----------
    scratch : ndarray of shape (row, col, 1)
        Room for the samples of a grey picture.
    out : ndarray of shape (row, col) or (row, col, 3)
        Takes the picture.

    Raises
    ------
    FrameDamageError
        When the code is no such picture.
    """
    try:
        header = read_jpeg_header(code)
        _check(header, form, index)
        if form.samples == 3:
            is_ybr = _is_stored_as_ybr(header, form.photometric)
            if is_ybr != _is_guessed_as_ybr(header):
                code = _say_colour(code, is_ybr)
            simplejpeg.decode_jpeg(code, "RGB", buffer=out, strict=True)
            return
        simplejpeg.decode_jpeg(code, "GRAY", buffer=scratch, strict=True)
    except FrameDamageError:
        raise
    except (ValueError, IndexError, struct.error) as error:
        raise FrameDamageError(index, str(error) or "damaged JPEG") from error
    if table is None:
        out[...] = scratch[..., 0]
    else:
        np.take(table, scratch[..., 0], axis=0, out=out, mode="clip")


def is_shown_alike(code: bytes, form: PixelForm) -> bool:
    """Return whether any viewer of baseline JPEG shows this code as it is decoded here.

    Not so where the header of the file corrects what the stream says of its colours, or where the stream asks viewers
    to turn or recolour the picture.
    """
    try:
        header = read_jpeg_header(code)
        _check(header, form, 0)
    except (FrameDamageError, ValueError, IndexError, struct.error):
        return False
    if header.process != _BASELINE or header.has_display_hints:
        return False
    return form.samples == 1 or _is_stored_as_ybr(header, form.photometric) == _is_guessed_as_ybr(header)
