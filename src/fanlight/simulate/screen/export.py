"""A screen on its way out of the machine: enlarged or reduced, with its regions, as an export does it."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from fanlight.simulate.screen.screen_truth import Placed, RulerTruth, Screen, TextTruth
from fanlight.study import Box, Region, Sector


def exported(screen: Screen, ratio: float) -> Screen:
    """Return the screen at another size; everything that is true of it follows.

    Parameters
    ----------
    screen : Screen
        As the console shows it.
    ratio : float
        New size over old; 1 gives the screen as it is.
    """
    if ratio == 1.0:
        return screen
    rows, cols = (round(n * ratio) for n in screen.frames.shape[1:3])
    kind = cv2.INTER_CUBIC if ratio > 1 else cv2.INTER_AREA
    frames = np.stack([cv2.resize(frame, (cols, rows), interpolation=kind) for frame in screen.frames])

    def box(old: Box) -> Box:
        return Box(
            row0=round(old.row0 * ratio),
            col0=round(old.col0 * ratio),
            row1=min(round(old.row1 * ratio), rows),
            col1=min(round(old.col1 * ratio), cols),
        )

    cursor = screen.cursor_px
    return replace(
        screen,
        frames=frames,
        regions=tuple(_region(item, ratio, box(item.box)) for item in screen.regions),
        placed=Placed(
            sector=_sector(screen.placed.sector, ratio),
            box=box(screen.placed.box),
            mm_per_px=screen.placed.mm_per_px / ratio,
        ),
        texts=tuple(TextTruth(text=t.text, box=box(t.box), identity=t.identity) for t in screen.texts),
        ruler=None if screen.ruler is None else _ruler(screen.ruler, ratio),
        ecg_box=None if screen.ecg_box is None else box(screen.ecg_box),
        strip_box=None if screen.strip_box is None else box(screen.strip_box),
        cursor_px=None if cursor is None else _four(cursor, ratio, shift=True),
    )


def _place(px: float, ratio: float) -> float:
    """Where a pixel's centre comes to lie: pixel centres are at whole numbers, edges half a pixel off."""
    return (px + 0.5) * ratio - 0.5


def _four(line: tuple[int, int, int, int], ratio: float, *, shift: bool = False) -> tuple[int, int, int, int]:
    row0, col0, row1, col1 = (round(_place(v, ratio) if shift else v * ratio) for v in line)
    return row0, col0, row1, col1


def _sector(sector: Sector, ratio: float) -> Sector:
    return replace(
        sector,
        apex_row_px=_place(sector.apex_row_px, ratio),
        apex_col_px=_place(sector.apex_col_px, ratio),
        near_px=sector.near_px * ratio,
        far_px=sector.far_px * ratio,
    )


def _region(region: Region, ratio: float, box: Box) -> Region:
    def scaled(value: float | None, by: float) -> float | None:
        return None if value is None else value * by

    line = region.m_line_px
    return replace(
        region,
        box=box,
        delta_x=scaled(region.delta_x, 1 / ratio),
        delta_y=scaled(region.delta_y, 1 / ratio),
        reference_col_px=None if region.reference_col_px is None else float(round(region.reference_col_px * ratio)),
        reference_row_px=None if region.reference_row_px is None else float(round(region.reference_row_px * ratio)),
        m_line_px=None if line is None else _four(line, ratio),
    )


def _ruler(ruler: RulerTruth, ratio: float) -> RulerTruth:
    return RulerTruth(
        col_px=_place(ruler.col_px, ratio),
        rows_px=tuple(_place(row, ratio) for row in ruler.rows_px),
        step_mm=ruler.step_mm,
    )
