"""Frames and time stamps of video files, and of videos inside DICOM, through FFmpeg's libraries."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import av
import numpy as np
from av.error import FFmpegError
from pydicom import uid

from fanlight.intake.chunked import Picture, WriteFrame
from fanlight.intake.dicom_header import DicomSource
from fanlight.intake.fragments import FragmentStream, list_fragments
from fanlight.intake.kinds import Kind, sniff
from fanlight.intake.limits import Limits
from fanlight.intake.refused import SEND_AGAIN, FileRefusedError
from fanlight.intake.sign_of_life import SignOfLife
from fanlight.study import FrameDamageError

# The demuxer is chosen here and never guessed: a guess could take a hostile text for a playlist that names other files.
_DEMUXERS = {Kind.MP4: "mp4", Kind.AVI: "avi", Kind.MATROSKA: "matroska", Kind.WMV: "asf"}
_MPEG2 = frozenset({uid.MPEG2MPML, uid.MPEG2MPMLF, uid.MPEG2MPHL, uid.MPEG2MPHLF})
_HEVC = frozenset({uid.HEVCMP51, uid.HEVCM10P51})


@dataclass(frozen=True, slots=True, kw_only=True)
class VideoFacts:
    """What the container says, without a frame decoded."""

    rows: int
    cols: int
    n_frames: int
    is_colour: bool
    times_ms: tuple[float, ...]  # () when the container gives none
    nominal_hz: float | None
    codec: str
    pixel_aspect: tuple[int, int] | None  # height, width of a pixel; None: square or not stated
    is_cut_short: bool  # the container promises more frames than are there


def demuxer_of(kind: Kind, head: bytes, syntax: str = "") -> str:
    """Return FFmpeg's name of the container, told by its first bytes; a bare stream by the DICOM transfer syntax."""
    if kind in _DEMUXERS:
        return _DEMUXERS[kind]
    if head[:1] == b"\x47":
        return "mpegts"
    if head[:4] == b"\x00\x00\x01\xba":
        return "mpeg"
    if syntax in _HEVC:
        return "hevc"
    if syntax in _MPEG2 or (kind is Kind.MPEG and not syntax):
        return "mpegvideo"
    return "h264"


@contextmanager
def _open_video(file: IO[bytes] | FragmentStream, demuxer: str, limits: Limits) -> Iterator[tuple[Any, Any]]:
    """Open container and first video stream; one thread, and no way to open anything else."""
    file.seek(0)
    with av.open(file, mode="r", format=demuxer, options={"protocol_whitelist": "none"}) as container:
        if not container.streams.video:
            raise ValueError("no moving picture in it")
        stream = container.streams.video[0]
        context = stream.codec_context
        if context is None:
            raise ValueError("a codec that is not known")
        context.thread_count = 1
        context.options = {"max_pixels": str(limits.picture_px)}
        yield container, stream


