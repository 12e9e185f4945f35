"""Where the M-mode strip of a screen lies, what its pixels mean, and the strip cut out of it with its R waves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.frames.ecg_line import find_line
from fanlight.frames.m_mode_axes import find_m_mode_axes
from fanlight.measure.areas import Area, AreaKind, areas_of, hand_share
from fanlight.measure.m_mode.painted import painted_box
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.study import Box, Layout, MarkedAxis, MarkedDistance, SpatialFormat, StripAxis

_DARK_LEVELS = 4.0  # a column of a mean level below this is not painted: the gap that runs before a sweep
_LONGEST_CRACK_PX = 2  # unpainted columns that part nothing
_LEAST_ROWS_PX = 2.0  # closer than that, a click's own error is as large
_LEAST_ECG_SHARE = 0.4  # of the strip's width: a coloured line that is shorter is a mark or a word
_ECG_RIM_PX = 10  # more than R waves are looked for away from a strip
_LEAST_LEFT_SHARE = 0.6  # of the strip's depth, beside an ECG in it: less shows no whole ventricle


@dataclass(frozen=True, slots=True, kw_only=True)
class StripOnScreen:
    """A calibrated strip."""

    box: Box
    mm_per_row: float
    ms_per_col: float
    mm_share: float  # one standard deviation, a share of it; 0: taken as exact
    ms_share: float
    note: str = ""  # what was taken for the strip, where no file says it


def find_strip(
    layout: Layout,
    depth: MarkedDistance | None = None,
    axes: Sequence[MarkedAxis] = (),
    frame: NDArray[np.uint8] | None = None,
) -> StripOnScreen | str:
    """Return where the strip lies and how it is scaled, or why that is not known.

    Parameters
    ----------
    layout : Layout
        What was found on the screen.
    depth, axes
        Two points of the depth scale and two of the time scale, where a person marked them; they go before the file.
    frame : ndarray of shape (row, col) or (row, col, 3), or None
        The picture: by it a strip is found of which no file tells.

    Notes
    -----
    On a plain picture the strip is what is painted (`painted_box`), not what the marks span: they may lie on its scales
    beside it, and hold for all of it.
    Without marks the file's region says all (`frames.m_mode_axes`). A written sweep speed is not used: millimetres of
    paper a second are no pixels a second until the size of the paper on the screen is known.
    """
    if depth is None and not axes:
        said = find_m_mode_axes(layout)
        if isinstance(said, str):
            return f"{said}; mark two points of its depth and two of its time"
        return StripOnScreen(
            box=said.box, mm_per_row=said.mm_per_row_px, ms_per_col=said.ms_per_col_px, mm_share=0.0, ms_share=0.0
        )
    if frame is not None and not any(item.region.spatial_format == SpatialFormat.M_MODE for item in layout.regions):
        return _by_marks(layout, depth, axes, frame)
    strips = [area for area in areas_of(layout, depth, axes) if area.kind is AreaKind.M_MODE and area.box is not None]
    if not strips:
        return (
            "the marks lie on no M-mode strip that the file tells of; mark two points of its depth and two of its time"
        )
    return _calibrated(max(strips, key=_size))


def _by_marks(
    layout: Layout, depth: MarkedDistance | None, axes: Sequence[MarkedAxis], frame: NDArray[np.uint8]
) -> StripOnScreen | str:
    """Return the strip that is painted, scaled by marks alone."""
    ends = () if depth is None else (depth.start, depth.end)
    # Beside a picture only where both scales are marked there: what was taken for the picture may be the strip itself.
    beside = [area for area in areas_of(layout, depth, axes) if area.kind is AreaKind.M_MODE and area.box is not None]
    beside = [area for area in beside if all(map(area.holds, ends))]
    box = painted_box(frame, beside[0].box if beside else None)
    if isinstance(box, str):
        return box
    # Columns are time: the rows alone of two points tell of depth.
    rows_px = 0.0 if depth is None else abs(depth.end[0] - depth.start[0])
    time = next((item for item in reversed(axes) if item.axis is StripAxis.TIME), None)
    return _calibrated(
        Area(
            kind=AreaKind.M_MODE,
            box=box,
            mm_per_row=None if depth is None or rows_px < _LEAST_ROWS_PX else depth.distance_mm / rows_px,
            ms_per_col=None if time is None else time.per_px,
            mm_share=hand_share(rows_px) if rows_px else 0.0,
            ms_share=0.0 if time is None else hand_share(time.length_px),
        ),
        note=(
            f"the strip is what is painted: rows {box.row0} to {box.row1 - 1}, columns {box.col0} to {box.col1 - 1} of "
            "the picture"
        ),
    )


def _size(area: Area) -> int:
    return 0 if area.box is None else area.box.width_px * area.box.height_px


def _calibrated(area: Area, note: str = "") -> StripOnScreen | str:
    if area.box is None or not area.mm_per_row:
        return "the depth scale of the M-mode strip is not known; mark two points of it and their distance"
    if not area.ms_per_col:
        return "the time scale of the M-mode strip is not known; mark two points of it and the time between them"
    return StripOnScreen(
        box=area.box,
        mm_per_row=area.mm_per_row,
        ms_per_col=area.ms_per_col,
        mm_share=area.mm_share,
        ms_share=area.ms_share,
        note=note,
    )


def cut_strip(frame: NDArray[np.uint8], place: StripOnScreen) -> MModeStrip | str:
    """Return the strip of a frame with the R waves of the ECG that runs in step with it, or why it holds nothing.

    Parameters
    ----------
    frame : ndarray of shape (row, col) or (row, col, 3)
        Of a running strip the last one stored: it shows most.
    place : StripOnScreen
        Where the strip lies.

    Notes
    -----
    A sweep that has come round leaves a gap between what is new and what is old: the longer side is taken, since no
    beat goes on across it. Rows that an ECG in colour runs through are left out with what lies beyond it; an ECG in
    grey cannot be told from an echo.
    """
    box = _beside_ecg(frame, place.box)
    if isinstance(box, str):
        return box
    grey = frame if frame.ndim == 2 else cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY)
    inside = grey[box.row0 : box.row1, box.col0 : box.col1]
    first, last = _longest_painted(inside)
    if last <= first:
        return "nothing is painted where the M-mode strip lies"
    r_columns = strip_r_columns(frame, box)
    cols = () if isinstance(r_columns, str) else tuple(float(col) - box.col0 - first for col in r_columns)
    return MModeStrip(
        levels=np.ascontiguousarray(inside[:, first:last]),
        mm_per_row=place.mm_per_row,
        ms_per_col=place.ms_per_col,
        mm_share=place.mm_share,
        ms_share=place.ms_share,
        r_times_ms=tuple(col * place.ms_per_col for col in cols if 0 <= col <= last - first - 1),
    )


def _beside_ecg(frame: NDArray[np.uint8], box: Box) -> Box | str:
    """Return the part of a strip above or below an ECG that is drawn in it, or why too little is left."""
    if frame.ndim == 2:
        return box
    line = find_line(np.ascontiguousarray(frame[box.row0 : box.row1, box.col0 : box.col1])[None], None)
    if line is None or line.is_grey or line.box.width_px < _LEAST_ECG_SHARE * box.width_px:
        return box
    above, below = line.box.row0 - _ECG_RIM_PX, box.height_px - line.box.row1 - _ECG_RIM_PX
    if max(above, below) < _LEAST_LEFT_SHARE * box.height_px:
        return "an ECG runs across the middle of the strip; store it with the ECG beside the strip, or without"
    if above >= below:
        return replace(box, row1=box.row0 + above)
    return replace(box, row0=box.row1 - below)


def _longest_painted(inside: NDArray[np.uint8]) -> tuple[int, int]:
    """Return the first column of the longest painted stretch, and the one after its last."""
    painted = np.flatnonzero(inside.mean(axis=0) >= _DARK_LEVELS) if inside.size else np.empty(0, np.intp)
    if len(painted) == 0:
        return 0, 0
    cuts = np.flatnonzero(np.diff(painted) > _LONGEST_CRACK_PX + 1)
    starts, ends = np.append(painted[0], painted[cuts + 1]), np.append(painted[cuts], painted[-1]) + 1
    longest = int((ends - starts).argmax())
    return int(starts[longest]), int(ends[longest])
