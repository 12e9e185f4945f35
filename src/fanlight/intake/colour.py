"""Colour spaces of DICOM pictures, turned into RGB."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]


def ybr_full_to_rgb(ybr: Pixels) -> Pixels:
    """Return RGB of YBR_FULL pixels, shape (row, col, 3).

    PS3.3 C.7.6.3.1.2, which takes over the full-range equations of ITU-R BT.601 as JFIF uses them.
    """
    # OpenCV orders the chroma Cr, Cb; its constants are those of the standard, rounded to 14 bits.
    swapped = np.ascontiguousarray(ybr[..., [0, 2, 1]])
    return np.asarray(cv2.cvtColor(swapped, cv2.COLOR_YCrCb2RGB), dtype=np.uint8)


def ybr_partial_to_rgb(ybr: Pixels) -> Pixels:
    """Return RGB of YBR_PARTIAL pixels, shape (row, col, 3): luma 16 to 235, chroma 16 to 240 (PS3.3 C.7.6.3.1.2)."""
    luma = (ybr[..., 0].astype(np.float32) - 16.0) * (255.0 / 219.0)
    blue = (ybr[..., 1].astype(np.float32) - 128.0) * (255.0 / 224.0)
    red = (ybr[..., 2].astype(np.float32) - 128.0) * (255.0 / 224.0)
    # ITU-R BT.601: luma = 0.299 R + 0.587 G + 0.114 B
    out = np.stack(
        (luma + 1.402 * red, luma - (0.114 * 1.772 * blue + 0.299 * 1.402 * red) / 0.587, luma + 1.772 * blue), axis=-1
    )
    levels: Pixels = np.rint(np.clip(out, 0, 255)).astype(np.uint8)
    return levels


def planes_to_pixels(planes: NDArray[np.generic]) -> NDArray[np.generic]:
    """Return pixels with the channel last, shape (row, col, 3), from three planes, shape (3, row, col)."""
    return np.moveaxis(planes, 0, -1)
