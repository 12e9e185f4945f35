"""The picture of a finding: the frame cut to the ultrasound picture, with the evidence drawn on it."""

from __future__ import annotations

from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.report.document import Figure
from fanlight.study import Box, Evidence, Layout, Mask, Picture, Point, Polyline, Sector, SpatialFormat, Strip

_LINE = (255, 196, 120)  # RGB; light ochre over near-black, with a dark rim so that it shows on bright tissue too
_RIM = (20, 20, 20)
_TARGET_WIDTH_PX = 900
_LINE_PX, _RIM_PX = 3, 7  # at the target width
_LETTERS = 1.1  # so that a label on a third of the page is as large as the small print
_MARGIN_PX = 6


class FrameSource(Protocol):
    """Port: frames of reviewed clips."""

    def frame(self, clip: str, frame: int) -> NDArray[np.uint8] | None:
        """Return (row, col) or (row, col, 3), or None when it cannot be decoded."""
        ...


# Share of the screen: beside a guide and its words a strip has at most this much room (engineering judgement).
_LARGEST_STRIP = 0.65


def picture_box(picture: Picture | None, rows: int, cols: int) -> Box:
    """Return the smallest box around the ultrasound picture: screen text with names stays outside."""
    whole = Box(row0=0, col0=0, row1=rows, col1=cols)
    if picture is None:
        return whole
    if isinstance(picture, Strip):
        found = picture.box
    else:
        assert isinstance(picture, Sector)
        beams = np.linspace(0, 1, 65)
        points = np.array([picture.point(depth, float(beam)) for depth in (0.0, 1.0) for beam in beams])
        row0, col0 = np.floor(points.min(axis=0)).astype(int)
        row1, col1 = np.ceil(points.max(axis=0)).astype(int) + 1
        found = Box(row0=int(row0), col0=int(col0), row1=int(row1), col1=int(col1))
    return _padded(found).clipped_to(rows, cols) or whole


def _padded(box: Box) -> Box:
    return Box(
        row0=box.row0 - _MARGIN_PX, col0=box.col0 - _MARGIN_PX, row1=box.row1 + _MARGIN_PX, col1=box.col1 + _MARGIN_PX
    )  # fmt: skip


def strips_of(layout: Layout) -> tuple[Box, ...]:
    """Return the strips beside the picture, spectra and M-modes as the file states them, with a margin.

    A strip is taken at its word only as far as no name can hide in it: one that covers most of the screen, or on which
    words stand that may name somebody, is left out.
    """
    formats = (SpatialFormat.SPECTRAL, SpatialFormat.M_MODE)
    held = [item.region.box for item in layout.regions if item.trusted and item.region.spatial_format in formats]
    named = [text.box for text in layout.texts if not text.is_technical]
    shown = [
        box
        for box in held
        if box.area_px <= _LARGEST_STRIP * layout.rows * layout.cols and not any(box.overlap_px(item) for item in named)
    ]
    return tuple(box for each in shown if (box := _padded(each).clipped_to(layout.rows, layout.cols)) is not None)


def cited_box(layout: Layout, rows: int, cols: int) -> Box:
    """Return what a letter cuts out: the picture, and with it the strip that it guides."""
    boxes = [picture_box(layout.picture, rows, cols), *(strips_of(layout) if layout.picture is not None else ())]
    return Box(
        row0=min(box.row0 for box in boxes), col0=min(box.col0 for box in boxes),
        row1=max(box.row1 for box in boxes), col1=max(box.col1 for box in boxes),
    )  # fmt: skip


def _outside_blanked(pixels: NDArray[np.uint8], layout: Layout) -> NDArray[np.uint8]:
    """Blacken what lies in the cut-out box but outside sector and strip, and text on it that may name somebody."""
    picture = layout.picture
    named = [text.box.clipped_to(*pixels.shape[:2]) for text in layout.texts if not text.is_technical]
    if any(named):
        pixels = pixels.copy()
        for box in named:
            if box is not None:
                pixels[box.row0 : box.row1, box.col0 : box.col1] = 0
    if not isinstance(picture, Sector):
        return pixels
    beams = np.linspace(0, 1, 65)
    far = [picture.point(1.0, float(beam)) for beam in beams]
    near = [picture.point(0.0, float(beam)) for beam in beams[::-1]]
    outline = np.array([[col, row] for row, col in far + near])
    mask = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(outline).astype(np.int32)], 255)
    mask = cv2.dilate(mask, np.ones((2 * _MARGIN_PX + 1, 2 * _MARGIN_PX + 1), np.uint8))
    for strip in strips_of(layout):
        mask[strip.row0 : strip.row1, strip.col0 : strip.col1] = 255
    return np.where(mask[..., None] > 0, pixels, 0).astype(np.uint8)


