"""A clip that is a 2-D picture by any sign, and no standard view."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.intake.dicom_files import native


def dark_hole(path: Path) -> Path:
    """Write four frames of speckle about a dark hole that shrinks."""
    row, col = np.mgrid[0:240, 0:320]
    radius, angle = np.hypot(row - 8, col - 160), np.degrees(np.arctan2(col - 160, row - 8))
    inside = (radius < 220) & (np.abs(angle) < 40)
    rng = np.random.default_rng(4)
    size = np.arange(4)[:, None, None] * 3
    hole = np.hypot((row - 120) / (45 - size), (col - 150) / (38 - size)) < 1
    speckle = rng.integers(20, 200, (4, 240, 320))
    frames = np.where(inside, np.where(hole, speckle // 8, speckle), 0).astype(np.uint8)
    return native(path, frames, FrameTime="40", FrameIncrementPointer=0x00181063)
