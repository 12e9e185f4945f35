"""The part of a mask that is not empty, so cut that its connected pieces are numbered as those of the whole."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray


def inked_corner(mask: NDArray[Any]) -> tuple[NDArray[Any], int, int]:
    """Return the box round all that is not 0, and its first row and column in the mask; it may hold no pixel.

    Parameters
    ----------
    mask : ndarray of shape (row, col)
        Of bytes.

    Notes
    -----
    Row and column are even: OpenCV finds connected pieces by squares of 2 × 2 pixels, and so gives those of the box the
    numbers that it gives those of the whole mask. The numbers tell their order, and which of two equal ones is first.
    """
    col0, row0, width, height = cv2.boundingRect(np.asarray(mask, np.uint8))
    top, left = row0 & ~1, col0 & ~1
    return mask[top : row0 + height, left : col0 + width], top, left
