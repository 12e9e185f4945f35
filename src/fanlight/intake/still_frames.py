"""Still pictures and animated GIFs, through Pillow."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from fanlight.intake.chunked import Picture, WriteFrame
from fanlight.intake.kinds import CONTAINER_WORDS, Kind
from fanlight.intake.limits import Limits
from fanlight.intake.refused import SEND_AGAIN, FileRefusedError
from fanlight.study import FrameDamageError

_GREY_MODES = frozenset({"1", "L", "LA", "I", "I;16", "I;16L", "I;16B", "I;16N"})
_DEEP_MODES = frozenset({"I", "I;16", "I;16L", "I;16B", "I;16N"})
_ORIENTATION = 0x0112  # TIFF/EP and Exif tag; 5 to 8 swap rows and columns
# What Pillow raises on damaged files; SyntaxError comes from its PNG and TIFF readers.
_DAMAGE = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    TypeError,
    LookupError,
    OverflowError,
    ZeroDivisionError,
    RuntimeError,
    AttributeError,
    Image.DecompressionBombError,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StillFacts:
    """What the header of a picture says."""

    rows: int
    cols: int
    is_colour: bool
    n_pages: int


@contextmanager
def _open_picture(path: Path, kind: Kind) -> Iterator[Image.Image]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow warns of large pictures; the limits refuse them earlier
        with Image.open(path, formats=[CONTAINER_WORDS[kind].upper()]) as picture:
            yield picture


def probe_still(path: Path, kind: Kind, name: str, limits: Limits) -> StillFacts:
    """Read size and mode, without decoding.

    Raises
    ------
    FileRefusedError
        If the header cannot be read or the picture is larger than the limits.
    """
    try:
        with _open_picture(path, kind) as picture:
            cols, rows = picture.size
            if picture.mode == "F":
                raise FileRefusedError(name, "a picture of 8 or 16 bits", "floating-point numbers", SEND_AGAIN)
            is_colour = picture.mode not in _GREY_MODES
            if kind is Kind.JPEG and picture.getexif().get(_ORIENTATION) in (5, 6, 7, 8):
                rows, cols = cols, rows
            n_pages = int(getattr(picture, "n_frames", 1)) if kind in (Kind.TIFF, Kind.WEBP, Kind.PNG) else 1
    except UnidentifiedImageError as error:
        raise FileRefusedError(name, f"a {CONTAINER_WORDS[kind]} picture", "a damaged header", SEND_AGAIN) from error
    except FileRefusedError:
        raise
    except Image.DecompressionBombError as error:
        raise FileRefusedError(
            name, f"a picture of at most {limits.picture_px / 1e6:g} million pixels", "a larger one", SEND_AGAIN
        ) from error
    except _DAMAGE as error:
        raise FileRefusedError(
            name, f"a {CONTAINER_WORDS[kind]} picture", f"a damaged one ({type(error).__name__})", SEND_AGAIN
        ) from error
    if rows > limits.rows or cols > limits.cols or rows * cols > limits.picture_px:
        raise FileRefusedError(
            name,
            f"at most {limits.rows} x {limits.cols} pixels and {limits.picture_px / 1e6:g} million in all",
            f"{rows} rows x {cols} columns",
            "Save the picture smaller, or export it from the machine.",
        )
    return StillFacts(rows=rows, cols=cols, is_colour=is_colour, n_pages=n_pages)


def _pixels(picture: Image.Image, is_colour: bool) -> Picture:
    if picture.mode in _DEEP_MODES:
        values = np.asarray(picture).astype(np.int64)
        return (np.clip(values, 0, 65535) >> 8).astype(np.uint8)  # 16 bits to 8 by the high byte
    return np.asarray(picture.convert("RGB" if is_colour else "L"))


def still_frames(path: Path, kind: Kind, rows: int, cols: int, is_colour: bool) -> Iterator[WriteFrame]:
    """Yield the writer of the one picture (the first page, where there are several)."""

    def write(out: Picture) -> None:
        try:
            with _open_picture(path, kind) as picture:
                upright = ImageOps.exif_transpose(picture) if kind is Kind.JPEG else picture
                pixels = _pixels(upright, is_colour)
        except _DAMAGE as error:
            raise FrameDamageError(0, str(error) or type(error).__name__) from error
        if pixels.shape[:2] != (rows, cols):
            raise FrameDamageError(0, f"decoded to {pixels.shape[:2]}, expected {(rows, cols)}")
        np.copyto(out, pixels)

    yield write


def gif_frames(path: Path, times_ms: tuple[float, ...]) -> Iterator[WriteFrame]:
    """Yield one writer a frame of an animated GIF, in colour; `times_ms` has one entry a frame."""
    try:
        with _open_picture(path, Kind.GIF) as picture:
            for index, time_ms in enumerate(times_ms):
                try:
                    picture.seek(index)
                    pixels = np.asarray(picture.convert("RGB"))
                except _DAMAGE as error:
                    raise FrameDamageError(index, str(error) or type(error).__name__) from error

                def write(
                    out: Picture, pixels: Picture = pixels, index: int = index, time_ms: float = time_ms
                ) -> float:
                    if pixels.shape != out.shape:
                        raise FrameDamageError(index, f"decoded to {pixels.shape[:2]}, expected {out.shape[:2]}")
                    np.copyto(out, pixels)
                    return time_ms

                yield write
    except FrameDamageError:
        raise
    except _DAMAGE as error:
        raise FrameDamageError(0, str(error) or type(error).__name__) from error
