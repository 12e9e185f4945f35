"""The same frames in every transfer syntax that can be written here, each beside the decoder that reads it bare.

"Bare" is a loop over code streams that lie in memory, by the library that Fanlight itself stands on: no header
is read, nothing is checked, and nothing is copied that the library does not copy. All times are processor times,
which other work on the machine hardly disturbs; with one thread and the files in memory they are times to wait.
"""

from __future__ import annotations

import importlib
import importlib.util
import io
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from pydicom import dcmread, uid
from pydicom.encaps import generate_frames

from tests.intake import dicom_files as files

Pixels = NDArray[np.uint8]
_SLOW_FRAMES = 12  # of the syntaxes that take 50 ms a frame and more
_HAS_GDCM = importlib.util.find_spec("gdcm") is not None
# None of them says what types it takes and gives.
_JPEG_LS: Any = importlib.import_module("jpeg_ls")
_OPENJPEG: Any = importlib.import_module("openjpeg")
_RLE: Any = importlib.import_module("rle")
_GDCM: Any = importlib.import_module("gdcm") if _HAS_GDCM else None


@dataclass(frozen=True, kw_only=True)
class Syntax:
    """One way to store a clip."""

    words: str
    bare_words: str
    n_frames: int
    write: Callable[[Path, Pixels], Path]
    bare_seconds: Callable[[Path, int], float]


def codes_of(path: Path) -> list[bytes]:
    """Return the code streams of a compressed file, one a frame."""
    data = dcmread(path)
    return list(generate_frames(data.PixelData, number_of_frames=int(data.NumberOfFrames)))


def bare_jpeg_seconds(codes: list[bytes], rows: int, cols: int) -> float:
    """Return how long it takes to decode JPEG baseline streams to RGB, into one buffer."""
    buffer = np.empty((rows, cols, 3), np.uint8)
    start = time.process_time()
    for code in codes:
        simplejpeg.decode_jpeg(code, "RGB", buffer=buffer)
    return time.process_time() - start


def _timed(decode: Callable[[bytes], object]) -> Callable[[Path, int], float]:
    def seconds(path: Path, n_frames: int) -> float:
        codes = codes_of(path)[:n_frames]
        start = time.process_time()
        for code in codes:
            decode(code)
        return time.process_time() - start

    return seconds


def _bare_jpeg(path: Path, n_frames: int) -> float:
    data = dcmread(path, stop_before_pixels=True)
    return bare_jpeg_seconds(codes_of(path)[:n_frames], data.Rows, data.Columns)