def probe_video(
    file: IO[bytes] | FragmentStream, demuxer: str, name: str, limits: Limits, tell: SignOfLife
) -> VideoFacts:
    """Read sizes and time stamps.

    Raises
    ------
    FileRefusedError
        If the container cannot be read or is larger than the limits.
    """
    stamps: list[int] = []
    n_packets = 0
    stamped = True
    try:
        with _open_video(file, demuxer, limits) as (container, stream):
            context = stream.codec_context
            rows, cols = int(context.height or 0), int(context.width or 0)
            promised = int(stream.frames or 0)
            nominal = float(stream.average_rate) if stream.average_rate else None
            base = float(stream.time_base) if stream.time_base else 0.0
            is_colour = not str(context.pix_fmt or "").startswith(("gray", "mono"))
            codec = str(context.name)
            aspect = stream.sample_aspect_ratio or context.sample_aspect_ratio
            # FFmpeg's ratio is width over height; 0 stands for unknown.
            pixel_aspect = (aspect.denominator, aspect.numerator) if aspect and aspect != 1 else None
            if rows < 1 or cols < 1:
                raise FileRefusedError(name, "a video with a picture size", "none", SEND_AGAIN)
            if rows > limits.rows or cols > limits.cols or rows * cols > limits.picture_px:
                raise FileRefusedError(
                    name, f"at most {limits.rows} x {limits.cols} pixels", f"{rows} rows x {cols} columns", SEND_AGAIN
                )
            try:
                for packet in container.demux(stream):
                    if not packet.size or packet.is_discard:
                        continue
                    n_packets += 1
                    tell(n_packets)
                    stamp = packet.pts if packet.pts is not None else packet.dts
                    stamped = stamped and stamp is not None
                    if stamp is not None:
                        stamps.append(stamp)
                    if n_packets > limits.frames:
                        raise FileRefusedError(
                            name, f"at most {limits.frames} frames", "more", "Export a shorter clip."
                        )
            except FFmpegError:
                promised = max(promised, n_packets + 1)  # what came before the damage is used
    except FFmpegError as error:
        raise FileRefusedError(name, "a video that can be read", _words(error), SEND_AGAIN) from error
    except (ValueError, TypeError, LookupError, ZeroDivisionError, OverflowError) as error:
        if isinstance(error, FileRefusedError):
            raise
        raise FileRefusedError(name, "a video that can be read", str(error), SEND_AGAIN) from error
    if n_packets == 0:
        raise FileRefusedError(name, "a video with frames", "none", SEND_AGAIN)
    stamps.sort()
    times = tuple((stamp - stamps[0]) * base * 1000.0 for stamp in stamps) if stamped and base > 0 else ()
    return VideoFacts(
        rows=rows,
        cols=cols,
        n_frames=n_packets,
        is_colour=is_colour,
        times_ms=times if len(set(times)) == len(times) else (),
        nominal_hz=nominal,
        codec=codec,
        pixel_aspect=pixel_aspect,
        is_cut_short=promised > n_packets,
    )


def _words(error: FFmpegError) -> str:
    return f"damaged ({error.strerror or type(error).__name__})"


def video_frames(
    file: IO[bytes] | FragmentStream, demuxer: str, rows: int, cols: int, is_colour: bool, limits: Limits
) -> Iterator[WriteFrame]:
    """Yield one writer a frame, in the order in which they are shown.

    Raises
    ------
    FrameDamageError
        At the first frame that cannot be decoded.
    """
    wanted = "rgb24" if is_colour else "gray"
    index = 0
    first_ms: float | None = None
    try:
        with _open_video(file, demuxer, limits) as (container, stream):
            for frame in container.decode(stream):
                if (frame.height, frame.width) != (rows, cols):
                    raise FrameDamageError(
                        index, f"a picture of {frame.height} x {frame.width} pixels where {rows} x {cols} are stated"
                    )
                now_ms = None if frame.time is None else float(frame.time) * 1000.0
                first_ms = now_ms if first_ms is None else first_ms
                elapsed_ms = None if now_ms is None or first_ms is None else now_ms - first_ms

                def write(out: Picture, frame: Any = frame, elapsed_ms: float | None = elapsed_ms) -> float | None:
                    np.copyto(out, frame.to_ndarray(format=wanted))
                    return elapsed_ms

                yield write
                index += 1
    except FFmpegError as error:
        raise FrameDamageError(index, _words(error)) from error
    except (ValueError, TypeError, LookupError) as error:
        if isinstance(error, FrameDamageError):
            raise
        raise FrameDamageError(index, str(error)) from error


def payload_of(source: DicomSource) -> tuple[FragmentStream, str]:
    """Return the video inside a DICOM file as one stream, and its demuxer (PS3.5 8.2.5 to 8.2.8)."""
    fragments, _ = list_fragments(source)
    stream = FragmentStream(source.file, fragments)
    head = stream.read(512) or b""
    stream.seek(0)
    kind = sniff(head)
    return stream, demuxer_of(kind if kind is Kind.MP4 else Kind.UNKNOWN, head, source.transfer_syntax)


def demuxer_of_file(path: Path, kind: Kind) -> str:
    """Return FFmpeg's name of the container of a file whose kind is known."""
    with path.open("rb") as file:
        return demuxer_of(kind, file.read(512))
