"""Depth marks beside the picture: equally spaced ticks or dots in one column."""

from __future__ import annotations

import re
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.painted import Screen
from fanlight.study import Picture, Ruler, ScreenText

# Steps that rulers are drawn with (common practice, no source).
_STEPS_MM = (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0)
_LEAST_CONTRAST = 25  # grey levels above the surroundings (engineering judgement: dim marks are drawn at 60 and more)
_MIN_MARKS = 4
_MIN_SPAN_FRACTION = 0.4  # of the picture's depth: shorter rows of dots are lists, scales of bars or punctuation
_ANCHOR_PX = 1.5
# A step is named only when it lies within 6 % of a usual one (numbers beside the marks) or 12 % (depth written on
# the screen, which is rounded and is divided by a picture whose face may be cut).
_NUMBERS_TOLERANCE = 0.06
_TEXT_TOLERANCE = 0.12


@dataclass(frozen=True, slots=True)
class _Marks:
    rows: NDArray[np.float64]
    sizes: NDArray[np.float64]  # extent across
    col: float


@dataclass(frozen=True, slots=True)
class _Series:
    first: float
    spacing: float
    index: NDArray[np.int64]
    marks: _Marks
    score: float
    rms_px: float


def find_ruler(screen: Screen, picture: Picture, texts: tuple[ScreenText, ...], depth_mm: float | None) -> Ruler | None:
    """Find equally spaced depth marks beside the picture.

    Parameters
    ----------
    screen : Screen
        What stays bright over the frames is searched, outside the picture.
    picture : Sector or Strip
        Where the picture lies.
    texts : tuple of ScreenText
        Words are passed over; plain numbers beside the marks give their step.
    depth_mm : float or None
        Displayed depth as written on the screen, if one reading is certain.

    Returns
    -------
    Ruler or None
        ``mm_per_mark`` is None unless numbers beside the marks, or the written depth, single out one usual step.
    """
    best: _Series | None = None
    for group in _columns(_small_marks(screen, picture, texts)):
        if best is not None and best.score >= len(group.rows):
            break  # no series scores more than its marks, and the columns that follow have no more
        series = _progression(group, picture)
        if series is not None and (best is None or series.score > best.score):
            best = series
    if best is None:
        return None
    every, phase = _major_period(best)
    spacing = best.spacing * every
    majors = best.index[(best.index - phase) % every == 0]
    first = best.first + best.spacing * float(majors.min())
    step, why = _step_mm(spacing, best.marks.col, picture, texts, depth_mm)
    kind = f"{len(best.index)} marks at column {best.marks.col:.0f}, {best.spacing:.2f} pixels apart"
    if every > 1:
        kind += f", every {every}th larger"
    return Ruler(
        col_px=best.marks.col,
        first_row_px=float(first),
        spacing_px=float(spacing),
        n_marks=len(majors),
        mm_per_mark=step,
        reason=f"{kind}; {why}",
    )


