"""The parts of a screen that stand still: ruler, grey bar, focus, marker, rules, words."""

from __future__ import annotations

import math
from string import Formatter

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import (
    Align,
    FocusMark,
    FocusShape,
    GreyBar,
    Ink,
    MarkerShape,
    MarkerStyle,
    Rule,
    RulerStyle,
    TextBlock,
    TickShape,
)
from fanlight.simulate.screen.screen_truth import RulerTruth, TextTruth
from fanlight.simulate.screen.screen_words import draw_words, words_size_px
from fanlight.study import Sector

Canvas = NDArray[np.uint8]  # (row, col, 3), changed in place

_IDENTITY = frozenset({"practice", "animal", "owner", "case_number", "at"})


def draw_block(canvas: Canvas, block: TextBlock, facts: ScreenFacts) -> tuple[TextTruth, ...]:
    """Draw the lines of a block whose facts are known, and return them with their boxes."""
    drawn = []
    row, col = block.row_px, block.col_px
    for template in block.lines:
        text = facts.words(template)
        if not text.strip():
            continue
        asked = {name for _, name, _, _ in Formatter().parse(template) if name}
        for part in _broken(text, block):
            box = draw_words(canvas, part, row, col, block.lettering, block.align)
            drawn.append(TextTruth(text=part, box=box, identity=bool(asked & _IDENTITY)))
            row, col = (row, col + block.across_px) if block.across_px else (row + block.step_px, col)
    return tuple(drawn)


def _broken(text: str, block: TextBlock) -> list[str]:
    """The line in pieces that are no wider than the block, broken between words."""
    if not block.width_px:
        return [text]
    parts: list[str] = []
    for word in text.split():
        longer = f"{parts[-1]} {word}" if parts else word
        if parts and words_size_px(longer, block.lettering)[1] <= block.width_px:
            parts[-1] = longer
        else:
            parts.append(word)
    return parts


def draw_rules(canvas: Canvas, rules: tuple[Rule, ...]) -> None:
    """Draw lines and panels."""
    for rule in rules:
        if rule.fill:
            canvas[rule.row0 : rule.row1, rule.col0 : rule.col1] = rule.ink
        else:
            cv2.line(canvas, (rule.col0, rule.row0), (rule.col1, rule.row1), rule.ink, 1)


def draw_ruler(
    canvas: Canvas, style: RulerStyle, *, face_row_px: float, mm_per_px: float, depth_mm: float
) -> tuple[RulerTruth, tuple[TextTruth, ...]]:
    """Draw depth marks from the face down; return their places and the numbers beside them.

    Marks stand on whole rows, as on a real screen: the truth is the row that was drawn.
    """
    count = math.floor(depth_mm / style.step_mm + 1e-9) + 1
    rows = [round(face_row_px + index * style.step_mm / mm_per_px) for index in range(count)]
    if style.axis:
        cv2.line(canvas, (style.col_px, rows[0]), (style.col_px, rows[-1]), _dimmed(style.ink), 1)
    numbers = []
    for index, row in enumerate(rows):
        is_large = bool(style.large_every) and index % style.large_every == 0
        _draw_tick(canvas, style, row, style.large_px if is_large else style.size_px)
        if style.lettering is not None and style.number_every and index and index % style.number_every == 0:
            reach = max(style.size_px, style.large_px) // 2 + style.number_gap_px
            text = f"{index * style.step_mm / 10:g}"
            box = draw_words(
                canvas,
                text,
                row + style.lettering.height_px // 2,
                style.col_px + (-reach if style.numbers_left else reach),
                style.lettering,
                Align.RIGHT if style.numbers_left else Align.LEFT,
            )
            numbers.append(TextTruth(text=text, box=box, identity=False))
    places = tuple(float(row) for row in rows)
    return RulerTruth(col_px=float(style.col_px), rows_px=places, step_mm=style.step_mm), tuple(numbers)


def _dimmed(ink: Ink) -> Ink:
    """A third of the ink: lines that only lead the eye."""
    return (ink[0] // 3, ink[1] // 3, ink[2] // 3)


def _draw_tick(canvas: Canvas, style: RulerStyle, row: int, width: int) -> None:
    col, half = style.col_px, width // 2
    if style.shape is TickShape.LINE:
        cv2.line(canvas, (col - half, row), (col - half + width - 1, row), style.ink, 1)
    elif style.shape is TickShape.DOT:
        cv2.circle(canvas, (col, row), half, style.ink, cv2.FILLED, cv2.LINE_AA)
    elif style.shape is TickShape.SQUARE:
        canvas[row - half : row - half + width, col - half : col - half + width] = style.ink
    else:
        wedge = np.array([(col - half, row), (col + half, row - half // 2), (col + half, row + half // 2)], np.int32)
        cv2.fillConvexPoly(canvas, wedge, style.ink, cv2.LINE_AA)


def draw_grey_bar(canvas: Canvas, bar: GreyBar) -> None:
    """Draw the wedge of grey levels."""
    height, width = bar.row1 - bar.row0, bar.col1 - bar.col0
    if bar.across:
        levels = np.linspace(0, 255, width).astype(np.uint8)[None, :, None]
    else:
        levels = np.linspace(255, 0, height).astype(np.uint8)[:, None, None]
    canvas[bar.row0 : bar.row1, bar.col0 : bar.col1] = levels
    if bar.frame_ink is not None:
        cv2.rectangle(canvas, (bar.col0 - 1, bar.row0 - 1), (bar.col1, bar.row1), bar.frame_ink, 1)


def draw_focus(canvas: Canvas, mark: FocusMark, row_px: float) -> None:
    """Draw the mark at the depth of the focus; it points at the picture from its left."""
    row, col, half = round(row_px), mark.col_px, mark.size_px // 2
    if mark.shape is FocusShape.BAR:
        cv2.line(canvas, (col, row - half), (col, row + half), mark.ink, 2)
        return
    corners = {
        FocusShape.TRIANGLE: [(col - half, row - half), (col + half, row), (col - half, row + half)],
        FocusShape.CHEVRON: [(col - half, row - half), (col + half, row), (col - half, row + half)],
        FocusShape.DIAMOND: [(col, row - half), (col + half, row), (col, row + half), (col - half, row)],
    }[mark.shape]
    points = np.array(corners, np.int32)
    if mark.shape is FocusShape.CHEVRON:
        cv2.polylines(canvas, [points], False, mark.ink, 1, cv2.LINE_AA)
    else:
        cv2.fillConvexPoly(canvas, points, mark.ink, cv2.LINE_AA)


def draw_marker(canvas: Canvas, style: MarkerStyle, sector: Sector, at_left: bool = False) -> tuple[int, int]:
    """Draw the sign of the probe's marker beside the face, usually at its right; return its middle (row, col)."""
    face_row, face_col = sector.point(0.0, 0.0 if at_left else 1.0)
    half = style.size_px // 2
    away = style.gap_px + half
    row, col = round(face_row) + half, round(face_col) + (-away if at_left else away)
    if style.shape is MarkerShape.RING:
        cv2.circle(canvas, (col, row), half, style.ink, 1, cv2.LINE_AA)
    elif style.shape is MarkerShape.DISC:
        cv2.circle(canvas, (col, row), half, style.ink, cv2.FILLED, cv2.LINE_AA)
    elif style.shape is MarkerShape.SQUARE:
        cv2.rectangle(canvas, (col - half, row - half), (col + half, row + half), style.ink, 1)
    else:
        cv2.line(canvas, (col - half, row), (col + half, row), style.ink, 1)
        cv2.line(canvas, (col, row - half), (col, row + half), style.ink, 1)
    return row, col
