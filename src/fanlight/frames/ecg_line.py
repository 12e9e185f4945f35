"""The thin bright line of an ECG on a screen: where it runs, in which ink, and which rows it takes in each column."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Picture, Sector, Strip

# All limits below are engineering judgement about how a line is drawn on a screen, none is a medical limit.
_MIN_SATURATION = 90  # of 255: a line with a colour of its own; speckle and grey text lie far below
_MIN_VALUE = 80  # of 255: darker lines could not be read by eye on a black screen
_HUE_STEP = 15  # OpenCV hues run to 180: 12 families of colours
_THIN_PX = 9  # a line is thinner than this square, text strokes are too, speckle often is
_MIN_LIFT = 50  # of 255: how far a grey line stands out from what lies behind it
_MIN_SPAN_FRACTION = 0.12  # of the screen's width: shorter pieces cannot hold one beat
_MAX_HEIGHT_FRACTION = 0.30  # of the screen's height
_PICTURE_MARGIN_PX = 5  # the fitted border of the picture may be off by this much
_MIN_PIECE_PX = 12  # a bit of line; speckle grains and letters are shorter or thicker
_LONG_PIECE_FRACTION = 0.04  # of the screen's width: most of a line hangs together over at least this
_MAX_STROKES = 400  # more upright strokes than this are text or noise, and cost time
NO_ROW = -1  # in `top` and `bottom`: the column holds no line


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgLine:
    """A line that looks like an ECG: its box, and the ink that tells its pixels from others.

    A pixel belongs to the line where `ink` · (red, green, blue) reaches `level`.
    """

    box: Box
    ink: tuple[float, float, float]
    level: float
    is_grey: bool
    span_fraction: float  # columns that hold the line ÷ columns between its ends


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
    best: tuple[float, EcgLine] | None = None
    for index in sorted({0, n // 2, n - 1}):
        frame = pixels[index]
        rgb = frame if frame.ndim == 3 else cv2.cvtColor(frame, cv2.COLOR_GRAY2RGB)
        for mask, is_grey in _candidate_masks(pixels, np.asarray(rgb, np.uint8), inside):
            found = _longest_trace(mask, rows, cols)
            if found is None:
                continue
            score, box, members, share = found
            if best is None or score > best[0]:
                best = (score, _with_ink(np.asarray(rgb, np.uint8), members, box, is_grey, share))
    return None if best is None else best[1]


def _candidate_masks(
    pixels: NDArray[np.uint8], rgb: NDArray[np.uint8], inside: NDArray[np.uint8]
) -> list[tuple[NDArray[np.uint8], bool]]:
    """Masks in which a line may show: one a family of colours, one of thin grey strokes."""
    masks: list[tuple[NDArray[np.uint8], bool]] = []
    if pixels.ndim == 4:
        hue, saturation, value = cv2.split(cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV))
        coloured = (saturation >= _MIN_SATURATION) & (value >= _MIN_VALUE)
        counts = np.bincount(hue[coloured] // _HUE_STEP, minlength=12)[:12]
        for family in range(12):
            near = counts[family] + counts[family - 1]  # two neighbouring families: no colour falls on a border
            if near >= rgb.shape[1] * _MIN_SPAN_FRACTION:
                these = coloured & np.isin(hue // _HUE_STEP, (family, (family - 1) % 12))
                masks.append((these.astype(np.uint8) * 255, False))
        grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
        grey[coloured] = 0
    else:
        grey = rgb[..., 0]
    square = np.ones((_THIN_PX, _THIN_PX), np.uint8)
    thin = np.asarray(cv2.morphologyEx(grey, cv2.MORPH_TOPHAT, square)) >= _MIN_LIFT
    thin &= inside == 0
    if pixels.shape[0] >= 3 and inside.any():
        # over a moving picture only what stands still in every frame can be told from speckle
        darkest = pixels[0]
        for frame in pixels[:: max(pixels.shape[0] // 8, 1)]:
            darkest = np.asarray(cv2.min(darkest, frame), np.uint8)
        if darkest.ndim == 3:
            red, green, blue = cv2.split(darkest)
            darkest = np.asarray(cv2.min(cv2.min(red, green), blue), np.uint8)
        still = np.asarray(cv2.morphologyEx(darkest, cv2.MORPH_TOPHAT, square)) >= _MIN_LIFT
        thin |= still & (inside > 0)
    masks.append((thin.astype(np.uint8) * 255, True))
    return masks


@dataclass(slots=True)
class _Piece:
    """One connected bit of a line: first and last column, and the rows it takes in each of them."""

    col0: int
    top: NDArray[np.int32]
    bottom: NDArray[np.int32]
    labels: tuple[int, ...]

    @property
    def col1(self) -> int:
        return self.col0 + len(self.top)


def _line_pieces(mask: NDArray[np.uint8], rows: int) -> tuple[list[_Piece], list[_Piece], NDArray[np.int32]]:
    """Thin pieces, and upright strokes that may belong between two of them."""
    _, found, numbers, _ = cv2.connectedComponentsWithStats(mask, connectivity=8, ltype=cv2.CV_32S)
    labels, stats = np.asarray(found, np.int32), np.asarray(numbers, np.int32)
    thick = max(6, rows // 110)  # about twice the width of a line with its soft edge
    width, height, area = (stats[:, i] for i in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA))
    low_enough = (height <= _MAX_HEIGHT_FRACTION * rows) & (np.arange(len(stats)) > 0)
    maybe_thin = low_enough & (width >= _MIN_PIECE_PX) & (area <= width * thick + 4 * height)
    maybe_stroke = low_enough & (width <= 8) & (height >= 4)
    thin: list[_Piece] = []
    for label in np.flatnonzero(maybe_thin):
        piece = _piece(labels, stats, int(label))
        if np.median(piece.bottom - piece.top) < thick:
            thin.append(piece)
    if not thin:
        return [], [], labels
    strokes = [_piece(labels, stats, int(label)) for label in np.flatnonzero(maybe_stroke)[:_MAX_STROKES]]
    return thin, strokes, labels


def _piece(labels: NDArray[np.int32], stats: NDArray[np.int32], label: int) -> _Piece:
    """Rows that one connected component takes in each of its columns."""
    col, row, width, height = (int(v) for v in stats[label, :4])
    member = labels[row : row + height, col : col + width] == label
    top = member.argmax(axis=0).astype(np.int32) + row
    bottom = (height - 1 - member[::-1].argmax(axis=0)).astype(np.int32) + row
    return _Piece(col, top, bottom, (label,))


def _longest_trace(mask: NDArray[np.uint8], rows: int, cols: int) -> tuple[float, Box, NDArray[np.bool_], float] | None:
    """The best chain of pieces: its score, box, member pixels, and share of columns that it fills."""
    thin, strokes, labels = _line_pieces(mask, rows)
    thin.sort(key=lambda piece: piece.col0)
    best: tuple[float, Box, NDArray[np.bool_], float] | None = None
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
        if col1 - col0 < _MIN_SPAN_FRACTION * cols:
            continue
        long = sum(len(p.top) for p in chain if len(p.top) >= _LONG_PIECE_FRACTION * cols)
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
        if share >= 0.6 and score > 0 and (best is None or score > best[0]):
            box = Box(row0=int(top[filled].min()), row1=int(bottom[filled].max()) + 1, col0=col0, col1=col1)
            if box.height_px <= _MAX_HEIGHT_FRACTION * rows:
                members = np.isin(labels, [label for p in chain for label in p.labels])
                best = (score, box, members, share)
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
    steep = np.maximum(bottom - top, np.append(abs(np.diff(middle)), 0.0))
    sharpness = float(np.percentile(steep, 99.5)) / reach  # a breathing curve needs many columns for its height
    if quiet < 0.6 or sharpness < 0.18:
        return 0.0
    return min(quiet, 1.0) * min(sharpness / 0.4, 1.0)


def _with_ink(rgb: NDArray[np.uint8], members: NDArray[np.bool_], box: Box, is_grey: bool, share: float) -> EcgLine:
    """Take the ink from the brighter half of the line's pixels."""
    colours = rgb[members].astype(np.float64)
    brightness = colours.max(axis=1)
    mean = colours[brightness >= np.median(brightness)].mean(axis=0)
    direction = np.full(3, 1 / 3.0) if is_grey else mean - mean.mean()
    full = float(direction @ mean)
    scale = 200.0 / full  # the line itself comes to 200 of 255
    ink = direction * scale
    # a grey line must stand nearly as bright as it is: speckle is grey too; a coloured one only needs its colour
    level = 140.0 if is_grey else 90.0
    return EcgLine(
        box=box, ink=(float(ink[0]), float(ink[1]), float(ink[2])), level=level, is_grey=is_grey, span_fraction=share
    )


