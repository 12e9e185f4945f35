"""Which pixels of the screen the machine paints with echoes, as far as brightness and change can tell."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.polar import some_in_grey
from fanlight.study import Box

# Frames looked at: the range of grey values over a dozen frames spread over the chunk is within a few levels
# of the range over all of them, at a third of the time (engineering judgement).
_FRAMES_USED = 12
# Working size: edges are found roughly at this size, then set to a fraction of a pixel on the full screen.
_SMALL_PX = 400
# Grey levels above the background, and of change between frames. Several are tried and the fit decides: a dark
# picture shows only at the first, a picture with compression noise round it only at the later ones. Where the empty
# screen is one exact grey (nothing was lost to compression) a single level already is paint.
_LIFTS = (1, 2, 6, 14, 30)
_CHANGES = (3, 8, 20)
# Any sign of paint taken together: brighter or darker than the empty screen, or changing. A side in shadow differs
# from the screen in one of these only, and the speckle of its receiver by few levels.
_TRACES = (2, 4)
# Share of a working pixel that must be painted. Strokes of letters cover about a third of a line of text.
_SHARE = 0.4
_SEEN_BAR = 12.0  # grey levels above the screen from which a bar can be seen and may be meant as one
_MIN_AREA_FRACTION = 0.015  # smaller than this share of the screen is a bar, a logo or a word
_MIN_PIECE_FRACTION = 0.006  # of one of two pieces that make a picture together


class Sign(StrEnum):
    """By what a painted pixel was known."""

    LIFT = "lift"  # brighter than the empty screen
    CHANGE = "change"  # between frames
    TRACE = "trace"  # either, or darker than the empty screen


_WORDS = {
    Sign.LIFT: "pixels {level} levels above the background",
    Sign.CHANGE: "pixels that change by {level} levels",
    Sign.TRACE: "pixels that change or differ from the background by {level} levels",
}


@dataclass(frozen=True, slots=True)
class Screen:
    """Brightest and darkest value of every pixel over the frames looked at."""

    top: NDArray[np.uint8]  # (row, col)
    low: NDArray[np.uint8]  # (row, col)
    lift: NDArray[np.uint8]  # (row, col) grey levels above the empty screen, 0 where one flat colour is laid
    background: int  # grey level of the empty screen
    n_frames: int

    @property
    def moves(self) -> bool:
        """Whether there was more than one frame to compare."""
        return self.n_frames > 1

    @property
    def change(self) -> NDArray[np.uint8]:
        """Grey levels between the darkest and the brightest frame."""
        return np.asarray(cv2.subtract(self.top, self.low), np.uint8)

    @property
    def trace(self) -> NDArray[np.uint8]:
        """The largest of lift, change, and grey levels below the empty screen: what was ever painted."""
        sunk = cv2.subtract(np.full_like(self.low, self.background), self.low)
        return np.asarray(cv2.max(cv2.max(self.lift, self.change), sunk), np.uint8)


@dataclass(frozen=True, slots=True)
class Blob:
    """A painted area on the reduced screen, holes filled: one connected piece, or the hull of several.

    Several pieces make one picture where what lies between is empty: a probe in the air paints the nearest
    millimetres and, far down, amplified noise.
    """

    mask: NDArray[np.uint8]  # (row, col) of the reduced screen, 0 or 1
    contour: NDArray[np.float64]  # (n, 2) outline points (x, y) of the pieces
    area_px: int
    seen_by: str  # how it was seen, for the reason
    seen_in: Sign
    pieces: NDArray[np.uint8]  # (row, col) the pieces themselves, 0 or 1
    is_hull: bool = False


def look_at(frames: NDArray[np.uint8]) -> Screen:
    """Return what is bright and what changes on the screen.

    Parameters
    ----------
    frames : ndarray of shape (frame, row, col)
        Grey values, 8 bit, at least one frame.

    Raises
    ------
    ValueError
        If there is no frame, or the frames are not grey.
    """
    if frames.ndim != 3 or 0 in frames.shape:
        raise ValueError(f"expected grey frames (frame, row, col), got an array of shape {frames.shape}")
    used = _used(len(frames))
    top = frames[used[0]].copy()
    low = frames[used[0]].copy()
    for index in used[1:]:
        cv2.max(top, frames[index], dst=top)
        cv2.min(low, frames[index], dst=low)
    counts = np.bincount(low.ravel(), minlength=256)
    # An empty screen is black or a dark grey; a bright most-common value is a page of paper or a photograph.
    background = int(np.argmax(counts[:64])) if counts[:64].sum() > 0.1 * low.size else 0
    return Screen(top=top, low=low, lift=_lift(top, background), background=background, n_frames=len(used))


def look_at_pixels(pixels: NDArray[np.uint8]) -> Screen:
    """Return what `look_at` sees in the grey of frames (frame, row, col) or (frame, row, col, 3), RGB."""
    return look_at(some_in_grey(pixels, _used(len(pixels))))


def _used(n: int) -> NDArray[np.int64]:
    """Which of so many frames are looked at; of as many as are looked at, all."""
    return np.unique(np.linspace(0, n - 1, min(n, _FRAMES_USED)).astype(np.int64))


def _lift(top: NDArray[np.uint8], background: int) -> NDArray[np.uint8]:
    lift = cv2.subtract(top, np.full_like(top, background))
    # A menu bar or a box of one colour is no echo: speckle is never flat over 5 × 5 pixels short of saturation.
    square = np.ones((5, 5), np.uint8)
    span = cv2.subtract(cv2.dilate(top, square), cv2.erode(top, square))
    flat = cv2.compare(span, 1.0, cv2.CMP_LE) & cv2.compare(top, 250.0, cv2.CMP_LT)
    flat &= cv2.compare(lift, _SEEN_BAR, cv2.CMP_GE)  # the dark floor of a picture is flat as well
    lift[cv2.dilate(flat, square) > 0] = 0  # its rim is flat too: grow by what the square took away
    return np.asarray(lift, np.uint8)


def reduction(rows: int, cols: int) -> float:
    """Return screen pixels per pixel of the reduced screen, 1 or more."""
    return max(1.0, max(rows, cols) / _SMALL_PX)


def painted_blobs(screen: Screen, col_stretch: float = 1.0, hints: tuple[Box, ...] = ()) -> list[Blob]:
    """Return painted areas of the reduced screen at several thresholds, no two alike.

    The reduced screen has square pixels: `col_stretch` is the width of a screen pixel divided by its height.
    `hints` are boxes that the file names: each is tried as a window at the lowest thresholds, beside the whole
    screen, because it may part a picture from a bar that touches it.
    """
    rows, cols = screen.top.shape
    shrink = reduction(rows, cols)
    size = (max(8, round(cols * col_stretch / shrink)), max(8, round(rows / shrink)))
    kinds: list[tuple[Sign, NDArray[np.uint8], int]] = []
    if screen.moves:
        kinds += [(Sign.CHANGE, screen.change, level) for level in _CHANGES]
    kinds += [(Sign.LIFT, screen.lift, level) for level in _LIFTS]
    kinds += [(Sign.TRACE, screen.trace, level) for level in _TRACES]
    found: list[Blob] = []
    for sign, values, level in kinds:
        hits = cv2.compare(values, float(level), cv2.CMP_GE)
        share = cv2.resize(hits, size, interpolation=cv2.INTER_AREA)
        words = _WORDS[sign].format(level=level)
        mask = np.asarray(cv2.compare(share, 255 * _SHARE, cv2.CMP_GE) // 255, np.uint8)
        lowest = level in (_CHANGES[0], _LIFTS[0], _TRACES[0])
        for window in (*(hints if lowest else ()), None):
            for blob in _blobs(_windowed(mask, window, (rows, cols)), words, sign):
                if not any(_alike(blob, other) for other in found):
                    found.append(blob)
    return found


def _windowed(mask: NDArray[np.uint8], window: Box | None, size: tuple[int, int]) -> NDArray[np.uint8]:
    """The mask with all outside the window (in screen pixels) cleared."""
    if window is None:
        return mask
    down, across = mask.shape[0] / size[0], mask.shape[1] / size[1]
    kept = np.zeros_like(mask)
    rows = slice(round(window.row0 * down), round(window.row1 * down))
    cols = slice(round(window.col0 * across), round(window.col1 * across))
    kept[rows, cols] = mask[rows, cols]
    return kept


def _alike(one: Blob, two: Blob) -> bool:
    """Whether two areas would give the same fit: they share all but 2 % of their pixels."""
    if one.is_hull != two.is_hull or abs(one.area_px - two.area_px) > 0.02 * one.area_px:
        return False
    return bool(cv2.countNonZero(one.mask ^ two.mask) < 0.02 * one.area_px)


def _outline(mask: NDArray[np.uint8]) -> NDArray[np.float64]:
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.concatenate([contour[:, 0, :] for contour in contours]).astype(np.float64)


def _blobs(mask: NDArray[np.uint8], words: str, sign: Sign) -> list[Blob]:
    """Close small gaps, fill holes, cut off what is thin; the two largest, and hulls of those below each other."""
    closing = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    opening = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))  # wider than a line of text on the reduced screen
    padded = cv2.copyMakeBorder(mask, 9, 9, 9, 9, cv2.BORDER_REPLICATE)
    closed = np.ascontiguousarray(cv2.morphologyEx(padded, cv2.MORPH_CLOSE, closing)[9:-9, 9:-9])
    filled = np.zeros_like(mask)
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(filled, contours, -1, 1, cv2.FILLED)
    padded = cv2.copyMakeBorder(filled, 9, 9, 9, 9, cv2.BORDER_REPLICATE)
    opened = np.ascontiguousarray(cv2.morphologyEx(padded, cv2.MORPH_OPEN, opening)[9:-9, 9:-9])
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    areas = stats[:, cv2.CC_STAT_AREA]
    large = [k for k in range(1, count) if areas[k] >= _MIN_PIECE_FRACTION * mask.size]
    large.sort(key=lambda k: -int(areas[k]))
    found = []
    for label in [k for k in large if areas[k] >= _MIN_AREA_FRACTION * mask.size][:2]:
        piece = (labels == label).astype(np.uint8)
        found.append(
            Blob(
                mask=piece,
                contour=_outline(piece),
                area_px=int(areas[label]),
                seen_by=words,
                seen_in=sign,
                pieces=piece,
            )
        )
    for one, two in combinations(large[:4], 2):
        if not _share_columns(stats[one], stats[two]):
            continue
        pieces = ((labels == one) | (labels == two)).astype(np.uint8)
        points = _outline(pieces)
        hull = np.zeros_like(mask)
        cv2.fillConvexPoly(hull, cv2.convexHull(points.astype(np.int32)), 1)
        found.append(
            Blob(
                mask=hull,
                contour=points,
                area_px=int(hull.sum()),
                seen_by=words,
                seen_in=sign,
                pieces=pieces,
                is_hull=True,
            )
        )
    return found


def _share_columns(one: NDArray[np.int32], two: NDArray[np.int32]) -> bool:
    """Whether two pieces lie below each other, as parts of one picture do: the narrower within the wider."""
    first = max(one[cv2.CC_STAT_LEFT], two[cv2.CC_STAT_LEFT])
    last = min(one[cv2.CC_STAT_LEFT] + one[cv2.CC_STAT_WIDTH], two[cv2.CC_STAT_LEFT] + two[cv2.CC_STAT_WIDTH])
    return bool(last - first > 0.8 * min(one[cv2.CC_STAT_WIDTH], two[cv2.CC_STAT_WIDTH]))
