"""Open the pixels of one clip, a chunk at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack

from fanlight.intake.chunked import ChunkedFrames, WriteFrame
from fanlight.intake.decoders import refuse_syntax, writers_of
from fanlight.intake.dicom_form import VIDEO_SYNTAXES, read_form
from fanlight.intake.dicom_header import open_dicom
from fanlight.intake.gather import Item
from fanlight.intake.gif_blocks import read_gif_blocks
from fanlight.intake.kinds import DICOMS, VIDEOS, Kind
from fanlight.intake.limits import Limits
from fanlight.intake.sign_of_life import SignOfLife, say_nothing
from fanlight.intake.still_frames import gif_frames, still_frames
from fanlight.intake.video_frames import demuxer_of_file, video_frames
from fanlight.study import Clip


def open_frames(item: Item, clip: Clip, limits: Limits, tell: SignOfLife = say_nothing) -> ChunkedFrames:
    """Open the frames of a clip; close them, or use them in a ``with`` block.

    Parameters
    ----------
    item : Item
        Where the clip lies.
    clip : Clip
        As `probe_item` returned it for that item.
    limits : Limits
        What is too large.
    tell : callable, optional
        Called after each frame with the number decoded so far: a sign of life.

    Returns
    -------
    ChunkedFrames
        A `Frames`: 8-bit grey or RGB; at most `limits.chunk_bytes` of pixels are in memory at once.

    Raises
    ------
    FileRefusedError
        If the file is no longer what was probed.
    """
    if item.kind in DICOMS:
        return _dicom_frames(item, limits, tell)

    def chunked(
        start: Callable[[], Iterator[WriteFrame]], on_close: Callable[[], None] = lambda: None, is_counted: bool = False
    ) -> ChunkedFrames:
        return ChunkedFrames(
            rows=clip.rows,
            cols=clip.cols,
            n_frames=clip.n_frames,
            is_colour=clip.is_colour,
            start=start,
            chunk_bytes=limits.chunk_bytes,
            may_end_early=is_counted,
            on_close=on_close,
            tell=tell,
        )

    if item.kind in VIDEOS:
        file = item.path.open("rb")
        demuxer = demuxer_of_file(item.path, item.kind)
        return chunked(
            lambda: video_frames(file, demuxer, clip.rows, clip.cols, clip.is_colour, limits),
            on_close=file.close,
            is_counted=True,
        )
    if item.kind is Kind.GIF:
        with item.path.open("rb") as blocks:
            delays_ms = read_gif_blocks(blocks, limits.frames).delays_ms
        starts_ms = tuple(float(sum(delays_ms[:index])) for index in range(len(delays_ms)))
        return chunked(lambda: gif_frames(item.path, starts_ms))
    return chunked(lambda: still_frames(item.path, item.kind, clip.rows, clip.cols, clip.is_colour))


def _dicom_frames(item: Item, limits: Limits, tell: SignOfLife) -> ChunkedFrames:
    with ExitStack() as stack:
        source = stack.enter_context(open_dicom(item.path, item.name, item.kind, limits))
        form = read_form(source, limits)
        refuse_syntax(source, form)
        start, colour = writers_of(source, form, limits)
        return ChunkedFrames(
            rows=form.rows,
            cols=form.cols,
            n_frames=form.n_frames,
            is_colour=colour,
            start=start,
            chunk_bytes=limits.chunk_bytes,
            may_end_early=source.transfer_syntax in VIDEO_SYNTAXES,
            on_close=stack.pop_all().close,
            tell=tell,
        )
