"""Blood or wall: how each pixel of a strip speaks for the one or the other, whatever the gain."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from fanlight.measure.m_mode.strip import Floats, MModeStrip

_ROW_BLUR_MM = 0.3  # speckle is about so deep
_COL_BLUR_MS = 6.0  # shorter than any motion of a wall
_SOFT_SHARE = 0.3  # of the step from blood to wall, over which the map goes from one to the other
_LEAST_STEP = 12.0  # grey levels between blood and wall; less is no picture


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TissueMap:
    """Which is which on one strip.

    Attributes
    ----------
    wall : ndarray of shape (row, column)
        +1 wall, -1 blood, 0 undecided.
    line : ndarray of shape (row, column)
        How far a pixel is brighter than wall, 0 to 1: the pericardium against the lung is the brightest line.
    blood_level, wall_level : float
        Usual grey level of each.
    """

    wall: Floats
    line: Floats
    blood_level: float
    wall_level: float


def map_tissue(strip: MModeStrip) -> TissueMap | str:
    """Return the map of a strip, or why there is none."""
    smooth = smoothed(strip)
    blood, wall = two_levels(smooth)
    if wall - blood < _LEAST_STEP:
        return "blood and wall are equally bright"
    brightest = max(float(np.percentile(smooth, 99.5)), wall + 1.0)
    return TissueMap(
        wall=soft_wall(smooth, blood, wall),
        line=np.clip((smooth - wall) / (brightest - wall), 0.0, 1.0).astype(np.float32),
        blood_level=blood,
        wall_level=wall,
    )


def smoothed(strip: MModeStrip) -> Floats:
    """Return the levels with speckle evened out a little."""
    rows, cols = _ROW_BLUR_MM / strip.mm_per_row, _COL_BLUR_MS / strip.ms_per_col
    blurred = cv2.GaussianBlur(strip.levels.astype(np.float32), (0, 0), sigmaX=max(cols, 0.3), sigmaY=max(rows, 0.3))
    return np.asarray(blurred, np.float32)


def soft_wall(smooth: Floats, blood: float, wall: float) -> Floats:
    """Return -1 for what is as dark as blood to +1 for what is as bright as wall."""
    middle, width = (blood + wall) / 2, _SOFT_SHARE * (wall - blood)
    return np.asarray(np.tanh((smooth - middle) / width), np.float32)


def two_levels(smooth: Floats) -> tuple[float, float]:
    """Return the two grey levels that the strip is best divided into (Otsu's threshold), dark and bright."""
    as_bytes = np.clip(smooth, 0, 255).astype(np.uint8)
    threshold, _ = cv2.threshold(as_bytes, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    dark, bright = smooth[as_bytes <= threshold], smooth[as_bytes > threshold]
    if dark.size == 0 or bright.size == 0:
        return 0.0, 0.0
    return float(np.median(dark)), float(np.median(bright))
