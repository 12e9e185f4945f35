"""The part of the screen that stands still: text, ruler and bars without the moving picture."""

from __future__ import annotations

import hashlib
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Picture, Strip

# Engineering judgement: a dozen frames of a chunk are enough for speckle to fade to its lowest value.
_MOST_FRAMES: Final = 12
_ENOUGH_FRAMES: Final = 8  # a third of a beat at usual rates; engineering judgement
# Blocks of JPEG are 8 pixels wide (ITU-T T.81); moving echoes reach this far beyond the edge of the picture.
_EDGE_PX: Final = 12
# Thin and bright inside the picture: strokes of letters. Engineering judgement: half of full scale above the rest.
_STROKE_PX: Final = 9
_STROKE_RISE: Final = 128
_STROKE_CELL_PX: Final = 15  # about a letter; engineering judgement
_STROKE_SHARE: Final = 0.12  # letters cover more of their cell, single bright echoes less


def overlay_of(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return what stands still in some frames: the lowest value of each pixel.

    Parameters
    ----------
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        The first chunk of a clip; one frame for a still.

    Returns
    -------
    ndarray of shape (row, col) or (row, col, 3)
        Moving speckle, flow and traces fade to their darkest; text keeps its brightness.

    Notes
    -----
    Text that is on the screen for some of the frames only is not on it: see `passing_overlay_of`.
    """
    step = max(1, -(-pixels.shape[0] // _MOST_FRAMES))
    return np.asarray(pixels[::step].min(axis=0), np.uint8)


def stands_still(pixels: NDArray[np.uint8]) -> bool:
    """Return whether what these frames have in common cannot be speckle: they are many enough for a heart to move."""
    return len(pixels) >= _ENOUGH_FRAMES


def passing_overlay_of(pixels: NDArray[np.uint8], picture: Picture | None) -> NDArray[np.uint8] | None:
    """Return what was on the screen outside the picture in any of the frames, or None if nothing came or went.

    Parameters
    ----------
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        Frames in a row.
    picture : Sector or Strip or None
        Where the picture lies; it is black in the answer. None: the whole screen counts as outside.

    Returns
    -------
    ndarray of shape (row, col) or (row, col, 3), or None

    Notes
    -----
    For removing identity: every frame is looked at. Where text changes, the texts lie over one another and
    become unreadable, which counts as possible identity.
    """
    if pixels.shape[0] < 2:
        return None
    highest, lowest = pixels.max(axis=0), pixels.min(axis=0)
    outside = ~picture_mask(picture, pixels.shape[1], pixels.shape[2], margin_px=_EDGE_PX)
    change = highest.astype(np.int16) - lowest
    moved = (change if change.ndim == 2 else change.max(axis=2)) > 32  # engineering judgement: above codec noise
    if not np.any(moved & outside):
        return None
    return np.asarray(np.where(outside if highest.ndim == 2 else outside[..., None], highest, 0), np.uint8)


def picture_mask(
    picture: Picture | None, rows: int, cols: int, margin_px: float = 0.0, window: Box | None = None
) -> NDArray[np.bool_]:
    """Return which pixels lie on the picture, widened by a margin; none of them without a picture.

    Parameters
    ----------
    picture : Sector or Strip or None
        Where the picture lies.
    rows, cols : int
        Size of the frame in pixels.
    margin_px : float
        How far beyond its edge still counts, in pixels of the row axis.
    window : Box, optional
        A part of the frame, within it: only its pixels are asked for.

    Returns
    -------
    ndarray of bool of shape (row, col)
        Of the window, else of the frame.
    """
    window = Box(row0=0, col0=0, row1=rows, col1=cols) if window is None else window
    mask = np.zeros((window.height_px, window.width_px), np.bool_)
    if picture is None:
        return mask
    if isinstance(picture, Strip):
        margin, box = round(margin_px), picture.box
        row0, col0 = (max(edge, 0) for edge in (box.row0 - margin - window.row0, box.col0 - margin - window.col0))
        row1, col1 = (max(edge, 0) for edge in (box.row1 + margin - window.row0, box.col1 + margin - window.col0))
        mask[row0:row1, col0:col1] = True
        return mask
    down = np.arange(window.row0, window.row1, dtype=np.float32)[:, None] - picture.apex_row_px
    across_px = np.arange(window.col0, window.col1, dtype=np.float32)[None, :] - picture.apex_col_px
    across = across_px * picture.col_stretch
    radius = np.hypot(down, across)
    angle_deg = np.degrees(np.arctan2(across, down))
    # A margin in pixels is an angle that shrinks with the radius.
    spread_deg = np.degrees(margin_px / np.maximum(radius, 1.0))
    return np.asarray(
        (radius >= picture.near_px - margin_px)
        & (radius <= picture.far_px + margin_px)
        & (angle_deg >= picture.left_deg - spread_deg)
        & (angle_deg <= picture.right_deg + spread_deg)
    )


def overlay_key(overlay: NDArray[np.uint8], picture: Picture | None) -> str:
    """Return a hash that is equal for overlays with the same text.

    Parameters
    ----------
    overlay : ndarray of shape (row, col) or (row, col, 3)
        From `overlay_of`.
    picture : Sector or Strip or None
        Where the picture lies.

    Returns
    -------
    str
        32 hexadecimal digits.

    Notes
    -----
    Outside the picture the brightness counts in 16 steps; inside only thin bright strokes do, so that another
    heart under the same text gives the same key. A difference too small for the key costs nothing but a wrong
    share of readings; a difference too large costs one more reading, never a wrong one.
    """
    grey = np.asarray(
        overlay if overlay.ndim == 2 else cv2.cvtColor(np.ascontiguousarray(overlay), cv2.COLOR_RGB2GRAY), np.uint8
    )
    near = picture_mask(picture, grey.shape[0], grey.shape[1], margin_px=_EDGE_PX)
    kernel = np.ones((_STROKE_PX, _STROKE_PX), np.uint8)
    strokes = cv2.morphologyEx(grey, cv2.MORPH_TOPHAT, kernel) > _STROKE_RISE
    strokes &= cv2.blur(strokes.astype(np.float32), (_STROKE_CELL_PX, _STROKE_CELL_PX)) > _STROKE_SHARE
    steps = np.where(near, strokes, grey >> 4).astype(np.uint8)
    digest = hashlib.blake2b(steps.tobytes(), digest_size=16)
    digest.update(f"{grey.shape} {picture!r}".encode())
    return digest.hexdigest()
