"""The picture of a clip as the picture network wants it: true to scale in a small square, whatever the screen was."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Sector

SIDE_PX = 160
MARGIN_PX = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Square:
    """Where a picture lies in the square, and how large a pixel of it is beside one row of the screen."""

    sector: Sector
    rows_per_px: float  # rows of the screen under one pixel of the square

    def to_screen(self, points_px: NDArray[np.float64], screen: Sector) -> NDArray[np.float64]:
        """Return points (..., 2) of the square as (row, col) of the screen."""
        away = (points_px - [self.sector.apex_row_px, self.sector.apex_col_px]) * self.rows_per_px
        return np.asarray(away * [1.0, 1.0 / screen.col_stretch] + [screen.apex_row_px, screen.apex_col_px])


def square_of(picture: Sector, side_px: int = SIDE_PX) -> Square:
    """Return the largest true-to-scale place of a picture in a square."""
    angles = np.radians([picture.left_deg, picture.right_deg, min(max(0.0, picture.left_deg), picture.right_deg)])
    left = float(min(picture.far_px * np.sin(angles).min(), picture.near_px * np.sin(angles).min()))
    right = float(max(picture.far_px * np.sin(angles).max(), picture.near_px * np.sin(angles).max()))
    top = float(picture.near_px * np.cos(angles).min())
    bottom = float(picture.far_px * np.cos(angles).max())
    free = side_px - 2 * MARGIN_PX
    rows = max(right - left, bottom - top) / free
    sector = Sector(
        apex_row_px=side_px / 2 - 0.5 - (top + bottom) / 2 / rows,
        apex_col_px=side_px / 2 - 0.5 - (left + right) / 2 / rows,
        left_deg=picture.left_deg,
        right_deg=picture.right_deg,
        near_px=picture.near_px / rows,
        far_px=picture.far_px / rows,
    )
    return Square(sector=sector, rows_per_px=rows)


@lru_cache(maxsize=16)
def inside(sector: Sector, side_px: int = SIDE_PX) -> NDArray[np.bool_]:
    """Return which pixels of the square the picture covers, shape (side, side)."""
    row, col = np.mgrid[0:side_px, 0:side_px].astype(np.float64)
    down, aside = row - sector.apex_row_px, col - sector.apex_col_px
    radius, angle = np.hypot(down, aside), np.degrees(np.arctan2(aside, down))
    within = (radius >= sector.near_px) & (radius <= sector.far_px)
    return np.asarray(within & (angle >= sector.left_deg) & (angle <= sector.right_deg))


def to_square(grey: NDArray[np.uint8], picture: Sector, side_px: int = SIDE_PX) -> NDArray[np.uint8]:
    """Return frames cut to the picture and brought to the square.

    Parameters
    ----------
    grey : ndarray of shape (frame, row, col)
        Frames of the clip as they were stored.
    picture : Sector
        Where the picture lies in them.
    side_px : int
        Rows and columns of the square.

    Returns
    -------
    ndarray of shape (frame, side, side)
        Black outside the picture.
    """
    square = square_of(picture, side_px)
    shrink = max(1, math.floor(square.rows_per_px))  # averaged first, so that fine speckle does not alias
    rows, cols = grey.shape[1] // shrink, grey.shape[2] // shrink
    step = square.rows_per_px
    # (col, row) of the square to (col, row) of the shrunken screen, pixel centres
    scale_col, scale_row = step / picture.col_stretch / shrink, step / shrink
    first_col = picture.apex_col_px - square.sector.apex_col_px * step / picture.col_stretch
    first_row = picture.apex_row_px - square.sector.apex_row_px * step
    half = (shrink - 1) / 2
    way = np.array(
        [[scale_col, 0.0, (first_col - half) / shrink], [0.0, scale_row, (first_row - half) / shrink]], np.float64
    )
    mask = inside(square.sector, side_px)
    out = np.empty((len(grey), side_px, side_px), np.uint8)
    for index, frame in enumerate(grey):
        small = frame
        if shrink > 1:
            cut = np.ascontiguousarray(frame[: rows * shrink, : cols * shrink])
            small = np.asarray(cv2.resize(cut, (cols, rows), interpolation=cv2.INTER_AREA), np.uint8)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        out[index] = cv2.warpAffine(small, way, (side_px, side_px), flags=flags, borderMode=cv2.BORDER_CONSTANT)
    out[:, ~mask] = 0
    return out