def line_rows(
    band: NDArray[np.uint8], line: EcgLine, allowed: NDArray[np.uint8] | None = None
) -> tuple[NDArray[np.int16], NDArray[np.int16]]:
    """Return the first and last row of the line in each column of one frame's band.

    Parameters
    ----------
    band : ndarray of shape (row, col) or (row, col, 3)
        Part of a frame, at most 254 rows.
    line : EcgLine
        Its ink is used, not its box.
    allowed : ndarray of shape (row, col), optional
        255 where the line may lie.

    Returns
    -------
    top, bottom : ndarray of shape (col,)
        Rows inside the band; `NO_ROW` where the column holds no line.
    """
    if band.shape[0] > 254:
        raise ValueError(f"the band may have 254 rows at most, got {band.shape[0]}")
    score = cv2.transform(band, np.asarray([line.ink], np.float32)) if band.ndim == 3 else band
    limit = line.level if band.ndim == 3 else line.level / sum(line.ink)
    mask = cv2.threshold(score, limit - 1e-3, 255, cv2.THRESH_BINARY)[1]
    if allowed is not None:
        mask = cv2.bitwise_and(mask, allowed)
    down, up = _row_numbers(*band.shape[:2])
    bottom = cv2.reduce(cv2.bitwise_and(mask, down), 0, cv2.REDUCE_MAX)[0].astype(np.int16) - 1
    top = band.shape[0] - cv2.reduce(cv2.bitwise_and(mask, up), 0, cv2.REDUCE_MAX)[0].astype(np.int16)
    return np.where(bottom < 0, NO_ROW, top).astype(np.int16), bottom.astype(np.int16)


@lru_cache(maxsize=4)
def _row_numbers(rows: int, cols: int) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Rows counted from 1 downwards and from 1 upwards: the largest one under a mask is its end."""
    count = np.arange(1, rows + 1, dtype=np.uint8)[:, None]
    return np.repeat(count, cols, axis=1), np.repeat(count[::-1], cols, axis=1)
