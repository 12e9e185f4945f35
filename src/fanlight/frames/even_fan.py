"""A fan is even about its axis: tell a side in the dark from an edge, where lung or no contact hides one side.

Nearly every machine paints fans that reach as far to the left as to the right (common practice, no source); steered
fans exist. So the other side is taken from the seen one only where the screen or the file bears it out.
"""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.fan_fit import RoughFit, rough_fits
from fanlight.frames.painted import Blob
from fanlight.study import Box, Sector

# All engineering judgement, on drawn screens.
_EVEN_RAD = math.radians(3.0)  # left and right of a fan fitted to a mirrored area differ by less
_LEAST_GAIN_RAD = math.radians(4.0)  # a side that would move by less is left where it is
_LEAST_OVERLAP = 0.85  # of the even fan with the mirrored area; two halves of a drawn fan reach 0.9 and better
_LEAST_EDGE = 0.65  # of the outline of the mirrored area on that of the fan: about a wrong axis two lobes stand out
_QUARTERS = 4
# Share of each quarter of the dark side in which paint is seen, all depths counting alike. The bright skin and the
# first reverberations under the probe fill the nearest twentieth of a picture and more.
_LEAST_PAINT = 0.04
_BOX_SLACK = 0.02  # of the width of a region's box, by which the even fan may differ from it
_DEPTHS, _BEAMS = 96, 96


def is_uneven(fan: Sector) -> bool:
    """Whether a fan reaches farther on one side of straight down than on the other, so that a side may be dark."""
    return abs(math.radians(fan.left_deg + fan.right_deg)) >= _LEAST_GAIN_RAD


def axes(blob: Blob, rough: RoughFit, boxes: tuple[Box, ...], across: float) -> list[float]:
    """Return columns of the reduced screen that may be the axis of the fan of which the area is a part.

    Parameters
    ----------
    blob : Blob
        Painted area.
    rough : RoughFit
        Sector fitted to it, dark side left out.
    boxes : tuple of Box
        Regions of the file, in screen pixels.
    across : float
        Pixels of the reduced screen per screen column.
    """
    x, y = blob.contour[:, 0], blob.contour[:, 1]
    tip = float(x[y <= y.min() + 1].mean())
    deepest = float(np.median(x[y >= y.max() - 1]))
    found = [0.5 * (box.col0 + box.col1) * across - 0.5 for box in boxes]
    for column in (rough.numbers[0], tip, deepest):
        if all(abs(column - axis) > 2 for axis in found):
            found.append(column)
    return found


def mirrored(blob: Blob, axis_x: float) -> Blob:
    """Return the area joined with its mirror image about a column."""
    rows, cols = blob.mask.shape
    turn = np.array([[-1.0, 0.0, 2 * axis_x], [0.0, 1.0, 0.0]])
    other = cv2.warpAffine(blob.mask, turn, (cols, rows), flags=cv2.INTER_NEAREST)
    both = np.asarray(blob.mask | other, np.uint8)
    contours, _ = cv2.findContours(both, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    contour = np.concatenate([c[:, 0, :] for c in contours]).astype(np.float64)
    return replace(blob, mask=both, contour=contour, area_px=int(both.sum()), pieces=both)


def even_fits(blob: Blob, axis_x: float) -> list[RoughFit]:
    """Return the sector fitted to the mirrored area, made even about the column; none where it is not even."""
    fits = [fit for fit in rough_fits(mirrored(blob, axis_x)) if fit.is_sector]
    if not fits:
        return []
    x, y, left, right, near, far = fits[0].numbers
    if fits[0].overlap_fraction < _LEAST_OVERLAP or fits[0].edge_fraction < _LEAST_EDGE:
        return []
    if abs(left + right) > _EVEN_RAD or abs(x - axis_x) > 3:
        return []
    half = 0.5 * (right - left)
    return [replace(fits[0], numbers=(axis_x, y, -half, half, near, far))]


def _beyond(even: Sector, narrow: Sector) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Rows and columns of samples of the even fan (depth, beam), and which of them the narrow one leaves out."""
    depth, beam = (np.arange(_DEPTHS) + 0.5) / _DEPTHS, (np.arange(_BEAMS) + 0.5) / _BEAMS
    radius = (even.near_px + depth * even.depth_px)[:, None]
    angle = np.radians(even.left_deg + beam * even.width_deg)[None, :]
    rows = even.apex_row_px + radius * np.cos(angle)
    cols = even.apex_col_px + radius * np.sin(angle) / even.col_stretch
    seen = np.degrees(np.arctan2((cols - narrow.apex_col_px) * narrow.col_stretch, rows - narrow.apex_row_px))
    return rows, cols, (seen < narrow.left_deg - 0.5) | (seen > narrow.right_deg + 0.5)


def is_borne_out(
    even: Sector, narrow: Sector, painted: NDArray[np.bool_], shape: tuple[int, int], boxes: tuple[Box, ...]
) -> bool:
    """Say whether what the even fan adds to the narrow one is a part of the picture.

    Parameters
    ----------
    even, narrow : Sector
        In screen pixels.
    painted : ndarray of bool, (row, col)
        Where anything was ever painted, connected with the picture, on the reduced screen.
    shape : (int, int)
        Rows and columns of the whole screen.
    boxes : tuple of Box
        Two-dimensional regions of the file.

    Returns
    -------
    bool
        True where paint reaches over the whole of the added angle, if only under the probe, or where the even fan
        fills the box of a region that the narrow one does not fill.
    """
    added = math.radians(even.width_deg - narrow.width_deg)
    if added < _LEAST_GAIN_RAD:
        return False
    if any(_fills(even, box) and not _fills(narrow, box) for box in boxes):
        return True
    rows, cols, beyond = _beyond(even, narrow)
    down, across = painted.shape[0] / shape[0], painted.shape[1] / shape[1]
    at_row = np.clip((rows * down).astype(int), 0, painted.shape[0] - 1)
    at_col = np.clip((cols * across).astype(int), 0, painted.shape[1] - 1)
    hits = painted[at_row, at_col] & (rows >= 0) & (rows < shape[0]) & (cols >= 0) & (cols < shape[1])
    beams = np.flatnonzero(beyond.mean(axis=0) > 0.5)
    if len(beams) < _QUARTERS:
        return False
    return all(float(hits[:, part].mean()) >= _LEAST_PAINT for part in np.array_split(beams, _QUARTERS))


def _fills(fan: Sector, box: Box) -> bool:
    """Whether a fan reaches the left, right and lower side of a box, and goes beyond none."""
    slack = _BOX_SLACK * box.width_px
    reach = fan.far_px / fan.col_stretch
    left = fan.apex_col_px + reach * math.sin(math.radians(fan.left_deg))
    right = fan.apex_col_px + reach * math.sin(math.radians(fan.right_deg))
    deep = fan.apex_row_px + fan.far_px
    return abs(left - box.col0) < slack and abs(right - box.col1) < slack and abs(deep - box.row1) < slack
