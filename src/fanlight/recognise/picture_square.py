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


class Squares:
    """Brings frames of one screen size to the square in two steps, so that of many frames few need the second.

    Parameters
    ----------
    picture : Sector
        Where the picture lies in the frames.
    shape : (int, int)
        Rows and columns of a frame.
    side_px : int
        Rows and columns of the square.
    """

    def __init__(self, picture: Sector, shape: tuple[int, int], side_px: int = SIDE_PX) -> None:
        square = square_of(picture, side_px)
        step, self._side_px = square.rows_per_px, side_px
        self._mask = inside(square.sector, side_px)
        self._shrink = shrink = max(1, math.floor(step))  # averaged first, so that fine speckle does not alias
        # (col, row) of the square to (col, row) of the screen, pixel centres
        scale_col, scale_row = step / picture.col_stretch, step
        first_col = picture.apex_col_px - square.sector.apex_col_px * scale_col
        first_row = picture.apex_row_px - square.sector.apex_row_px * scale_row
        ends = (first_row, first_row + side_px * scale_row, first_col, first_col + side_px * scale_col)
        rows, cols = (n // shrink for n in shape)  # a rest that fills no whole pixel is left
        top, bottom = _whole(ends[0], ends[1], shrink, rows)
        left, right = _whole(ends[2], ends[3], shrink, cols)
        self._cut = np.s_[top * shrink : bottom * shrink, left * shrink : right * shrink]
        half = (shrink - 1) / 2
        self._way = np.array([
            [scale_col / shrink, 0.0, (first_col - half) / shrink - left],
            [0.0, scale_row / shrink, (first_row - half) / shrink - top],
        ])  # fmt: skip

    def part(self, frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return the part of a frame (row, col) that the square needs; a view."""
        return frame[self._cut]

    def small(self, part: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return what `part` gave, averaged to about the square's size; a copy."""
        if self._shrink == 1:
            return np.array(part, order="C")
        size = (part.shape[1] // self._shrink, part.shape[0] // self._shrink)
        return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)

    def sparse(self, frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return single pixels of what `part` gives, (row, col[, channel]), as many as `small` has."""
        half, part = self._shrink // 2, frame[self._cut]
        return np.ascontiguousarray(part[half :: self._shrink, half :: self._shrink])

    def square(self, small: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return what `small` gave in its square (side, side), black outside the picture."""
        flags, size = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, (self._side_px, self._side_px)
        out = cv2.warpAffine(small, self._way, size, flags=flags, borderMode=cv2.BORDER_CONSTANT)
        return np.asarray(out * self._mask, np.uint8)


def _whole(low: float, high: float, shrink: int, most: int) -> tuple[int, int]:
    """Return from which to which whole pixel of the shrunken screen is needed, with two to spare for the edges."""
    first = min(max(math.floor(low / shrink) - 2, 0), most - 1)
    return first, max(min(math.ceil(high / shrink) + 2, most), first + 1)


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
    squares = Squares(picture, grey.shape[1:], side_px)
    return np.stack([squares.square(squares.small(squares.part(frame))) for frame in grey])
