"""Rows of letter-like marks on plain ground: a net under the network that finds text, for small print."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box

# All limits here are engineering judgement, set on invented screens; the real files were not used to choose them.
_STROKE_PX: Final = 15  # strokes are thinner than this
_RISE: Final = 40  # grey values of a stroke above (or below) its ground
_LETTER_HEIGHTS_PX: Final = (4, 40)
_WIDEST_LETTER: Final = 2.5  # of its height
_WIDEST_WORD: Final = 15.0  # of its height: small print where all letters touch makes one mark
_INK: Final = (0.2, 0.8)  # share of its box that such a word covers; frames cover less, bars more
_FEWEST_LETTERS: Final = 3
_WIDEST_GAP: Final = 1.0  # between letters of a row, in letter heights: a space is about half
_LEAST_OVERLAP: Final = 0.5  # of heights, for two letters to stand on one line
_LIKE_HEIGHT: Final = 2.2  # a capital and a small letter of one line
_GROUND_SHARES: Final = (0.1, 0.9)  # of the ground beside a row, from dark to bright
_FLAT: Final = 16  # grey values between these of the ground; tissue varies more
_TILE_PX: Final = 64
_MOST_MARKS: Final = 80  # in a tile; six lines of the smallest print have sixty, speckle has hundreds
_MOST_LETTERS: Final = 3000  # real screens hold some hundred; more is a hostile picture, which must not take minutes


def find_letter_rows(grey: NDArray[np.uint8]) -> tuple[Box, ...]:
    """Return boxes around rows of at least three letter-like marks.

    Parameters
    ----------
    grey : ndarray of shape (row, col)
        Overlay in grey values.

    Returns
    -------
    tuple of Box
        From top to bottom. Marks that stand in a column (ruler ticks), long lines (traces, frames) and large
        areas (bars) are no letters.

    Notes
    -----
    Works on brightness alone and knows no letter; bright letters on dark and dark letters on bright alike. Over
    echoes the ground is not plain: small print there is missed.
    """
    boxes: list[Box] = []
    kernel = np.ones((_STROKE_PX, _STROKE_PX), np.uint8)
    for operation in (cv2.MORPH_TOPHAT, cv2.MORPH_BLACKHAT):
        strokes = np.asarray(cv2.morphologyEx(grey, operation, kernel) > _RISE)
        boxes.extend(row for row in _rows(_letters(strokes)) if _is_on_flat_ground(grey, row))
    return tuple(sorted(boxes, key=lambda box: (box.row0, box.col0)))


def _letters(strokes: NDArray[np.bool_]) -> list[Box]:
    """Marks of the size and shape of a letter, from left to right; none where marks are as dense as speckle."""
    _, _, stats, middles = cv2.connectedComponentsWithStats(strokes.astype(np.uint8), connectivity=8)
    stats, middles = stats[1:], middles[1:]
    tiles = np.asarray(middles[:, ::-1] // _TILE_PX, int)
    dense = np.zeros((strokes.shape[0] // _TILE_PX + 1, strokes.shape[1] // _TILE_PX + 1), int)
    np.add.at(dense, (tiles[:, 0], tiles[:, 1]), 1)
    plain = dense[tiles[:, 0], tiles[:, 1]] <= _MOST_MARKS
    letters = [
        Box(row0=int(row), col0=int(col), row1=int(row + height), col1=int(col + width))
        for col, row, width, height, area in stats[plain]
        if _is_letter_like(int(width), int(height), int(area))
    ]
    return sorted(letters, key=lambda box: box.col0) if len(letters) <= _MOST_LETTERS else []


def _is_letter_like(width: int, height: int, area: int) -> bool:
    low, high = _LETTER_HEIGHTS_PX
    if not low <= height <= high or area < height:
        return False
    if width <= _WIDEST_LETTER * height:
        return True
    return width <= _WIDEST_WORD * height and _INK[0] <= area / (width * height) <= _INK[1]


def _count_letters(row: list[Box]) -> int:
    """How many letters a row holds, if a letter is about as wide as high."""
    return sum(max(1, round(box.width_px / box.height_px)) for box in row)


def _rows(letters: list[Box]) -> list[Box]:
    """Letters joined to rows, each mark to the nearest row that it continues."""
    rows: list[list[Box]] = []
    open_rows: list[list[Box]] = []
    for letter in letters:
        open_rows = [row for row in open_rows if letter.col0 - row[-1].col1 <= _WIDEST_GAP * _LETTER_HEIGHTS_PX[1]]
        row0, row1 = letter.row0, letter.row1
        for row in reversed(open_rows):
            last = row[-1]
            # most rows stand above or below the letter
            if last.row0 < row1 and row0 < last.row1 and _continues(last, letter):
                row.append(letter)
                break
        else:
            rows.append([letter])
            open_rows.append(rows[-1])
    return [
        Box(
            row0=min(box.row0 for box in row),
            col0=row[0].col0,
            row1=max(box.row1 for box in row),
            col1=max(box.col1 for box in row),
        )
        for row in rows
        if _count_letters(row) >= _FEWEST_LETTERS
    ]


def _is_on_flat_ground(grey: NDArray[np.uint8], row: Box) -> bool:
    """Whether the two rows of pixels above and below are even: text stands on a plain, tissue does not."""
    cols = slice(row.col0, row.col1)
    beside = np.concatenate(
        [grey[max(row.row0 - 3, 0) : max(row.row0 - 1, 0), cols], grey[row.row1 + 1 : row.row1 + 3, cols]]
    )
    if beside.size == 0:
        return True
    ordered = np.sort(beside, axis=None)
    # Each percentile lies between two of the values: mostly these tell already.
    low, high = (int((len(ordered) - 1) * share) for share in _GROUND_SHARES)
    above_low, above_high = (min(place + 1, len(ordered) - 1) for place in (low, high))
    if int(ordered[above_high]) - int(ordered[low]) <= _FLAT:
        return True
    if int(ordered[high]) - int(ordered[above_low]) > _FLAT:
        return False
    darkest, brightest = np.quantile(ordered, _GROUND_SHARES)
    return float(brightest - darkest) <= _FLAT


def _continues(last: Box, letter: Box) -> bool:
    lower, higher = sorted((last.height_px, letter.height_px))
    shared = min(last.row1, letter.row1) - max(last.row0, letter.row0)
    return (
        letter.col0 - last.col1 <= _WIDEST_GAP * higher
        and letter.col0 > last.col0
        and shared >= _LEAST_OVERLAP * lower
        and higher <= _LIKE_HEIGHT * lower
    )
