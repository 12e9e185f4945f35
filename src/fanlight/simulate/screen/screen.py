"""Paint an ultrasound picture onto the screen of an invented console, and say what is true of that screen."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.screen_ecg import EcgPainter
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_furniture import (
    draw_block,
    draw_focus,
    draw_grey_bar,
    draw_marker,
    draw_ruler,
    draw_rules,
)
from fanlight.simulate.screen.screen_layout import EcgPen, EcgStyle, Ink, Layout, MModeStyle, Rule, TextBlock
from fanlight.simulate.screen.screen_place import fan_mask, place_sector, strip_box
from fanlight.simulate.screen.screen_regions import ecg_region, m_mode_region, two_d_region
from fanlight.simulate.screen.screen_truth import Placed, RulerTruth, Screen, TextTruth
from fanlight.study import Box

__all__ = ["paint", "paint_m_mode", "place_sector", "strip_box"]

Frames = NDArray[np.uint8]


def paint(
    layout: Layout,
    picture: Frames,
    placed: Placed,
    facts: ScreenFacts,
    *,
    times_ms: tuple[float, ...],
    ecg: EcgStrip | None = None,
    colour: bool = True,
    labelled: bool = False,
    marker_at_left: bool = False,
) -> Screen:
    """Return the whole screen of a 2-D still or clip.

    Parameters
    ----------
    layout : Layout
        The console's screen.
    picture : ndarray of shape (frame, row, col)
        Grey levels of the sector, as large as ``placed.box``; what lies outside the fan is not looked at.
    placed : Placed
        From `place_sector`.
    facts : ScreenFacts
        What the screen says; its depth is that of the ruler.
    times_ms : tuple of float
        Of each frame, the first 0.
    ecg : EcgStrip or None
        None: no leads are on, nothing is drawn.
    colour : bool
        RGB frames, or the luma of the same.
    labelled : bool
        Whether the name of the view is painted.
    marker_at_left : bool
        The sign of the probe's marker stands at screen left: the picture was flipped on the console.

    Returns
    -------
    Screen
        With its regions, its words and their boxes; every frame says SIMULATED beside the picture.

    Raises
    ------
    ValueError
        If pictures, times and field do not fit each other.
    """
    _check(picture, placed.box, times_ms)
    style = layout.ecg
    base = _ground(layout, layout.rules, None if ecg is None else style)
    texts = _words(base, layout, layout.blocks, facts, labelled)
    ruler, numbers = _ruler_beside(base, layout, placed, facts)
    if layout.focus is not None and facts.focus_mm is not None:
        draw_focus(base, layout.focus, _face_row(placed) + facts.focus_mm / placed.mm_per_px)
    draw_marker(base, layout.marker, placed.sector, marker_at_left)
    frames = _frames(base, [(placed.box, fan_mask(placed), picture)], times_ms, style, ecg, colour)
    regions = [two_d_region(placed, facts.frequency_mhz)]
    if ecg is not None:
        regions.append(ecg_region(style))
    return Screen(
        frames=frames,
        regions=tuple(regions),
        placed=placed,
        texts=(*texts, *numbers),
        ruler=ruler,
        ecg_box=None if ecg is None else _ecg_box(style),
    )


def paint_m_mode(
    layout: Layout,
    guide: Frames,
    placed: Placed,
    strip: Frames,
    facts: ScreenFacts,
    *,
    cursor_deg: float,
    ms_per_px: float,
    times_ms: tuple[float, ...],
    ecg: EcgStrip | None = None,
    colour: bool = True,
    labelled: bool = False,
    marker_at_left: bool = False,
) -> Screen:
    """Return the screen of an M-mode: the guide with its cursor, the strip with its marks.

    Parameters
    ----------
    layout, facts, times_ms, ecg, colour, labelled, marker_at_left
        As for `paint`.
    guide : ndarray of shape (frame, row, col) or (1, row, col)
        As large as ``placed.box`` (from `place_sector` with ``as_guide=True``); one frame stands still.
    placed : Placed
        Where the guide lies.
    strip : ndarray of shape (frame, row, col)
        As large as `strip_box`: face in row 0, deepest echo in the last row, time to the right; the last column is
        the moment of its frame.
    cursor_deg : float
        Beam of the cursor at the apex of the guide.
    ms_per_px : float
        Time from column to column of the strip.

    Raises
    ------
    ValueError
        If pictures, times and fields do not fit each other, or the cursor lies outside the guide.
    """
    box, m_mode = strip_box(layout), layout.m_mode
    _check(guide, placed.box, times_ms, may_stand_still=True)
    _check(strip, box, times_ms)
    sector = placed.sector
    if not sector.left_deg <= cursor_deg <= sector.right_deg:
        raise ValueError(
            f"the cursor must lie between {sector.left_deg:g} and {sector.right_deg:g} degrees, got {cursor_deg:g}"
        )
    if not ms_per_px > 0:
        raise ValueError(f"ms_per_px must be above 0, got {ms_per_px}")
    # One time axis for strip and trace: what stands above each other happened together.
    row0, row1 = m_mode.trace_rows or (layout.ecg.row0, layout.ecg.row1)
    style = replace(
        layout.ecg,
        row0=row0,
        row1=row1,
        col0=box.col0,
        col1=box.col1,
        pen=EcgPen.SCROLLS,
        px_per_s=1000.0 / ms_per_px,
        marks_r_waves=False,
    )
    base = _ground(layout, layout.m_mode_rules, None if ecg is None else style)
    texts = _words(base, layout, layout.m_mode_blocks, facts, labelled)
    draw_marker(base, layout.marker, sector, marker_at_left)
    strip_mm_per_px = facts.depth_mm / (box.height_px - 1)
    ruler, numbers = draw_ruler(
        base, m_mode.ruler, face_row_px=box.row0, mm_per_px=strip_mm_per_px, depth_mm=facts.depth_mm
    )
    _draw_time_ticks(base, m_mode, box, ms_per_px)
    cursor_px = _cursor(placed, cursor_deg)
    whole = np.full((box.height_px, box.width_px), 255, np.uint8)
    pictures = [(placed.box, fan_mask(placed), guide), (box, whole, strip)]
    frames = _frames(base, pictures, times_ms, style, ecg, colour, cursor=(cursor_px, m_mode))
    regions = [
        two_d_region(placed, facts.frequency_mhz, cursor_px=cursor_px),
        m_mode_region(box, strip_mm_per_px, ms_per_px, facts.frequency_mhz),
    ]
    if ecg is not None:
        regions.append(ecg_region(style))
    return Screen(
        frames=frames,
        regions=tuple(regions),
        placed=placed,
        texts=(*texts, *numbers),
        ruler=ruler,
        ecg_box=None if ecg is None else _ecg_box(style),
        strip_box=box,
        cursor_px=cursor_px,
    )


def _check(pictures: Frames, box: Box, times_ms: tuple[float, ...], may_stand_still: bool = False) -> None:
    n = len(times_ms)
    if pictures.ndim != 3 or pictures.dtype != np.uint8 or pictures.shape[1:] != (box.height_px, box.width_px):
        raise ValueError(
            f"expected 8-bit pictures of {box.height_px} × {box.width_px} pixels (row, col), "
            f"got an array of shape {pictures.shape} and type {pictures.dtype}"
        )
    if n < 1 or len(pictures) not in ((n, 1) if may_stand_still else (n,)):
        raise ValueError(f"expected a time for each of {len(pictures)} pictures, got {n} times")


def _face_row(placed: Placed) -> float:
    """Row of depth 0 under the middle of the array."""
    return placed.sector.apex_row_px + placed.sector.near_px


def _ground(layout: Layout, rules: tuple[Rule, ...], trace: EcgStyle | None) -> Frames:
    base = np.empty((layout.rows, layout.cols, 3), np.uint8)
    base[:] = layout.ground
    draw_rules(base, rules)
    if trace is not None and trace.ground is not None:
        base[trace.row0 : trace.row1, trace.col0 : trace.col1] = trace.ground
    if layout.grey_bar is not None:
        draw_grey_bar(base, layout.grey_bar)
    return base


def _words(
    base: Frames, layout: Layout, blocks: tuple[TextBlock, ...], facts: ScreenFacts, labelled: bool
) -> list[TextTruth]:
    drawn = (*blocks, layout.watermark, *((layout.view_label,) if labelled else ()))
    return [item for block in drawn for item in draw_block(base, block, facts)]


def _ruler_beside(
    base: Frames, layout: Layout, placed: Placed, facts: ScreenFacts
) -> tuple[RulerTruth, tuple[TextTruth, ...]]:
    return draw_ruler(
        base, layout.ruler, face_row_px=_face_row(placed), mm_per_px=placed.mm_per_px, depth_mm=facts.depth_mm
    )


def _ecg_box(style: EcgStyle) -> Box:
    return Box(row0=style.row0, col0=style.col0, row1=style.row1, col1=style.col1)


def _cursor(placed: Placed, cursor_deg: float) -> tuple[int, int, int, int]:
    sector, angle = placed.sector, math.radians(cursor_deg)

    def at(radius_px: float) -> tuple[int, int]:
        return (
            round(sector.apex_row_px + radius_px * math.cos(angle)),
            round(sector.apex_col_px + radius_px * math.sin(angle)),
        )

    return (*at(sector.near_px), *at(sector.far_px))


def _draw_time_ticks(base: Frames, style: MModeStyle, box: Box, ms_per_px: float) -> None:
    step_px = 1000.0 * style.time_tick_s / ms_per_px
    for index in range(math.floor((box.width_px - 1) / step_px) + 1):
        col = box.col0 + round(index * step_px)
        rows = (box.row1 + 1, box.row1 + 5) if style.time_ticks_below else (box.row0 - 6, box.row0 - 2)
        cv2.line(base, (col, rows[0]), (col, rows[1]), style.tick_ink, 1)


def _draw_dashes(frame: Frames, cursor_px: tuple[int, int, int, int], ink: Ink, dash_px: int) -> None:
    row0, col0, row1, col1 = cursor_px
    count = max(round(math.hypot(row1 - row0, col1 - col0) / dash_px), 1)
    for index in range(0, count, 2):
        ends = [(col0 + (col1 - col0) * t, row0 + (row1 - row0) * t) for t in (index / count, (index + 1) / count)]
        (x0, y0), (x1, y1) = ends
        cv2.line(frame, (round(x0), round(y0)), (round(x1), round(y1)), ink, 1, cv2.LINE_AA)


def _frames(
    base: Frames,
    pictures: list[tuple[Box, Frames, Frames]],
    times_ms: tuple[float, ...],
    style: EcgStyle,
    ecg: EcgStrip | None,
    colour: bool,
    cursor: tuple[tuple[int, int, int, int], MModeStyle] | None = None,
) -> Frames:
    """The furniture copied for each frame, with its pictures, the cursor and the trace as it stands then."""
    rows, cols = base.shape[:2]
    painter = None if ecg is None else EcgPainter(style, ecg)
    out = np.empty((len(times_ms), rows, cols, 3) if colour else (len(times_ms), rows, cols), np.uint8)
    scratch = np.empty_like(base)
    for index, time_ms in enumerate(times_ms):
        frame = out[index] if colour else scratch
        np.copyto(frame, base)
        for box, mask, moving in pictures:
            grey = moving[index if len(moving) > 1 else 0]
            patch = frame[box.row0 : box.row1, box.col0 : box.col1]
            cv2.copyTo(cv2.cvtColor(np.ascontiguousarray(grey), cv2.COLOR_GRAY2RGB), mask, patch)
        if cursor is not None:
            _draw_dashes(frame, cursor[0], cursor[1].cursor_ink, cursor[1].cursor_dash_px)
        if painter is not None:
            painter.draw(frame, time_ms)
        if not colour:
            cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY, dst=out[index])
    return out
