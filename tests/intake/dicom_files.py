"""DICOM files with known pixels, in every transfer syntax that can be written here."""

from __future__ import annotations

import io
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

import av
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from pydicom import dcmwrite, uid
from pydicom.data import get_testdata_file
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.encaps import encapsulate
from pydicom.pixels.encoders.base import get_encoder

from fanlight.intake import Item, Kind, Limits, open_frames, probe_item
from fanlight.intake.kinds import HEAD_BYTES, sniff
from fanlight.study import Clip, FrameDamageError

Pixels = NDArray[Any]
LIMITS = Limits()
_DEFLATED = uid.DeflatedExplicitVRLittleEndian


def speckle(rng: np.random.Generator, frames: int, rows: int, cols: int, channels: int = 1) -> NDArray[np.uint8]:
    """Smooth moving blobs: something that lossy codecs can hold, with every frame different."""
    coarse = rng.integers(0, 256, (frames, -(-rows // 8), -(-cols // 8), channels)).astype(np.float64)
    fine = np.repeat(np.repeat(coarse, 8, axis=1), 8, axis=2)[:, :rows, :cols]
    kernel = np.ones(5) / 5
    for axis in (1, 2):
        fine = np.apply_along_axis(lambda line: np.convolve(line, kernel, mode="same"), axis, fine)
    out = np.clip(np.rint(fine), 0, 255).astype(np.uint8)
    return out[..., 0] if channels == 1 else out


def tinted(rng: np.random.Generator, frames: int, rows: int, cols: int) -> NDArray[np.uint8]:
    """Grey speckle with a coloured box, as a colour Doppler picture has: codecs that halve the chroma can hold it."""
    out = np.repeat(speckle(rng, frames, rows, cols)[..., None], 3, axis=-1)
    out[:, rows // 4 : rows // 2, cols // 4 : cols // 2] = (200, 60, 40)
    return out


def us_header(pixels: Pixels, **tags: Any) -> Dataset:
    """Header of an ultrasound object for pixels of shape (frame, row, col[, 3])."""
    data = Dataset()
    is_colour = pixels.ndim == 4
    data.SOPClassUID = uid.UltrasoundMultiFrameImageStorage if len(pixels) > 1 else uid.UltrasoundImageStorage
    data.SOPInstanceUID = uid.generate_uid(entropy_srcs=["fanlight", str(pixels.shape)])
    data.Modality = "US"
    data.Rows, data.Columns = pixels.shape[1:3]
    if len(pixels) > 1:
        data.NumberOfFrames = len(pixels)
    data.SamplesPerPixel = 3 if is_colour else 1
    data.PhotometricInterpretation = "RGB" if is_colour else "MONOCHROME2"
    if is_colour:
        data.PlanarConfiguration = 0
    bits = 16 if pixels.dtype.itemsize == 2 else 8
    data.BitsAllocated = data.BitsStored = bits
    data.HighBit = bits - 1
    data.PixelRepresentation = int(pixels.dtype.kind == "i")
    for keyword, value in tags.items():
        setattr(data, keyword, value)
        if keyword == "BitsStored" and "HighBit" not in tags:
            data.HighBit = value - 1
    return data


def write_dicom(path: Path, data: Dataset, syntax: str, preamble: bool = True) -> Path:
    """Write a data set whose PixelData is ready for the transfer syntax."""
    meta = FileMetaDataset()
    meta.TransferSyntaxUID = uid.UID(syntax)
    meta.MediaStorageSOPClassUID = data.get("SOPClassUID", uid.UltrasoundImageStorage)
    meta.MediaStorageSOPInstanceUID = data.get("SOPInstanceUID", "1.2.3")
    encoding = {
        "implicit_vr": syntax == uid.ImplicitVRLittleEndian,
        "little_endian": syntax != uid.ExplicitVRBigEndian,
    }
    plain = Dataset(data)
    if preamble:
        plain.file_meta = meta
    dcmwrite(path, plain, enforce_file_format=preamble, **encoding)
    return path


def native(
    path: Path, pixels: Pixels, syntax: str = uid.ExplicitVRLittleEndian, in_words: bool = False, **tags: Any
) -> Path:
    """An uncompressed file; with PlanarConfiguration=1 the pixels are laid out by plane.

    `in_words` writes 8-bit samples as words (OW), which big endian swaps in pairs.
    """
    data = us_header(pixels, **tags)
    if data.get("PlanarConfiguration") == 1:
        pixels = np.moveaxis(pixels, -1, 1)
    order: Literal["<", ">"] = ">" if syntax == uid.ExplicitVRBigEndian else "<"
    data.PixelData = pixels.astype(pixels.dtype.newbyteorder(order)).tobytes()
    if len(data.PixelData) % 2:
        data.PixelData += b"\0"
    data["PixelData"].VR = "OW" if pixels.dtype.itemsize == 2 or in_words else "OB"
    if in_words and order == ">":
        data.PixelData = np.frombuffer(data.PixelData, "<u2").byteswap().tobytes()
    return write_dicom(path, data, syntax)


def fragmented(path: Path, pixels: Pixels, codes: Sequence[bytes], syntax: str, **tags: Any) -> Path:
    """A compressed file out of ready code streams, one a frame."""
    data = us_header(pixels, **tags)
    data.PixelData = encapsulate(list(codes))
    data["PixelData"].VR = "OB"
    data["PixelData"].is_undefined_length = True
    return write_dicom(path, data, syntax)


def jpeg_codes(pixels: Pixels, colour: str = "RGB", subsampling: str = "422", quality: int = 95) -> list[bytes]:
    """JPEG baseline streams (JFIF, YCbCr) by simplejpeg."""
    if pixels.ndim == 3:
        return [
            simplejpeg.encode_jpeg(np.ascontiguousarray(frame[..., None]), quality=quality, colorspace="GRAY")
            for frame in pixels
        ]
    return [
        simplejpeg.encode_jpeg(
            np.ascontiguousarray(frame), quality=quality, colorspace=colour, colorsubsampling=subsampling
        )
        for frame in pixels
    ]


def jpeg_baseline(path: Path, pixels: Pixels, **tags: Any) -> Path:
    """A JPEG baseline file."""
    tags = {"PhotometricInterpretation": "YBR_FULL_422" if pixels.ndim == 4 else "MONOCHROME2"} | tags
    return fragmented(path, pixels, jpeg_codes(pixels), uid.JPEGBaseline8Bit, **tags)


def encoded(path: Path, pixels: Pixels, syntax: str, **tags: Any) -> Path:
    """A file compressed by one of pydicom's encoders (RLE, JPEG-LS, JPEG 2000)."""
    data = us_header(pixels, **tags)
    options: dict[str, Any] = {
        "rows": data.Rows,
        "columns": data.Columns,
        "number_of_frames": 1,
        "samples_per_pixel": data.SamplesPerPixel,
        "bits_allocated": data.BitsAllocated,
        "bits_stored": data.BitsStored,
        "photometric_interpretation": data.PhotometricInterpretation,
        "pixel_representation": data.PixelRepresentation,
    }
    if pixels.ndim == 4:
        options["planar_configuration"] = 0
    if syntax == uid.JPEG2000:
        options["j2k_psnr"] = [45]
    if syntax == uid.JPEGLSNearLossless:
        options["jls_error"] = 2
    encoder = get_encoder(uid.UID(syntax))
    codes = [encoder.encode(frame.tobytes(), **options) for frame in pixels]
    return fragmented(path, pixels, codes, syntax, **tags)


def video_bytes(pixels: Pixels, codec: str, container: str, rate_hz: int = 25, **options: str) -> bytes:
    """A video of RGB frames, encoded by FFmpeg's libraries."""
    out = io.BytesIO()
    with av.open(out, "w", format=container) as file:
        stream: Any = file.add_stream(codec, rate=rate_hz)
        stream.height, stream.width = pixels.shape[1:3]
        stream.pix_fmt = options.pop("pix_fmt", "yuv420p")
        stream.thread_count = 1
        stream.options = options
        for frame in pixels:
            file.mux(stream.encode(av.VideoFrame.from_ndarray(np.ascontiguousarray(frame), format="rgb24")))
        file.mux(stream.encode())
    return out.getvalue()


def video_in_dicom(path: Path, pixels: Pixels, payload: bytes, syntax: str, **tags: Any) -> Path:
    """A DICOM file whose only fragment is a whole video."""
    data = us_header(pixels, **({"PhotometricInterpretation": "YBR_PARTIAL_420"} | tags))
    data.PixelData = encapsulate([payload], has_bot=False)
    data["PixelData"].VR = "OB"
    data["PixelData"].is_undefined_length = True
    return write_dicom(path, data, syntax)


def deflated(path: Path, pixels: Pixels, **tags: Any) -> Path:
    """A file whose data set is deflated as a whole (PS3.5 A.5)."""
    data = us_header(pixels, **tags)
    data.PixelData = pixels.tobytes()
    data["PixelData"].VR = "OB"
    return write_dicom(path, data, _DEFLATED)


def raw_deflate(data: bytes) -> bytes:
    """Deflate without a zlib header."""
    packer = zlib.compressobj(wbits=-zlib.MAX_WBITS)
    return packer.compress(data) + packer.flush()


def pydicom_file(name: str) -> Path:
    """One of the files that pydicom ships for tests."""
    return Path(str(get_testdata_file(name)))


def item_of(path: Path) -> Item:
    """The item that gathering this file would give."""
    with path.open("rb") as file:
        return Item(path=path, name=path.name, kind=sniff(file.read(HEAD_BYTES)))


def clip_of(path: Path, limits: Limits = LIMITS) -> Clip:
    """The one clip of a file; fails with the refusal when there is none."""
    probed = probe_item(item_of(path), limits)
    assert not probed.refused, str(probed.refused[0])
    assert len(probed.clips) == 1
    return probed.clips[0]


def pixels_of(path: Path, size: int = 4, limits: Limits = LIMITS) -> NDArray[np.uint8]:
    """All frames of a file as one array."""
    clip = clip_of(path, limits)
    with open_frames(item_of(path), clip, limits) as frames:
        return np.concatenate([chunk.pixels.copy() for chunk in frames.chunks(size)])


def read_until_damage(path: Path, size: int = 4) -> tuple[list[NDArray[np.uint8]], FrameDamageError | None]:
    """The chunks that a damaged file delivers, and the error that ended them."""
    got: list[NDArray[np.uint8]] = []
    with open_frames(item_of(path), clip_of(path), LIMITS) as frames:
        try:
            for chunk in frames.chunks(size):
                got.append(chunk.pixels.copy())
        except FrameDamageError as error:
            return got, error
    return got, None


__all__ = ["Item", "Kind", "Limits"]
