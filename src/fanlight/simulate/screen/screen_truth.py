"""A painted screen and everything that is true of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Region, Sector


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a sector lies on a screen, and how large a pixel is there."""

    sector: Sector  # in pixels of the whole screen
    box: Box  # upright, round the sector; pictures to paint are as large as this
    mm_per_px: float

    @property
    def sector_in_box(self) -> Sector:
        """The sector counted from the corner of its box: what scan conversion needs."""
        return Sector(
            apex_row_px=self.sector.apex_row_px - self.box.row0,
            apex_col_px=self.sector.apex_col_px - self.box.col0,
            left_deg=self.sector.left_deg,
            right_deg=self.sector.right_deg,
            near_px=self.sector.near_px,
            far_px=self.sector.far_px,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTruth:
    """One line of words on the screen."""

    text: str
    box: Box  # round the ink
    identity: bool  # names animal, owner, practice, case, date or time


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerTruth:
    """The depth marks that were drawn."""

    col_px: float
    rows_px: tuple[float, ...]  # of all marks, the first at the face
    step_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Screen:
    """What the console shows, frame by frame, and where everything truly is."""

    frames: NDArray[np.uint8]  # (frame, row, col) or (frame, row, col, 3) RGB
    regions: tuple[Region, ...]  # as the file shall state them
    placed: Placed  # the 2-D picture, or the guide of an M-mode
    texts: tuple[TextTruth, ...]
    ruler: RulerTruth | None
    ecg_box: Box | None = None
    strip_box: Box | None = None  # of the M-mode
    cursor_px: tuple[int, int, int, int] | None = None  # row0, col0, row1, col1 on the screen
