"""Draw words on a screen, and say in which pixels they stand."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fanlight.simulate.screen.screen_layout import Align, Ink, Lettering, Typeface
from fanlight.study import Box

_OPENCV_FACES = {
    Typeface.PLAIN: ("sans", 400),
    Typeface.HEAVY: ("sans", 700),
    Typeface.SLANTED: ("italic", 400),
    Typeface.NARROW: ("uni", 400),
}
_PIXELS_ABOVE_PX = 9  # rows of Pillow's letters of whole pixels above their baseline, counted on the letters themselves
_SEEN = 64  # of 255: fainter rims of a letter are not counted to its box (engineering judgement)


@lru_cache(maxsize=1024)
def _mask(text: str, typeface: Typeface, height_px: int) -> tuple[NDArray[np.uint8], int]:
    """Coverage of each pixel, cut to the ink, and the row of the baseline in it (it may lie below)."""
    pad = 2 * height_px
    rows, cols = 5 * height_px, 2 * pad + 2 * height_px * (len(text) + 2)
    canvas = np.zeros((rows, cols), np.uint8)
    baseline = 3 * height_px
    if typeface in _OPENCV_FACES:
        name, weight = _OPENCV_FACES[typeface]
        size = _opencv_size(typeface, height_px)
        cv2.putText(canvas, text, (pad, baseline), (255,), cv2.FontFace(name), size, weight)
    else:
        image = Image.fromarray(canvas)
        face = _pillow_face(typeface, height_px)
        if isinstance(face, ImageFont.FreeTypeFont):
            ImageDraw.Draw(image).text((pad, baseline), text, fill=255, font=face, anchor="ls")
        else:
            ImageDraw.Draw(image).text((pad, baseline - _PIXELS_ABOVE_PX), text, fill=255, font=face)
        canvas = np.asarray(image)
    hit = canvas >= _SEEN
    if not hit.any():
        raise ValueError(f"the words {text!r} have no letters that {typeface} can draw; choose others")
    down, across = np.flatnonzero(hit.any(axis=1)), np.flatnonzero(hit.any(axis=0))
    cut = canvas[down[0] : down[-1] + 1, across[0] : across[-1] + 1].copy()
    cut.setflags(write=False)
    return cut, baseline - int(down[0])


@lru_cache(maxsize=64)
def _opencv_size(typeface: Typeface, height_px: int) -> int:
    """The size at which a capital letter is as high as asked."""
    name, weight = _OPENCV_FACES[typeface]

    def capital_px(size: int) -> int:
        canvas = np.zeros((3 * size, 3 * size), np.uint8)
        cv2.putText(canvas, "H", (size // 2, 2 * size), (255,), cv2.FontFace(name), size, weight)
        return int(np.count_nonzero((canvas >= _SEEN).any(axis=1)))

    return min(range(height_px, 3 * height_px), key=lambda size: (abs(capital_px(size) - height_px), size))


@lru_cache(maxsize=64)
def _pillow_face(typeface: Typeface, height_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    if typeface is Typeface.PIXELS:
        return ImageFont.load_default_imagefont()

    def capital_px(size: int) -> int:
        face = ImageFont.load_default(size)
        return round(face.getbbox("H", anchor="ls")[3] - face.getbbox("H", anchor="ls")[1])

    sizes = range(height_px, 3 * height_px)
    return ImageFont.load_default(min(sizes, key=lambda size: (abs(capital_px(size) - height_px), size)))


def words_size_px(text: str, lettering: Lettering) -> tuple[int, int]:
    """Return height and width of the ink of a line of words."""
    mask, _ = _mask(text, lettering.typeface, lettering.height_px)
    return mask.shape[0], mask.shape[1]


def draw_words(
    canvas: NDArray[np.uint8], text: str, row_px: int, col_px: int, lettering: Lettering, align: Align = Align.LEFT
) -> Box:
    """Draw a line of words onto an RGB canvas, in place, and return the box round its ink.

    Parameters
    ----------
    canvas : ndarray of shape (row, col, 3)
        Changed in place.
    text : str
        One line.
    row_px : int
        Of the baseline.
    col_px : int
        Left end, middle or right end of the ink, as `align` says.

    Raises
    ------
    ValueError
        If the words run off the canvas: a layout has no room for them.
    """
    mask, above = _mask(text, lettering.typeface, lettering.height_px)
    height, width = mask.shape
    row0 = row_px - above
    col0 = {Align.LEFT: col_px, Align.CENTRE: col_px - width // 2, Align.RIGHT: col_px - width}[align]
    rows, cols = canvas.shape[:2]
    if row0 < 0 or col0 < 0 or row0 + height > rows or col0 + width > cols:
        raise ValueError(
            f"the words {text!r} need rows {row0}-{row0 + height} and columns {col0}-{col0 + width}, "
            f"the screen has {rows} and {cols}; shorten them or give the layout more room"
        )
    blend(canvas[row0 : row0 + height, col0 : col0 + width], mask, lettering.ink)
    return Box(row0=row0, col0=col0, row1=row0 + height, col1=col0 + width)


def blend(patch: NDArray[np.uint8], coverage: NDArray[np.uint8], ink: Ink) -> None:
    """Lay ink over a patch (row, col, 3), in place, as thick as the coverage (row, col) says."""
    share = coverage[..., None].astype(np.float32) / 255
    patch[:] = np.rint(patch * (1 - share) + np.asarray(ink, np.float32) * share).astype(np.uint8)
