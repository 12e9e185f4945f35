"""Frames as the pixel data of a DICOM file: JPEG baseline, run lengths, or as they are."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import numpy as np
import simplejpeg
from numpy.typing import NDArray
from pydicom.dataset import Dataset
from pydicom.encaps import encapsulate
from pydicom.pixels.encoders.base import get_encoder
from pydicom.uid import UID, ExplicitVRLittleEndian, JPEGBaseline8Bit, RLELossless


class Coding(StrEnum):
    """How the pixels are stored."""

    JPEG = "JPEG baseline"
    RLE = "run lengths"
    PLAIN = "uncompressed"


SYNTAXES: dict[Coding, UID] = {
    Coding.JPEG: JPEGBaseline8Bit,
    Coding.RLE: RLELossless,
    Coding.PLAIN: ExplicitVRLittleEndian,
}
# A console's own best: 5 to 11 to 1 on our screens, which are mostly black. Common practice, no source. Lower values
# are a fault that an export can have.
USUAL_JPEG_QUALITY = 99
# Bytes of an uncompressed pixel as the stream holds it: two pixels share their colour (YBR_FULL_422, C.7.6.3.1.2).
_BYTES_A_PIXEL_422 = 2


def set_pixels(data: Dataset, frames: NDArray[np.uint8], coding: Coding, jpeg_quality: int) -> None:
    """Set the Image Pixel module (PS3.3 C.7.6.3) and what tells of compression, in place.

    Parameters
    ----------
    data : Dataset
        Changed in place.
    frames : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        8-bit grey or RGB.
    coding : Coding
        How the pixels are stored.
    jpeg_quality : int
        1 to 100, for JPEG only.
    """
    is_colour = frames.ndim == 4
    data.Rows, data.Columns = int(frames.shape[1]), int(frames.shape[2])
    data.SamplesPerPixel = 3 if is_colour else 1
    data.PhotometricInterpretation = "RGB" if is_colour else "MONOCHROME2"
    if is_colour:
        data.PlanarConfiguration = 0
    data.BitsAllocated = data.BitsStored = 8
    data.HighBit = 7
    data.PixelRepresentation = 0
    data.LossyImageCompression = "00"
    if coding is Coding.PLAIN:
        raw = frames.tobytes()
        data.PixelData = raw + b"\0" * (len(raw) % 2)
        data["PixelData"].VR = "OB"
        return
    if coding is Coding.RLE:
        codes = [_run_lengths(frame) for frame in frames]
    else:
        codes = [_jpeg(frame, jpeg_quality) for frame in frames]
        if is_colour:
            data.PhotometricInterpretation = "YBR_FULL_422"  # PS3.5 8.2.1: what the stream holds
        data.LossyImageCompression = "01"
        plain = frames[..., 0].size * _BYTES_A_PIXEL_422 if is_colour else frames.nbytes
        data.LossyImageCompressionRatio = f"{plain / sum(len(code) for code in codes):.3f}"
        data.LossyImageCompressionMethod = "ISO_10918_1"
    data.PixelData = encapsulate(codes)
    data["PixelData"].VR = "OB"
    data["PixelData"].is_undefined_length = True


def _jpeg(frame: NDArray[np.uint8], quality: int) -> bytes:
    pixels = np.ascontiguousarray(frame if frame.ndim == 3 else frame[..., None])
    if frame.ndim == 3:
        code = simplejpeg.encode_jpeg(pixels, quality=quality, colorspace="RGB", colorsubsampling="422")
    else:
        code = simplejpeg.encode_jpeg(pixels, quality=quality, colorspace="GRAY")
    return bytes(code)


def _run_lengths(frame: NDArray[np.uint8]) -> bytes:
    is_colour = frame.ndim == 3
    options: dict[str, Any] = {"planar_configuration": 0} if is_colour else {}
    code = get_encoder(RLELossless).encode(
        frame.tobytes(),
        rows=frame.shape[0],
        columns=frame.shape[1],
        number_of_frames=1,
        samples_per_pixel=3 if is_colour else 1,
        bits_allocated=8,
        bits_stored=8,
        photometric_interpretation="RGB" if is_colour else "MONOCHROME2",
        pixel_representation=0,
        **options,
    )
    return bytes(code)