def _bare_native(swap: bool) -> Callable[[Path, int], float]:
    """One read a frame into a buffer, and for words in big endian the swap of their bytes."""

    def seconds(path: Path, n_frames: int) -> float:
        data = dcmread(path, defer_size=1024)
        frame_bytes = data.Rows * data.Columns * data.SamplesPerPixel
        buffer = bytearray(frame_bytes)
        swapped = np.empty(frame_bytes // 2, np.uint16)
        start = time.process_time()
        with path.open("rb", buffering=0) as file:
            file.seek(path.stat().st_size - n_frames * frame_bytes)  # the pixels end the files written here
            for _ in range(n_frames):
                file.readinto(buffer)
                if swap:
                    swapped[:] = np.frombuffer(buffer, np.uint16).byteswap()
        return time.process_time() - start

    return seconds


def _bare_video(path: Path, n_frames: int) -> float:
    payload = b"".join(generate_frames(dcmread(path).PixelData, number_of_frames=1))
    start = time.process_time()
    with av.open(io.BytesIO(payload), "r") as container:
        stream = container.streams.video[0]
        stream.thread_count = 1
        n = sum(len(frame.to_ndarray(format="rgb24")) > 0 for frame in container.decode(stream))
    assert n == n_frames, f"{n} frames in the video, {n_frames} were written"
    return time.process_time() - start


def _bare_gdcm(path: Path, n_frames: int) -> float:
    start = time.process_time()
    reader = _GDCM.ImageReader()
    reader.SetFileName(str(path))
    assert reader.Read()
    assert len(reader.GetImage().GetBuffer()) > n_frames
    return time.process_time() - start


def _jpeg_lossless(path: Path, pixels: Pixels) -> Path:
    plain = files.native(path.with_suffix(".plain"), pixels)
    reader = _GDCM.ImageReader()
    reader.SetFileName(str(plain))
    assert reader.Read()
    change = _GDCM.ImageChangeTransferSyntax()
    change.SetTransferSyntax(_GDCM.TransferSyntax(_GDCM.TransferSyntax.JPEGLosslessProcess14_1))
    change.SetInput(reader.GetImage())
    assert change.Change()
    writer = _GDCM.ImageWriter()
    writer.SetFileName(str(path))
    writer.SetFile(reader.GetFile())
    writer.SetImage(change.GetOutput())
    assert writer.Write()
    return path


def _encoded(syntax: str) -> Callable[[Path, Pixels], Path]:
    return lambda path, pixels: files.encoded(path, pixels, syntax)


def _video(codec: str, container: str, syntax: str, **options: Any) -> Callable[[Path, Pixels], Path]:
    def write(path: Path, pixels: Pixels) -> Path:
        return files.video_in_dicom(path, pixels, files.video_bytes(pixels, codec, container, **options), syntax)

    return write


def _openjpeg(code: bytes) -> Any:
    return _OPENJPEG.decode_pixel_data(code, version=2)


def _jpeg_ls(code: bytes) -> Any:
    return _JPEG_LS.decode_pixel_data(code)


def all_syntaxes(n_frames: int, rows: int, cols: int) -> Iterator[Syntax]:
    """Yield every syntax, fast ones with `n_frames` frames."""

    def unpack(code: bytes) -> Any:
        return _RLE.decode_pixel_data(
            code, version=2, rows=rows, columns=cols, bits_allocated=8, samples_per_pixel=3, byteorder="<"
        )

    def one(
        words: str,
        bare_words: str,
        write: Callable[[Path, Pixels], Path],
        bare: Callable[[Path, int], float],
        is_slow: bool = False,
    ) -> Syntax:
        frames = min(n_frames, _SLOW_FRAMES) if is_slow else n_frames
        return Syntax(words=words, bare_words=bare_words, n_frames=frames, write=write, bare_seconds=bare)

    little, big = uid.ExplicitVRLittleEndian, uid.ExplicitVRBigEndian
    yield one("uncompressed, little endian", "file read", lambda p, x: files.native(p, x, little), _bare_native(False))
    yield one(
        "uncompressed, big endian, words",
        "file read, numpy swap",
        lambda p, x: files.native(p, x, big, in_words=True),
        _bare_native(True),
    )
    yield one("RLE lossless", "pylibjpeg-rle", _encoded(uid.RLELossless), _timed(unpack))
    yield one("JPEG baseline 4:2:2", "simplejpeg", files.jpeg_baseline, _bare_jpeg)
    yield one("JPEG-LS lossless", "pyjpegls", _encoded(uid.JPEGLSLossless), _timed(_jpeg_ls), is_slow=True)
    yield one("JPEG 2000 lossless", "pylibjpeg-openjpeg", _encoded(uid.JPEG2000Lossless), _timed(_openjpeg), True)
    yield one("JPEG 2000, 45 dB", "pylibjpeg-openjpeg", _encoded(uid.JPEG2000), _timed(_openjpeg), True)
    yield one(
        "H.264 in MPEG-TS (…4.102)",
        "PyAV, 1 thread",
        _video("libx264", "mpegts", uid.MPEG4HP41, preset="veryfast", crf="20"),
        _bare_video,
    )
    yield one(
        "MPEG-2 (…4.100)", "PyAV, 1 thread", _video("mpeg2video", "mpeg", uid.MPEG2MPML, b="20000000"), _bare_video
    )
    if _HAS_GDCM:
        yield one("JPEG lossless (extra)", "GDCM", _jpeg_lossless, _bare_gdcm)