def draw_evidence(
    pixels: NDArray[np.uint8], layout: Layout, evidence: tuple[Evidence, ...], frame: int, *,
    longest_px: int | None = None, has_labels: bool = True,
) -> NDArray[np.uint8]:  # fmt: skip
    """Return the cut-out picture with evidence drawn on it, enlarged to a fixed width or made smaller.

    Parameters
    ----------
    pixels : ndarray of shape (row, col) or (row, col, 3)
        One frame, 8 bit.
    layout : Layout
        Of the clip.
    evidence : tuple of Evidence
        Shapes in pixels of the stored frame; those of other frames are left out.
    frame : int
        Which frame it is, counted from 0.
    longest_px : int, optional
        The longer side is made no larger than this, and nothing is enlarged; None: enlarged to a fixed width.
    has_labels : bool
        Words beside the shapes.

    Returns
    -------
    ndarray of shape (row, col, 3), RGB
    """
    colour = np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels
    colour = _outside_blanked(colour, layout)
    box = cited_box(layout, *colour.shape[:2])
    cut = colour[box.row0 : box.row1, box.col0 : box.col1]
    scale = min(max(_TARGET_WIDTH_PX / cut.shape[1], 1.0), 4.0)
    if longest_px is not None:
        scale = min(longest_px / max(cut.shape[:2]), 1.0)
    way = cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
    out = np.ascontiguousarray(cv2.resize(cut, None, fx=scale, fy=scale, interpolation=way))
    written: set[str] = set()
    for item in evidence:
        if item.frame is None or item.frame == frame:
            _draw(out, item, box, scale, item.label if has_labels and item.label not in written else "")
            written.add(item.label)
    return out


def _place(point: Point, box: Box, scale: float) -> tuple[int, int]:
    row, col = point
    return round((col - box.col0 + 0.5) * scale), round((row - box.row0 + 0.5) * scale)


def _draw(out: NDArray[np.uint8], item: Evidence, box: Box, scale: float, label: str) -> None:
    shape = item.shape
    if isinstance(shape, Mask):
        mask = np.zeros(out.shape[:2], np.uint8)
        for row, col, length in shape.runs:
            top = _place((row - 0.5, col - 0.5), box, scale)
            bottom = _place((row + 0.5, col + length - 0.5), box, scale)
            cv2.rectangle(mask, top, bottom, 255, -1)
        outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        lines = [(line, True) for line in outlines]
    elif isinstance(shape, Box):
        corners = [
            (shape.row0, shape.col0),
            (shape.row0, shape.col1),
            (shape.row1, shape.col1),
            (shape.row1, shape.col0),
        ]
        lines = [(np.array([_place((r - 0.5, c - 0.5), box, scale) for r, c in corners], np.int32), True)]
    else:
        assert isinstance(shape, Polyline)
        lines = [(np.array([_place(point, box, scale) for point in shape.points], np.int32), shape.closed)]
    fine = min(out.shape[1] / _TARGET_WIDTH_PX, 1.0)
    for line, closed in lines:
        cv2.polylines(out, [line], closed, _RIM, max(round(_RIM_PX * fine), 3), cv2.LINE_AA)
        cv2.polylines(out, [line], closed, _LINE, max(round(_LINE_PX * fine), 1), cv2.LINE_AA)
    if label and lines:
        _write(out, label, np.vstack([np.reshape(line, (-1, 2)) for line, _ in lines]))


def _write(out: NDArray[np.uint8], label: str, points: NDArray[np.int32]) -> None:
    plain = label.encode("ascii", "ignore").decode()  # the line font of OpenCV knows no other letters
    size = max(_LETTERS * min(out.shape[1] / _TARGET_WIDTH_PX, 1.0), 0.45)
    (width, height), _ = cv2.getTextSize(plain, cv2.FONT_HERSHEY_SIMPLEX, size, 2)
    x = int(np.clip(points[:, 0].min(), 4, max(out.shape[1] - width - 4, 4)))
    y = int(np.clip(points[:, 1].min() - 8, height + 4, out.shape[0] - 6))
    cv2.putText(out, plain, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, _RIM, 7 if size > 0.8 else 4, cv2.LINE_AA)
    cv2.putText(out, plain, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, _LINE, 2 if size > 0.8 else 1, cv2.LINE_AA)


def figure_of(
    source: FrameSource,
    clip: str,
    frame: int,
    layout: Layout,
    evidence: tuple[Evidence, ...],
    caption: str,
    width_fraction: float = 0.45,
) -> Figure | None:
    """Return the annotated picture of one clip, or None when the frame cannot be decoded."""
    pixels = source.frame(clip, frame)
    if pixels is None:
        return None
    drawn = draw_evidence(pixels, layout, evidence, frame)
    ok, png = cv2.imencode(".png", drawn[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 3])
    if not ok:
        return None
    labels = ", ".join(dict.fromkeys(item.label for item in evidence if item.label))
    alt = f"{caption} Marked: {labels}." if labels else caption
    return Figure(png=png.tobytes(), caption=caption, alt=alt, width_fraction=width_fraction)
