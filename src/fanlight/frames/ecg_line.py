"""The thin bright line of an ECG on a screen: where it runs, in which ink, and which rows it takes in each column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.inked_corner import inked_corner
from fanlight.study import Box, Picture, Sector, Strip

# All limits below are engineering judgement about how a line is drawn on a screen, none is a medical limit.
_MIN_SATURATION = 90  # of 255: a line with a colour of its own; speckle and grey text lie far below
_MIN_VALUE = 80  # of 255: darker lines could not be read by eye on a black screen
_HUE_STEP = 15  # OpenCV hues run to 180: 12 families of colours
_THIN_PX = 9  # a line is thinner than this square, text strokes are too, speckle often is
_MIN_LIFT = 50  # of 255: how far a grey line stands out from what lies behind it
_MIN_SPAN_FRACTION = 0.12  # of the screen's width: shorter pieces cannot hold one beat
_CLEAR_SPAN_FRACTION = 0.4
_MAX_HEIGHT_FRACTION = 0.30  # of the screen's height
_PICTURE_MARGIN_PX = 5  # the fitted border of the picture may be off by this much
_MIN_PIECE_PX = 12  # a bit of line; speckle grains and letters are shorter or thicker
_MOST_FILLED = 0.25  # of its own box: a line with tall fast beats fills a tenth, a filled shape more than half
_MAX_STROKES = 400  # more upright strokes than this are text or noise, and cost time
_OVER_PICTURE_SHARE = 0.1  # of the line; a corner of the picture may touch the end of a trace below it
NO_ROW = -1  # in `top` and `bottom`: the column holds no line


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgLine:
    """A line that looks like an ECG: its box, and the ink that tells its pixels from others.

    A pixel belongs to the line where the least of its `strong` channels lies at least `level` above the greatest
    of its `weak` ones (green ink: strong green, weak red and blue; grey ink: all strong, none weak).
    """

    box: Box
    strong: tuple[int, ...]
    weak: tuple[int, ...]
    level: float
    is_grey: bool
    span_fraction: float  # columns that hold the line ÷ columns between its ends
    over_picture: bool = False  # it runs over the ultrasound picture, whose echoes then lie in its band


def picture_mask(picture: Picture | None, rows: int, cols: int, margin_px: int = 0) -> NDArray[np.uint8]:
    """Return 255 inside the picture (widened by the margin), 0 outside; shape (rows, cols)."""
    mask = np.zeros((rows, cols), np.uint8)
    if isinstance(picture, Strip):
        box = picture.box
        corners = [(box.row0, box.col0), (box.row0, box.col1), (box.row1, box.col1), (box.row1, box.col0)]
        outline = [(float(r), float(c)) for r, c in corners]
    elif isinstance(picture, Sector):
        shares = np.linspace(0, 1, 49)
        outline = [picture.point(1.0, float(s)) for s in shares] + [picture.point(0.0, float(s)) for s in shares[::-1]]
    else:
        return mask
    points = np.round([[col, row] for row, col in outline]).astype(np.int32)
    cv2.fillPoly(mask, [points], 255)
    if margin_px:
        mask = np.asarray(cv2.dilate(mask, np.ones((2 * margin_px + 1,) * 2, np.uint8)), np.uint8)
    return mask


def find_line(pixels: NDArray[np.uint8], picture: Picture | None) -> EcgLine | None:
    """Return the line that looks most like an ECG, or None.

    Parameters
    ----------
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        The first frames of a clip, grey or RGB.
    picture : Sector or Strip or None
        Where the ultrasound picture lies. A grey line over the picture is only looked for in what stands
        still over all frames; a coloured one everywhere.

    Notes
    -----
    A line counts as an ECG when it is thin, goes on from column to column over at least 12 % of the screen's
    width, stays near one level in most columns and leaves it in short sharp deflections. Borders and rulers
    (never leave their level), breathing curves (no sharp deflection) and text (broken, thick) do not pass.
    """
    n, rows, cols = pixels.shape[:3]
    inside = picture_mask(picture, rows, cols, _PICTURE_MARGIN_PX)
    asked = _GREY if picture is not None else _GREY_ANYWHERE
    best: tuple[float, EcgLine] | None = None
    for index in sorted({0, n // 2, n - 1}, reverse=True):  # a trace that grows is longest in the last frame
        frame = pixels[index]
        rgb = np.asarray(frame if frame.ndim == 3 else cv2.cvtColor(frame, cv2.COLOR_GRAY2RGB), np.uint8)
        masks = _coloured_masks(rgb) if pixels.ndim == 4 else []
        for is_grey in (False, True):
            for mask in [_grey_mask(pixels, rgb, inside)] if is_grey else masks:
                found = _longest_trace(mask, rows, cols, asked if is_grey else _COLOURED)
                if found is not None and (best is None or found.score > best[0]):
                    best = (found.score, _with_ink(rgb, mask, found, is_grey, inside))
            if best is not None and best[1].box.width_px >= _CLEAR_SPAN_FRACTION * cols:
                return best[1]  # a long line is no accident; the other frames would show the same one
    return None if best is None else best[1]


def _coloured_masks(rgb: NDArray[np.uint8]) -> list[NDArray[np.uint8]]:
    """One mask for each family of hues that has enough pixels for a line; neighbours overlap."""
    hue, saturation, value = cv2.split(cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV))
    coloured = cv2.bitwise_and(
        cv2.threshold(saturation, _MIN_SATURATION - 1, 255, cv2.THRESH_BINARY)[1],
        cv2.threshold(value, _MIN_VALUE - 1, 255, cv2.THRESH_BINARY)[1],
    )
    histogram = cv2.calcHist([hue], [0], np.asarray(coloured, np.uint8), [180], [0, 180]).ravel()
    counts = histogram.reshape(180 // _HUE_STEP, _HUE_STEP).sum(axis=1)
    masks: list[NDArray[np.uint8]] = []
    for family in range(len(counts)):
        # two neighbouring families together: no colour falls on a border
        if counts[family] + counts[family - 1] < rgb.shape[1] * _MIN_SPAN_FRACTION or counts[family] == 0:
            continue
        table = np.zeros(256, np.uint8)
        for member in (family, family - 1):
            first = member % len(counts) * _HUE_STEP
            table[first : first + _HUE_STEP] = 255
        masks.append(np.asarray(cv2.bitwise_and(cv2.LUT(hue, table), coloured), np.uint8))
    return masks


def _grey_mask(pixels: NDArray[np.uint8], rgb: NDArray[np.uint8], inside: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Thin bright strokes without a colour; over the picture only those that stand still in every frame."""
    red, green, blue = cv2.split(rgb)
    grey = cv2.min(cv2.min(red, green), blue)  # a saturated colour has a channel near black
    square = np.ones((_THIN_PX, _THIN_PX), np.uint8)
    thin = cv2.threshold(cv2.morphologyEx(grey, cv2.MORPH_TOPHAT, square), _MIN_LIFT - 1, 255, cv2.THRESH_BINARY)[1]
    thin = cv2.bitwise_and(thin, cv2.bitwise_not(inside))
    if pixels.shape[0] >= 3 and inside.any():
        darkest = pixels[0]
        for frame in pixels[:: max(pixels.shape[0] // 8, 1)]:
            darkest = np.asarray(cv2.min(darkest, frame), np.uint8)
        if darkest.ndim == 3:
            red, green, blue = cv2.split(darkest)
            darkest = np.asarray(cv2.min(cv2.min(red, green), blue), np.uint8)
        lift = cv2.morphologyEx(darkest, cv2.MORPH_TOPHAT, square)
        still = cv2.threshold(lift, _MIN_LIFT - 1, 255, cv2.THRESH_BINARY)[1]
        thin = cv2.bitwise_or(thin, cv2.bitwise_and(still, inside))
    return np.asarray(thin, np.uint8)


@dataclass(slots=True)
class _Piece:
    """One connected bit of a line: first and last column, and the rows it takes in each of them."""

    col0: int
    top: NDArray[np.int32]
    bottom: NDArray[np.int32]

    @property
    def col1(self) -> int:
        return self.col0 + len(self.top)


def _line_pieces(mask: NDArray[np.uint8], rows: int) -> tuple[list[_Piece], list[_Piece]]:
    """Thin pieces, and upright strokes that may belong between two of them."""
    inked, *corner = inked_corner(mask)  # most colours fill a part of the screen
    if inked.size == 0:
        return [], []
    _, found, numbers, _ = cv2.connectedComponentsWithStats(inked, connectivity=8, ltype=cv2.CV_32S)
    labels, stats = np.asarray(found, np.int32), np.asarray(numbers, np.int32)
    thick = max(6, rows // 110)  # about twice the width of a line with its soft edge
    width, height, area = (stats[:, i] for i in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA))
    low_enough = (height <= _MAX_HEIGHT_FRACTION * rows) & (np.arange(len(stats)) > 0)
    # each beat adds the ink of its upright strokes: how many there are depends on the heart rate
    most_ink = np.maximum(width * thick + 4 * height, _MOST_FILLED * width * height)
    maybe_thin = low_enough & (width >= _MIN_PIECE_PX) & (area <= most_ink)
    maybe_stroke = low_enough & (width <= 8) & (height >= 4)
    thin: list[_Piece] = []
    for label in np.flatnonzero(maybe_thin):
        piece = _piece(labels, stats, int(label), *corner)
        if np.median(piece.bottom - piece.top) < thick:
            thin.append(piece)
    if not thin:
        return [], []
    strokes = [_piece(labels, stats, int(label), *corner) for label in np.flatnonzero(maybe_stroke)[:_MAX_STROKES]]
    return thin, strokes


def _piece(labels: NDArray[np.int32], stats: NDArray[np.int32], label: int, row0: int, col0: int) -> _Piece:
    """Rows that one connected component takes in each of its columns; the labels begin at this row and column."""
    col, row, width, height = (int(v) for v in stats[label, :4])
    member = labels[row : row + height, col : col + width] == label
    top = member.argmax(axis=0).astype(np.int32) + (row0 + row)
    bottom = (height - 1 - member[::-1].argmax(axis=0)).astype(np.int32) + (row0 + row)
    return _Piece(col0 + col, top, bottom)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of a chain: share of the screen's width that it spans, and that most of its pieces span."""

    span_fraction: float
    piece_fraction: float


_COLOURED = _Asked(_MIN_SPAN_FRACTION, 0.04)
_GREY = _Asked(1.5 * _MIN_SPAN_FRACTION, 0.09)  # speckle and borders are grey too: more is asked
_GREY_ANYWHERE = _Asked(3.0 * _MIN_SPAN_FRACTION, 0.09)  # where the picture is not known, arcs of it may be long


@dataclass(frozen=True, slots=True)
class _Trace:
    """The best chain of pieces in one mask."""

    score: float
    col0: int
    top: NDArray[np.int32]
    bottom: NDArray[np.int32]
    share: float  # of its columns that hold ink

    @property
    def box(self) -> Box:
        filled = self.bottom > NO_ROW
        return Box(
            row0=int(self.top[filled].min()),
            row1=int(self.bottom[filled].max()) + 1,
            col0=self.col0,
            col1=self.col0 + len(self.top),
        )


def _longest_trace(mask: NDArray[np.uint8], rows: int, cols: int, asked: _Asked) -> _Trace | None:
    """The chain of pieces that looks most like an ECG."""
    thin, strokes = _line_pieces(mask, rows)
    thin.sort(key=lambda piece: piece.col0)
    best: _Trace | None = None
    used: set[int] = set()
    for start in range(len(thin)):
        if start in used:
            continue
        chain = [thin[start]]
        used.add(start)
        for other in range(start + 1, len(thin)):
            if other not in used and _goes_on(chain[-1], thin[other], rows, cols):
                chain.append(thin[other])
                used.add(other)
        col0, col1 = chain[0].col0, chain[-1].col1
        if col1 - col0 < asked.span_fraction * cols:
            continue
        long = sum(len(p.top) for p in chain if len(p.top) >= asked.piece_fraction * cols)
        if long < 0.6 * sum(len(p.top) for p in chain):
            continue
        chain += [stroke for stroke in strokes if _touches(stroke, chain, rows)]
        top = np.full(col1 - col0, np.iinfo(np.int32).max, np.int32)
        bottom = np.full(col1 - col0, NO_ROW, np.int32)
        for piece in chain:
            a, b = max(piece.col0, col0), min(piece.col1, col1)
            if b > a:
                part = slice(a - piece.col0, b - piece.col0)
                top[a - col0 : b - col0] = np.minimum(top[a - col0 : b - col0], piece.top[part])
                bottom[a - col0 : b - col0] = np.maximum(bottom[a - col0 : b - col0], piece.bottom[part])
        filled = bottom > NO_ROW
        share = float(filled.mean())
        score = _ecg_likeness(top[filled], bottom[filled], rows) * share * (col1 - col0) / cols
        if share >= 0.6 and score > 0 and (best is None or score > best.score):
            trace = _Trace(score, col0, top, bottom, share)
            if trace.box.height_px <= _MAX_HEIGHT_FRACTION * rows:
                best = trace
    return best


def _touches(stroke: _Piece, chain: list[_Piece], rows: int) -> bool:
    """Whether an upright stroke stands beside or between the line's pieces and reaches down or up to them."""
    for piece in chain:
        if piece.col0 - 4 <= stroke.col1 and stroke.col0 <= piece.col1 + 4:
            at = min(max(stroke.col0 - piece.col0, 0), len(piece.top) - 1)
            apart = max(int(piece.top[at]) - int(stroke.bottom.max()), int(stroke.top.min()) - int(piece.bottom[at]))
            if apart <= 0.02 * rows:
                return True
    return False


def _goes_on(left: _Piece, right: _Piece, rows: int, cols: int) -> bool:
    """Whether the right piece can be the same line after a gap (a stroke drawn in dots, or the pen's gap)."""
    gap = right.col0 - left.col1
    apart = max(int(right.top[0]) - int(left.bottom[-1]), int(left.top[-1]) - int(right.bottom[0]), 0)
    return (-3 <= gap <= 0.02 * cols and apart <= 0.12 * rows) or (-3 <= gap <= 0.08 * cols and apart <= 0.05 * rows)


def _ecg_likeness(top: NDArray[np.int32], bottom: NDArray[np.int32], rows: int) -> float:
    """0 for borders, curves and text; up to 1 for a line with short sharp deflections."""
    middle = (top + bottom) / 2.0
    level = np.median(middle)
    away = np.maximum(abs(top - level), abs(bottom - level))
    reach = float(np.percentile(away, 99.5))
    if reach < max(5.0, rows / 150):  # lower than this the eye sees a straight line
        return 0.0
    quiet = float((away < 0.35 * reach).mean())
    if float(middle[away < 0.5 * reach].std()) < 0.25:  # px: P and T waves ripple a baseline, nothing ripples a ruler
        return 0.0
    steep = np.maximum(bottom - top, np.append(abs(np.diff(middle)), 0.0))
    sharpness = float(np.percentile(steep, 99.5)) / reach  # a breathing curve needs many columns for its height
    if quiet < 0.6 or sharpness < 0.18:
        return 0.0
    return min(quiet, 1.0) * min(sharpness / 0.4, 1.0)


def _with_ink(
    rgb: NDArray[np.uint8], mask: NDArray[np.uint8], trace: _Trace, is_grey: bool, inside: NDArray[np.uint8]
) -> EcgLine:
    """Take the ink from the brighter half of the line's pixels, then follow it to its very ends."""
    filled = np.flatnonzero(trace.bottom > NO_ROW)
    middle = (trace.top[filled] + trace.bottom[filled]) // 2
    columns = filled + trace.col0
    on_line = mask[middle, columns] > 0
    colours = rgb[middle[on_line], columns[on_line]].astype(np.float64)
    brightness = colours.max(axis=1)
    mean = colours[brightness >= np.median(brightness)].mean(axis=0)
    order = [int(channel) for channel in mean.argsort()[::-1]]
    strong: tuple[int, ...] = (0, 1, 2)
    weak: tuple[int, ...] = ()
    if is_grey:
        level = 0.7 * float(mean.min())  # speckle is grey too: the line must stand nearly as bright as it is
    else:
        strong = tuple(c for c in order if mean[c] >= 0.75 * mean.max())
        weak = tuple(c for c in order if c not in strong) or (order[-1],)
        strong = tuple(c for c in strong if c not in weak)
        level = 0.5 * float(mean[list(strong)].min() - mean[list(weak)].max())
    over_picture = float((inside[middle, columns] > 0).mean()) > _OVER_PICTURE_SHARE
    line = EcgLine(
        box=trace.box,
        strong=strong,
        weak=weak,
        level=max(level, 20.0),
        is_grey=is_grey,
        span_fraction=trace.share,
        over_picture=over_picture,
    )
    return replace(line, box=_to_its_ends(rgb, line, inside))


def _to_its_ends(rgb: NDArray[np.uint8], line: EcgLine, inside: NDArray[np.uint8]) -> Box:
    """Widen the box by columns in which the ink goes on without a break (steep ends are no line pieces)."""
    box = line.box
    reach = box.height_px
    row0, row1 = max(box.row0 - reach, 0), min(box.row1 + reach, rgb.shape[0])
    channels = [np.asarray(c, np.uint8) for c in cv2.split(np.ascontiguousarray(rgb[row0:row1]))]
    mask = ink_mask(channels, line) > 0
    if not line.over_picture:
        mask &= inside[row0:row1] == 0

    def follow(col: int, step: int) -> int:
        rows = np.flatnonzero(mask[:, col])
        while len(rows) and 0 <= col + step < mask.shape[1]:
            beside = np.flatnonzero(mask[:, col + step])
            beside = beside[(beside >= rows.min() - 2) & (beside <= rows.max() + 2)]
            if not len(beside):
                break
            col, rows = col + step, beside
        return col

    col0, col1 = follow(box.col0, -1), follow(box.col1 - 1, 1) + 1
    # a wall of ink beside the line (a colour bar, a panel) is not its end
    if col1 - col0 > box.width_px + 0.1 * rgb.shape[1]:
        return box
    added = np.concatenate([mask[:, col0 : box.col0], mask[:, box.col1 : col1]], axis=1)
    inked = np.flatnonzero(added.any(axis=1)) + row0
    rows = [box.row0, box.row1 - 1, *(int(r) for r in inked if box.row0 - reach // 2 <= r < box.row1 + reach // 2)]
    return Box(row0=min(rows), row1=max(rows) + 1, col0=col0, col1=col1)


def ink_mask(channels: Sequence[NDArray[np.uint8]], line: EcgLine) -> NDArray[np.uint8]:
    """Return 255 where pixels have the line's ink.

    Parameters
    ----------
    channels : sequence of ndarray of shape (row, col)
        Red, green, blue; or grey alone.
    line : EcgLine
        Whose ink.
    """
    if len(channels) == 1:
        return np.asarray(cv2.threshold(channels[0], line.level, 255, cv2.THRESH_BINARY)[1], np.uint8)
    low = channels[line.strong[0]]
    for channel in line.strong[1:]:
        low = np.asarray(cv2.min(low, channels[channel]), np.uint8)
    if line.weak:
        high = channels[line.weak[0]]
        for channel in line.weak[1:]:
            high = np.asarray(cv2.max(high, channels[channel]), np.uint8)
        low = np.asarray(cv2.subtract(low, high), np.uint8)
    return np.asarray(cv2.threshold(low, line.level, 255, cv2.THRESH_BINARY)[1], np.uint8)


def line_rows(
    channels: Sequence[NDArray[np.uint8]], line: EcgLine, allowed: NDArray[np.uint8] | None = None
) -> tuple[NDArray[np.int16], NDArray[np.int16]]:
    """Return the first and last row of the line in each column of one frame's band.

    Parameters
    ----------
    channels : sequence of ndarray of shape (row, col)
        Red, green, blue of a part of the frame, or grey alone; at most 254 rows.
    line : EcgLine
        Its ink is used, not its box.
    allowed : ndarray of shape (row, col), optional
        255 where the line may lie.

    Returns
    -------
    top, bottom : ndarray of shape (col,)
        Rows inside the band; `NO_ROW` where the column holds no line.
    """
    rows, cols = channels[0].shape
    if rows > 254:
        raise ValueError(f"the band may have 254 rows at most, got {rows}")
    mask = ink_mask(channels, line)
    if allowed is not None:
        mask = np.asarray(cv2.bitwise_and(mask, allowed), np.uint8)
    down, up = _row_numbers(rows, cols)
    bottom = cv2.bitwise_and(mask, down).max(axis=0).astype(np.int16) - 1
    top = rows - cv2.bitwise_and(mask, up).max(axis=0).astype(np.int16)
    return np.where(bottom < 0, NO_ROW, top).astype(np.int16), bottom.astype(np.int16)


@lru_cache(maxsize=4)
def _row_numbers(rows: int, cols: int) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Rows counted from 1 downwards and from 1 upwards: the largest one under a mask is its end."""
    count = np.arange(1, rows + 1, dtype=np.uint8)[:, None]
    return np.repeat(count, cols, axis=1), np.repeat(count[::-1], cols, axis=1)
