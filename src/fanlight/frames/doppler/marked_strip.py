"""Where a spectrum lies of which there is only a picture: what is painted about the points that a person marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.polar import to_grey
from fanlight.study import Box, Layout, MarkedAxis, Sector, StripAxis

Flags = NDArray[np.bool_]

_OFF_SCREEN_LEVELS = 10  # of 255, from the empty screen: compression of flat paper lies below
_LEAST_ROW_SHARE = 0.02  # of a row: fewer painted pixels are a tick
_ROW_GAP_SHARE = 0.02  # of the picture's height: the wall filter leaves no more black, other things stand farther off
_COL_GAP_PX = 1  # ticks and words of a scale stand close beside a strip
_WORD_PX = 5  # rows: a word is as tall at least, specks of noise are not
_TICK_PX = 15  # columns
_LEAST_COL_SHARE = 0.25  # of what a usual column of the strip has painted: ticks beside it have less
# A rim cuts what is painted at full brightness and width; flow that ends within the strip fades and narrows before it.
_RIM_PX, _INSIDE_PX = 3, (8, 24)
_LEAST_AT_RIM, _LEAST_WIDTH_AT_RIM = 0.5, 0.6
_BESIDE_PX = 5.0  # that a hand may mark a scale off the strip (engineering judgement)
_BASELINE_SPANS = 4  # of the velocity marks, that the baseline may lie beyond them (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedStrip:
    """A strip that no file tells of."""

    box: Box
    is_open: tuple[bool, bool]  # above, below: its rim is neither seen nor marked, flow may have run on there


def find_marked_strip(pixels: NDArray[np.uint8], layout: Layout, marks: Sequence[MarkedAxis]) -> MarkedStrip | str:
    """Return the strip about the marked points, or why it is not known.

    Parameters
    ----------
    pixels : ndarray of shape (row, col) or (row, col, 3)
        The picture.
    layout : Layout
        What stands beside the strip: picture and ECG, into which it is not led on.
    marks : sequence of MarkedAxis
        Of time and of velocity, on the strip or its scales. They lie where the strip lies and need not span it.

    Notes
    -----
    From the marks the strip goes on as far as it is painted. Where nothing is painted to its rim, because the screen
    shows no noise, flow that ends by itself tells no rim: the strip is taken up to what else is painted, so that no
    flow ends at a rim that is none.
    """
    rows, cols = _span(marks, StripAxis.VELOCITY, 0), _span(marks, StripAxis.TIME, 1)
    if rows is None or cols is None:
        return "time and velocity scale must both be marked; mark two points of each"
    baseline = _span(marks, StripAxis.BASELINE, 0)
    near = _BASELINE_SPANS * (rows[1] - rows[0])  # farther off lies the baseline of something else
    if baseline is not None and rows[0] - near <= baseline[0] <= rows[1] + near:
        rows = min(rows[0], baseline[0]), max(rows[1], baseline[1])
    height, width = pixels.shape[:2]
    if not (rows[0] >= 0 and rows[1] < height and cols[0] >= 0 and cols[1] < width):
        return f"a mark of the axes lies outside the picture of {height} rows and {width} columns; correct it"
    off = _off_screen(pixels)
    room = _room(layout, rows, height)
    top, bottom = _rows(off[:, cols[0] : cols[1] + 1], rows, room)
    first, last = _cols(off[top:bottom], cols, None if baseline is None else baseline[0] - top)
    across = off[:, first:last]
    top, bottom = _rows(across, rows, room)
    more = _beyond(across[room[0] : bottom][::-1], bottom - top), _beyond(across[top : room[1]], bottom - top)
    top, bottom = top - more[0], bottom + more[1]
    is_open = (
        (more[0] > 0 or top == 0) and rows[0] > top + _BESIDE_PX,
        (more[1] > 0 or bottom == height) and rows[1] < bottom - _BESIDE_PX,
    )
    return MarkedStrip(box=Box(row0=top, col0=first, row1=bottom, col1=last), is_open=is_open)


def _span(marks: Sequence[MarkedAxis], axis: StripAxis, place: int) -> tuple[int, int] | None:
    ends = [point[place] for mark in marks if mark.axis is axis for point in (mark.start, mark.end)]
    return (round(min(ends)), round(max(ends))) if ends else None


def _off_screen(pixels: NDArray[np.uint8]) -> NDArray[np.int16]:
    """Return how many grey levels each pixel lies off the empty screen, (row, col): black paint is paint as well."""
    grey = np.asarray(to_grey(pixels[None])[0], np.int16)
    screen = int(np.bincount(grey.ravel(), minlength=256).argmax())
    return np.asarray(np.abs(grey - np.int16(screen)), np.int16)


def _room(layout: Layout, rows: tuple[int, int], height: int) -> tuple[int, int]:
    """Return the first row that the strip may have and the one after its last: picture and ECG are no part of it."""
    boxes = [] if layout.ecg_box is None else [layout.ecg_box]
    if isinstance(layout.picture, Sector):
        top, bottom = (layout.picture.point(depth, 0.5)[0] for depth in (0.0, 1.0))
        boxes.append(Box(row0=max(round(top), 0), col0=0, row1=max(round(bottom), 1) + 1, col1=layout.cols))
    above = [box.row1 for box in boxes if box.row1 <= rows[0] + _BESIDE_PX]
    below = [box.row0 for box in boxes if box.row0 >= rows[1] - _BESIDE_PX]
    return max(above, default=0), min(below, default=height)


def _painted(off: NDArray[np.int16]) -> Flags:
    """Return the rows that are painted."""
    return np.asarray((off >= _OFF_SCREEN_LEVELS).mean(axis=1) >= _LEAST_ROW_SHARE)


def _rows(off: NDArray[np.int16], marked: tuple[int, int], room: tuple[int, int]) -> tuple[int, int]:
    """Return the first row that is painted and the one after the last."""
    painted = _painted(off)
    gap = max(round(_ROW_GAP_SHARE * len(off)), 2)
    middle = (marked[0] + marked[1]) // 2
    up = _painted_run(painted[room[0] : middle + 1][::-1], middle - marked[0], gap)
    down = _painted_run(painted[middle : room[1]], marked[1] - middle, gap)
    return middle - up, middle + down + 1


def _cols(off: NDArray[np.int16], marked: tuple[int, int], baseline: int | None) -> tuple[int, int]:
    """Return the first column that is painted and the one after the last; a baseline that is drawn paints it."""
    painted = off >= _OFF_SCREEN_LEVELS
    share = painted.mean(axis=0)
    there = share >= max(_LEAST_COL_SHARE * float(np.median(share[marked[0] : marked[1] + 1])), 1e-6)
    first, last = _ends(there, marked)
    if baseline is not None:
        drawn = _ends(there | painted[max(baseline - 1, 0) : baseline + 2].any(axis=0), marked)
        # By a little it is led on by the tick of its scale.
        first, last = (b if abs(b - a) > _TICK_PX else a for a, b in zip((first, last), drawn, strict=True))
    return first, last + 1


def _ends(there: Flags, marked: tuple[int, int]) -> tuple[int, int]:
    """Return the first and the last of the painted columns about the marked ones."""
    left = _painted_run(there[: marked[1] + 1][::-1], marked[1] - marked[0], _COL_GAP_PX)
    right = _painted_run(there[marked[0] :], marked[1] - marked[0], _COL_GAP_PX)
    return marked[1] - left, marked[0] + right


def _painted_run(painted: Flags, least: int, gap_px: int) -> int:
    """Return the last painted place of the run that begins at 0 and goes on at least as far as was marked."""
    reach = min(least, len(painted) - 1)
    for at in np.flatnonzero(painted):
        if at > reach + gap_px + 1:
            break
        reach = max(reach, int(at))
    # A point that was marked on the scale a little beyond the strip does not lengthen it.
    inked = np.flatnonzero(painted[: reach + 1])
    return int(inked[-1]) if len(inked) and reach - inked[-1] <= _BESIDE_PX else reach


def _beyond(off: NDArray[np.int16], n: int) -> int:
    """Return how many rows without paint a strip has beyond its first `n`; none where these end at a rim."""
    if n >= len(off) or _is_rim(off[:n]):
        return 0
    share = (off[n:] >= _OFF_SCREEN_LEVELS).mean(axis=1)
    inked = np.flatnonzero(np.convolve(share, np.ones(_WORD_PX) / _WORD_PX, "same") >= _LEAST_ROW_SHARE)
    return int(inked[0]) if len(inked) else len(share)


def _is_rim(off: NDArray[np.int16]) -> bool:
    """Whether what is painted ends at once with the last row, and does not fade or narrow towards it."""
    if len(off) <= _INSIDE_PX[1]:
        return False
    rim, inside = off[-_RIM_PX:], off[-_INSIDE_PX[1] : -_INSIDE_PX[0]]
    painted, within = (float((part >= _OFF_SCREEN_LEVELS).mean()) for part in (rim, inside))
    if painted < max(_LEAST_WIDTH_AT_RIM * within, _LEAST_ROW_SHARE):
        return False
    seen = rim.max(axis=0) >= _OFF_SCREEN_LEVELS
    return bool(rim[:, seen].mean() >= _LEAST_AT_RIM * max(float(inside[:, seen].mean()), 1.0))
