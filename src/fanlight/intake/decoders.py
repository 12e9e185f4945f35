"""Which decoder reads which transfer syntax, and what is said when there is none."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from pydicom import uid
from pydicom.pixels.decoders.base import get_decoder

from fanlight.intake.chunked import WriteFrame
from fanlight.intake.dicom_form import VIDEO_SYNTAXES, PixelForm
from fanlight.intake.dicom_header import NATIVE, DicomSource, uid_name
from fanlight.intake.grey_levels import Levels, grey_table, palette_table
from fanlight.intake.jpeg_frames import jpeg_frames
from fanlight.intake.limits import Limits
from fanlight.intake.native_frames import native_frames
from fanlight.intake.plugin_frames import JPEG_2000, JPEG_LOSSLESS, JPEG_LS, plugin_frames
from fanlight.intake.refused import FileRefusedError
from fanlight.intake.video_frames import payload_of, video_frames

_PLUGINS = JPEG_2000 | JPEG_LS | JPEG_LOSSLESS | {uid.RLELossless}
_UNCOMPRESSED = "Export the clip without compression, or with JPEG or RLE compression."


def _uses_simplejpeg(syntax: str, form: PixelForm) -> bool:
    """JPEG with 8-bit samples; the extended process (…4.51) often carries 8 bits too."""
    return syntax == uid.JPEGBaseline8Bit or (syntax == uid.JPEGExtended12Bit and form.bits_stored == 8)


def refuse_syntax(source: DicomSource, form: PixelForm) -> None:
    """Let the transfer syntaxes pass that can be decoded here.

    Raises
    ------
    FileRefusedError
        For every other one; its remedy names the extra that would help.
    """
    syntax = source.transfer_syntax
    if syntax in NATIVE or syntax in VIDEO_SYNTAXES or _uses_simplejpeg(syntax, form):
        return
    name = uid_name(syntax)
    if syntax in _PLUGINS or syntax == uid.JPEGExtended12Bit:
        if get_decoder(uid.UID(syntax)).is_available:
            return
        remedy = 'Install the extra that reads it: pip install "fanlight[jpeg-lossless]". ' + _UNCOMPRESSED
        raise FileRefusedError(source.name, "a compression that can be read here", name, remedy, "header")
    raise FileRefusedError(source.name, "a compression that can be read", name, _UNCOMPRESSED, "header")


def is_colour(form: PixelForm, palette: Levels | None) -> bool:
    """Whether the frames are handed on in colour: by declaration, or by a palette whose entries are not all grey."""
    if palette is not None:
        return bool(np.any(palette != palette[:, :1]))
    return form.samples == 3


def writers_of(source: DicomSource, form: PixelForm, limits: Limits) -> tuple[Callable[[], Iterator[WriteFrame]], bool]:
    """Return what starts the frames of a file, and whether they come in colour."""
    table: Levels | None = None
    colour = form.samples == 3
    if form.photometric == "PALETTE COLOR":
        palette = palette_table(source.data, form)
        if palette is None:
            raise FileRefusedError(source.name, "the palette of a palette picture", "none", _UNCOMPRESSED, "header")
        colour = is_colour(form, palette)
        table = palette if colour else np.ascontiguousarray(palette[:, 0])
    elif form.samples == 1:
        table = grey_table(source.data, form)
    syntax = source.transfer_syntax
    if syntax in NATIVE:
        return lambda: native_frames(source, form, table), colour
    if syntax in VIDEO_SYNTAXES:
        stream, demuxer = payload_of(source)
        return lambda: video_frames(stream, demuxer, form.rows, form.cols, colour, limits), colour
    if _uses_simplejpeg(syntax, form):
        return lambda: jpeg_frames(source, form, table, limits), colour
    return lambda: plugin_frames(source, form, table, limits), colour