def _small_marks(screen: Screen, picture: Picture, texts: tuple[ScreenText, ...]) -> NDArray[np.float64]:
    """Centre row, left, right, width of small steady bright spots outside the picture, (n, 4)."""
    rows, cols = screen.low.shape
    height = max(7, rows // 90)
    width = max(14, rows // 24)
    still = screen.low
    surround = cv2.morphologyEx(still, cv2.MORPH_OPEN, np.ones((height + 3, 1), np.uint8))
    high = cv2.subtract(still, surround)  # upright strokes longer than a mark, and the axis line, are gone
    outline = np.array(
        [picture.point(0.0, t) for t in np.linspace(0, 1, 24)] + [picture.point(1.0, t) for t in np.linspace(1, 0, 24)]
    )
    inside = np.zeros((rows, cols), np.uint8)
    cv2.fillPoly(inside, [np.round(outline[:, ::-1]).astype(np.int32)], 1)
    high[cv2.erode(inside, np.ones((5, 5), np.uint8)) > 0] = 0
    for item in texts:
        # A lone figure or dot may be a mark of the ruler itself, misread.
        if len(item.text.strip()) > 1:
            high[max(item.box.row0, 0) : item.box.row1, max(item.box.col0, 0) : item.box.col1] = 0
    mask = cv2.compare(high, float(_LEAST_CONTRAST), cv2.CMP_GE)
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    spots = []
    for label in range(1, count):
        x, y, w, h, _ = (int(v) for v in stats[label])
        if h <= height and w <= width:
            patch = high[y : y + h, x : x + w].astype(np.float64)
            weights = patch.sum(axis=1)
            row = y + float((weights * np.arange(h)).sum() / max(weights.sum(), 1e-9))
            spots.append((row, float(x), float(x + w - 1), float(w)))
    # More spots than this are grain or a photograph, not a drawn screen.
    return np.array(spots[:1500], float).reshape(-1, 4)


def _columns(spots: NDArray[np.float64]) -> list[_Marks]:
    """Groups of spots that share their left end, right end or middle."""
    if len(spots) < _MIN_MARKS:
        return []
    found: dict[bytes, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}  # by the members: who, and their anchors
    for anchor in (spots[:, 1], spots[:, 2], 0.5 * (spots[:, 1] + spots[:, 2])):
        order = np.argsort(anchor, kind="stable")
        ordered = anchor[order]
        ends = np.searchsorted(ordered, ordered + _ANCHOR_PX, side="right")
        for start, end in enumerate(ends):
            if end - start < _MIN_MARKS:
                continue
            members = np.sort(order[start:end])
            found.setdefault(members.tobytes(), (members, ordered[start:end]))
    # The fullest columns first; a screen seldom has more than a few.
    groups: list[_Marks] = []
    for members, anchors in sorted(found.values(), key=lambda each: -len(each[0]))[:40]:
        chosen = spots[members]
        chosen = chosen[np.argsort(chosen[:, 0])]
        groups.append(_Marks(rows=chosen[:, 0], sizes=chosen[:, 3], col=float(np.median(anchors))))
    return groups


def _progression(group: _Marks, picture: Picture) -> _Series | None:
    """The best equally spaced series among the rows of one column."""
    rows = group.rows
    best: _Series | None = None
    for i in range(len(rows) - 1):
        for j in range(i + 1, min(i + 4, len(rows))):
            gap = rows[j] - rows[i]
            if gap < 4.0:
                continue
            series = _fitted(group, rows[i], gap)
            if series is not None and (best is None or series.score > best.score):
                best = series
    if best is None:
        return None
    span = best.spacing * float(best.index.max() - best.index.min())
    return best if span >= _MIN_SPAN_FRACTION * picture.depth_px else None


def _line_through(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """Least-squares slope and offset; the x are not all alike."""
    middle = x.mean()
    away = x - middle
    slope = float(away @ y) / float(away @ away)
    return slope, float(y.mean()) - slope * float(middle)


def _fitted(group: _Marks, start: float, gap: float) -> _Series | None:
    rows = group.rows
    tolerance = max(0.8, 0.04 * gap)
    first, spacing = start, gap
    # The first gap is rounded to whole pixels: the series is followed outward, and the spacing grows exact with it.
    for reach in (5, 12, 30, len(rows) * 10, len(rows) * 10):
        index = np.round((rows - first) / spacing).astype(np.int64)
        error = np.abs(rows - first - index * spacing)
        hit = (error <= (max(tolerance, 1.2) if reach <= 12 else tolerance)) & (
            np.abs(rows - start) <= (reach + 0.5) * spacing
        )
        if hit.sum() < _MIN_MARKS or index[hit].max() - index[hit].min() < _MIN_MARKS - 1:
            return None
        slope, offset = _line_through(index[hit].astype(np.float64), rows[hit])
        if slope < 4.0:
            return None
        first, spacing = offset, slope
    index = np.round((rows - first) / spacing).astype(np.int64)
    hit = np.abs(rows - first - index * spacing) <= min(tolerance, 1.2)
    kept, at = np.unique(index[hit], return_index=True)
    if len(kept) < _MIN_MARKS:
        return None
    slots = int(kept.max() - kept.min()) + 1
    low, high = rows[hit].min(), rows[hit].max()
    strangers = int(((rows > low) & (rows < high) & ~hit).sum())
    # Four of five places filled, and few spots between the places: else it is a list of words. A long row may miss
    # more, because every fifth mark is often of another shape.
    filled = len(kept) / slots
    if filled < (0.65 if len(kept) >= 8 else 0.8) or strangers > 0.25 * len(kept):
        return None
    chosen = np.flatnonzero(hit)[at]
    error = rows[chosen] - first - kept * spacing
    marks = _Marks(rows=rows[chosen], sizes=group.sizes[chosen], col=group.col)
    rms = float(np.sqrt(np.mean(error**2)))
    score = len(kept) * len(kept) / slots - strangers - 2.0 * rms
    return _Series(first=first, spacing=spacing, index=kept, marks=marks, score=score, rms_px=rms)


def _major_period(series: _Series) -> tuple[int, int]:
    """Return (period, phase) of the larger marks; (1, 0) where all are alike."""
    sizes = series.marks.sizes
    low, high = float(sizes.min()), float(sizes.max())
    if high < 1.3 * low + 1.0:
        return 1, 0
    large = sizes > 0.5 * (low + high)
    for period in (2, 4, 5, 10):
        for phase in range(period):
            expected = (series.index - phase) % period == 0
            if expected.sum() >= 2 and float(np.mean(expected == large)) >= 0.93:
                return period, phase
    return 1, 0


def usual_step_mm(value_mm: float, tolerance: float) -> float | None:
    """Return the usual step of a ruler that lies within this share of a value, or None."""
    best = min(_STEPS_MM, key=lambda step: abs(np.log(value_mm / step)))
    return best if abs(value_mm / best - 1) <= tolerance else None


def _step_mm(
    spacing: float, col: float, picture: Picture, texts: tuple[ScreenText, ...], depth_mm: float | None
) -> tuple[float | None, str]:
    numbers = _numbers_beside(col, picture, texts)
    if len(numbers) >= 2:
        values, rows = (np.array(v, float) for v in zip(*numbers, strict=True))
        slope, offset = _line_through(values, rows)
        # Two numbers always lie on a line; three and more must. Rows of letters are centred to a few pixels.
        if slope > 0 and np.abs(rows - offset - slope * values).max() <= 4.0:
            step = usual_step_mm(10.0 * spacing / slope, _NUMBERS_TOLERANCE)  # figures count centimetres
            if step is not None:
                named = ", ".join(f"{v:g}" for v in sorted(values))
                return step, f"the numbers {named} beside them make a step {step:g} mm"
    if depth_mm is not None:
        step = usual_step_mm(depth_mm * spacing / picture.depth_px, _TEXT_TOLERANCE)
        if step is not None:
            return step, f"the depth of {depth_mm:g} mm on the screen makes a step {step:g} mm"
        return None, f"the depth of {depth_mm:g} mm on the screen fits no usual step"
    return None, "nothing on the screen tells their step"


def _numbers_beside(col: float, picture: Picture, texts: tuple[ScreenText, ...]) -> list[tuple[float, float]]:
    """Plain whole numbers within a tenth of the picture's depth of the column of marks: (value, row)."""
    found = []
    for item in texts:
        word = item.text.strip()
        if re.fullmatch(r"\d{1,2}", word) and not item.quantities:
            gap = max(item.box.col0 - col, col - item.box.col1, 0.0)
            if gap <= 0.1 * picture.depth_px:
                found.append((float(word), 0.5 * (item.box.row0 + item.box.row1 - 1)))
    return found if len({value for value, _ in found}) == len(found) else []
