"""Frames that pydicom's decoders unpack one at a time: RLE, JPEG-LS, JPEG 2000, and JPEG lossless with the extra."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydicom import uid
from pydicom.encaps import encapsulate
from pydicom.pixels.decoders.base import get_decoder

from fanlight.intake.chunked import Picture, WriteFrame
from fanlight.intake.dicom_form import PixelForm
from fanlight.intake.dicom_header import DicomSource, lenient
from fanlight.intake.fragments import compressed_frames
from fanlight.intake.grey_levels import Levels
from fanlight.intake.jpeg_frames import read_jpeg_header
from fanlight.intake.limits import Limits
from fanlight.intake.native_frames import sample_writer
from fanlight.study import FrameDamageError

JPEG_2000 = frozenset({uid.JPEG2000Lossless, uid.JPEG2000, uid.HTJ2KLossless, uid.HTJ2KLosslessRPCL, uid.HTJ2K})
JPEG_LS = frozenset({uid.JPEGLSLossless, uid.JPEGLSNearLossless})
JPEG_LOSSLESS = frozenset({uid.JPEGLossless, uid.JPEGLosslessSV1})
_MARKER = re.compile(rb"\xff[\x80-\xfe]", re.DOTALL)
# Start of scan, end of image, restarts, number of lines, preset parameters: what may follow the first scan header.
_SCAN_MARKERS = frozenset({0xDA, 0xD9, 0xDC, 0xF8, *range(0xD0, 0xD8)})
_SOF55 = 0xF7  # ITU-T T.87: frame header of JPEG-LS


def _check_jpeg_ls_scans(code: bytes, at: int) -> None:
    """Look for markers where none may be, and for the closing one: the decoder can loop for ever without them.

    Inside a scan a byte 0xFF is followed by a stuffed 0 bit (ITU-T T.87 annex A.1), so 0xFF with a byte of 0x80 or
    more behind it is a marker.
    """
    scan = code.find(b"\xff\xda", at)
    if scan < 0:
        raise ValueError("no JPEG-LS scan")
    markers = [match.group()[1] for match in _MARKER.finditer(code, scan)]
    if not set(markers) <= _SCAN_MARKERS or markers[-1] != 0xD9:
        raise ValueError("a JPEG-LS scan that is broken off")


def _size_in_code(code: bytes, syntax: str) -> tuple[int, int] | None:
    """Return rows and columns that the code stream itself states, None for RLE, which states none."""
    if syntax in JPEG_2000:
        at = code.find(b"\xff\x4f\xff\x51")  # ITU-T T.800 A.4.1 and A.5.1: SOC, then SIZ
        if at < 0 or len(code) < at + 24:
            raise ValueError("no JPEG 2000 size marker")
        width, height, left, top = struct.unpack(">4L", code[at + 8 : at + 24])
        return height - top, width - left
    if syntax in JPEG_LS:
        at = code.find(bytes((0xFF, _SOF55)))
        if at < 0 or len(code) < at + 9:
            raise ValueError("no JPEG-LS frame header")
        rows, cols = struct.unpack(">HH", code[at + 5 : at + 9])
        _check_jpeg_ls_scans(code, at)
        return rows, cols
    if syntax == uid.RLELossless:
        return None
    header = read_jpeg_header(code)
    return header.rows, header.cols


def plugin_frames(source: DicomSource, form: PixelForm, table: Levels | None, limits: Limits) -> Iterator[WriteFrame]:
    """Yield one writer a frame.

    Raises
    ------
    FrameDamageError
        By the writers and by the source of fragments.
    """
    decoder = get_decoder(uid.UID(source.transfer_syntax))
    write_samples = sample_writer(form, table)
    options: dict[str, Any] = {
        "transfer_syntax_uid": uid.UID(source.transfer_syntax),
        "rows": form.rows,
        "columns": form.cols,
        "number_of_frames": 1,
        "samples_per_pixel": form.samples,
        "bits_allocated": form.bits_allocated,
        "bits_stored": form.bits_stored,
        "photometric_interpretation": form.photometric,
        "pixel_representation": int(form.is_signed),
        "planar_configuration": int(form.is_planar),
        "pixel_keyword": "PixelData",
    }

    def decode(code: bytes, index: int) -> NDArray[np.generic]:
        try:
            size = _size_in_code(code, source.transfer_syntax)
            if size is not None and size != (form.rows, form.cols):
                raise FrameDamageError(
                    index, f"a picture of {size[0]} x {size[1]} pixels where {form.rows} x {form.cols} are stated"
                )
            with lenient():
                samples, _ = decoder.as_array(encapsulate([code], has_bot=False), raw=True, **options)
        except (FrameDamageError, MemoryError):
            raise
        except Exception as error:
            # The decoders are foreign libraries behind pydicom and raise whatever they like on damaged bytes.
            lines = [line.strip() for line in str(error).splitlines() if line.strip()] or [type(error).__name__]
            raise FrameDamageError(
                index, f"damaged code ({lines[-1][:120]})"
            ) from error  # the plugin's words come last
        if samples.shape[:2] != (form.rows, form.cols):
            raise FrameDamageError(index, f"decoded to {samples.shape}, expected {form.rows} x {form.cols}")
        return np.asarray(samples)

    for index, code in enumerate(compressed_frames(source, form.n_frames, limits)):

        def write(out: Picture, code: bytes = code, index: int = index) -> None:
            write_samples(decode(code, index), out)

        yield write
