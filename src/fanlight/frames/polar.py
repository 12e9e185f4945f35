"""The beams laid upright: face in row 0, deepest echo in the last row, left edge in column 0."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Picture, Sector, Strip

DEFAULT_DEPTHS = 256
DEFAULT_BEAMS = 128


@lru_cache(maxsize=16)
def polar_maps(picture: Picture, n_depths: int, n_beams: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the column and row (in this order, as OpenCV wants) of each (depth, beam) sample.

    Samples lie at the middle of their cell: depth (i + 0.5) / n_depths, beam (j + 0.5) / n_beams.
    """
    depth = (np.arange(n_depths, dtype=np.float64) + 0.5) / n_depths
    beam = (np.arange(n_beams, dtype=np.float64) + 0.5) / n_beams
    if isinstance(picture, Strip):
        rows = picture.box.row0 + depth[:, None] * (picture.box.height_px - 1) + 0.0 * beam[None, :]
        cols = picture.box.col0 + beam[None, :] * (picture.box.width_px - 1) + 0.0 * depth[:, None]
    else:
        assert isinstance(picture, Sector)
        radius = picture.near_px + depth * picture.depth_px
        angle = np.radians(picture.left_deg + beam * picture.width_deg)
        rows = picture.apex_row_px + radius[:, None] * np.cos(angle)[None, :]
        cols = picture.apex_col_px + radius[:, None] * np.sin(angle)[None, :] / picture.col_stretch
    return cols.astype(np.float32), rows.astype(np.float32)


def to_beams(
    grey: NDArray[np.uint8], picture: Picture, n_depths: int = DEFAULT_DEPTHS, n_beams: int = DEFAULT_BEAMS
) -> NDArray[np.uint8]:
    """Return frames resampled along the beams; what lies off the screen is 0.

    Parameters
    ----------
    grey : ndarray of shape (frame, row, col) or (row, col)
        Grey values, 8 bit.
    picture : Sector or Strip
        Where the picture lies.
    n_depths, n_beams : int
        Samples along and across the beams.

    Returns
    -------
    ndarray of shape (frame, n_depths, n_beams) or (n_depths, n_beams)
    """
    stack = grey[None] if grey.ndim == 2 else grey
    out = np.empty((stack.shape[0], n_depths, n_beams), np.uint8)
    for frame, beams in zip(stack, out, strict=True):
        _write_beams(frame, picture, beams)
    return out[0] if grey.ndim == 2 else out


def _write_beams(frame: NDArray[np.uint8], picture: Picture, out: NDArray[np.uint8]) -> None:
    maps = polar_maps(picture, *out.shape)
    cv2.remap(frame, *maps, cv2.INTER_LINEAR, dst=out, borderMode=cv2.BORDER_CONSTANT, borderValue=0.0)


def to_grey(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the luma (ITU-R BT.601) of frames given as (frame, row, col) or (frame, row, col, 3) RGB."""
    if pixels.ndim == 3:
        return pixels
    n, rows, cols, _ = pixels.shape
    flat = cv2.cvtColor(np.ascontiguousarray(pixels).reshape(n * rows, cols, 3), cv2.COLOR_RGB2GRAY)
    return np.asarray(flat, np.uint8).reshape(n, rows, cols)


def some_in_grey(pixels: NDArray[np.uint8], chosen: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Return what `to_grey` gives of these frames alone: no colour is copied, and the other frames cost nothing."""
    if pixels.ndim == 3:
        return pixels[chosen]
    grey = np.empty((len(chosen), *pixels.shape[1:3]), np.uint8)
    for index, its_grey in zip(chosen, grey, strict=True):
        cv2.cvtColor(np.ascontiguousarray(pixels[index]), cv2.COLOR_RGB2GRAY, dst=its_grey)
    return grey


def to_grey_and_beams(
    pixels: NDArray[np.uint8], picture: Picture | None
) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None]:
    """Return what `to_grey` and `to_beams` give of frames, in less time: each is resampled while the cache holds it.

    Parameters
    ----------
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        Grey or RGB.
    picture : Sector or Strip or None
        Where the picture lies. None: there are no beams.
    """
    if picture is None:
        return to_grey(pixels), None
    if pixels.ndim == 3:
        return pixels, to_beams(pixels, picture)
    grey = np.empty(pixels.shape[:3], np.uint8)
    beams = np.empty((len(pixels), DEFAULT_DEPTHS, DEFAULT_BEAMS), np.uint8)
    for frame, its_grey, its_beams in zip(pixels, grey, beams, strict=True):
        cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY, dst=its_grey)
        _write_beams(its_grey, picture, its_beams)
    return grey, beams
