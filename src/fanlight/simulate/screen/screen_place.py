"""Where a console puts its pictures: the sector as large as its field allows, the strip of an M-mode."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.screen_layout import Layout, PictureArea
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.study import Box, Sector


def place_sector(
    layout: Layout,
    *,
    left_deg: float,
    right_deg: float,
    face_radius_mm: float,
    depth_mm: float,
    as_guide: bool = False,
) -> Placed:
    """Return where this console draws a sector, as large as its field allows.

    Parameters
    ----------
    layout : Layout
        The console's screen.
    left_deg, right_deg : float
        Edges, degrees at the apex from straight down, positive to screen right; between -89 and 89.
    face_radius_mm : float
        Radius of the array's face: 0 for a phased array, some 10 to 60 mm for a curved one.
    depth_mm : float
        From the face to the deepest echo.
    as_guide : bool
        The small picture beside an M-mode.

    Raises
    ------
    ValueError
        If the edges do not open downward, or a length is not possible.
    """
    if not -89.0 <= left_deg < right_deg <= 89.0:
        raise ValueError(f"a sector's edges must rise between -89 and 89 degrees, got {left_deg} and {right_deg}")
    if not (face_radius_mm >= 0 and depth_mm > 0):
        raise ValueError(f"depth must be above 0 mm and the face 0 mm or more, got {depth_mm} and {face_radius_mm}")
    area = layout.m_mode.guide if as_guide else layout.picture
    top_mm, bottom_mm, left_mm, right_mm = _extent_mm(left_deg, right_deg, face_radius_mm, depth_mm)
    height_px, width_px = area.row1 - area.row0 - 1, area.col1 - area.col0 - 1
    mm_per_px = max((bottom_mm - top_mm) / height_px, (right_mm - left_mm) / width_px)
    # The fan hangs from the top of its field and stands in the middle of its width.
    apex_row = area.row0 - top_mm / mm_per_px
    apex_col = area.col0 + 0.5 * width_px - 0.5 * (left_mm + right_mm) / mm_per_px
    sector = Sector(
        apex_row_px=apex_row,
        apex_col_px=apex_col,
        left_deg=left_deg,
        right_deg=right_deg,
        near_px=face_radius_mm / mm_per_px,
        far_px=(face_radius_mm + depth_mm) / mm_per_px,
    )
    slack = 1e-6  # pixels: rounding must not push the fan out of its field
    box = Box(
        row0=math.floor(apex_row + top_mm / mm_per_px + slack),
        col0=math.floor(apex_col + left_mm / mm_per_px + slack),
        row1=math.ceil(apex_row + bottom_mm / mm_per_px - slack) + 1,
        col1=math.ceil(apex_col + right_mm / mm_per_px - slack) + 1,
    )
    return Placed(sector=sector, box=box, mm_per_px=mm_per_px)


def _extent_mm(left_deg: float, right_deg: float, near: float, depth: float) -> tuple[float, float, float, float]:
    """Highest and lowest point, left and right end of the fan, counted from its apex."""
    left, right = math.radians(left_deg), math.radians(right_deg)
    far = near + depth
    steepest = min(max(0.0, left), right)  # the beam that goes deepest on the screen
    top = near * min(math.cos(left), math.cos(right))
    return (
        top,
        far * math.cos(steepest),
        min(near * math.sin(left), far * math.sin(left)),
        max(near * math.sin(right), far * math.sin(right)),
    )


def strip_box(layout: Layout) -> Box:
    """Return where this console draws the strip of an M-mode."""
    return area_box(layout.m_mode.strip)


def area_box(area: PictureArea) -> Box:
    """Return a field of the screen as a box."""
    return Box(row0=area.row0, col0=area.col0, row1=area.row1, col1=area.col1)


def fan_mask(placed: Placed) -> NDArray[np.uint8]:
    """Return 255 where the fan lies and 0 beside it, as large as its box."""
    sector = placed.sector_in_box
    down = np.arange(placed.box.height_px, dtype=np.float32)[:, None] - np.float32(sector.apex_row_px)
    across = np.arange(placed.box.width_px, dtype=np.float32)[None, :] - np.float32(sector.apex_col_px)
    radius = np.hypot(down, across)
    angle_deg = np.degrees(np.arctan2(across, down))
    inside = (radius >= sector.near_px) & (radius <= sector.far_px)
    inside &= (angle_deg >= sector.left_deg) & (angle_deg <= sector.right_deg)
    return np.asarray(np.where(inside, 255, 0), np.uint8)
