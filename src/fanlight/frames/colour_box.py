"""Where coloured Doppler is painted inside the picture."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.inked_corner import inked_corner
from fanlight.study import Box, Picture

# Largest minus smallest of red, green and blue from which a pixel counts as coloured. Chroma subsampling and
# compression leave some 20 levels on grey echoes (engineering judgement).
CHROMA_LEVEL = 45
_FRAMES_USED = 12
_MIN_AREA_FRACTION = 0.001  # of the picture: less is a mark or a caliper


def picture_mask(picture: Picture, rows: int, cols: int) -> NDArray[np.uint8]:
    """Return 1 inside the picture and 0 elsewhere, (row, col)."""
    outline = np.array(
        [picture.point(0.0, t) for t in np.linspace(0, 1, 48)] + [picture.point(1.0, t) for t in np.linspace(1, 0, 48)]
    )
    mask = np.zeros((rows, cols), np.uint8)
    cv2.fillPoly(mask, [np.round(np.clip(outline[:, ::-1], -30000, 30000)).astype(np.int32)], 1)
    return mask


def chroma(frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the largest minus the smallest of red, green and blue, (row, col)."""
    red, green, blue = cv2.split(frame)
    return np.asarray(cv2.subtract(cv2.max(cv2.max(red, green), blue), cv2.min(cv2.min(red, green), blue)), np.uint8)


def coloured_pixels(pixels: NDArray[np.uint8], picture: Picture) -> NDArray[np.uint8]:
    """Return 1 where a pixel inside the picture was coloured in any frame looked at, (row, col).

    Parameters
    ----------
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        Grey frames hold no colour.
    picture : Sector or Strip
    """
    rows, cols = pixels.shape[1:3]
    if pixels.ndim == 3:
        return np.zeros((rows, cols), np.uint8)
    coloured = picture_mask(picture, rows, cols)
    col0, row0, width, height = cv2.boundingRect(coloured)
    if not width:
        return coloured
    box = np.s_[row0 : row0 + height, col0 : col0 + width]
    used = np.unique(np.linspace(0, len(pixels) - 1, min(len(pixels), _FRAMES_USED)).astype(int))
    most = chroma(pixels[used[0]][box])
    for index in used[1:]:
        cv2.max(most, chroma(pixels[index][box]), dst=most)
    coloured[box] &= most >= CHROMA_LEVEL
    return coloured


def find_colour_box(pixels: NDArray[np.uint8], picture: Picture) -> Box | None:
    """Return the upright box round the coloured Doppler inside the picture, or None.

    Lone pixels and thin marks (calipers, labels) are left out. The box holds what was coloured in the frames given:
    the drawn outline of the machine's box may be larger where no flow reached its rim. A picture painted in one
    tint all over holds no colour box.
    """
    mask = coloured_pixels(pixels, picture)
    inside = cv2.countNonZero(picture_mask(picture, *mask.shape))
    if inside == 0:
        return None
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    if not _MIN_AREA_FRACTION * inside <= cv2.countNonZero(opened) <= 0.85 * inside:
        return None
    joined, row0, col0 = inked_corner(np.asarray(cv2.dilate(opened, np.ones((9, 9), np.uint8)), np.uint8))
    if joined.size == 0:
        return None
    _, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    areas = stats[:, cv2.CC_STAT_AREA]
    is_kept = areas >= 0.05 * areas[1:].max()
    is_kept[0] = False
    of_pieces = is_kept.astype(np.uint8).take(labels)
    col, row, width, height = cv2.boundingRect(of_pieces & opened[row0:, col0:][: joined.shape[0], : joined.shape[1]])
    return Box(row0=row0 + row, col0=col0 + col, row1=row0 + row + height, col1=col0 + col + width)
