"""A first, rough fit of a sector or a strip to one painted area: straight edges, then apex, then arcs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.painted import Blob

_ANGLE_STEP_DEG = 1.0
_BIN_PX = 1.5
_LINES_KEPT = 10
_LEAST_VOTES = 12  # a shorter run on the reduced screen is a corner or a letter
# A fan narrower than this cannot be told from a strip by its edges; wider than this no array steers (physics:
# elements of half a wavelength and more lose nearly all sensitivity beyond 80 degrees to either side).
_MIN_WIDTH_DEG = 8.0
_MAX_WIDTH_DEG = 165.0
# A face more curved than a straight one lies at most this many picture depths from its apex; flatter is a strip
# whose outline is uneven. (Curved arrays have radii up to some 60 mm and look at least 20 mm deep.)
_MAX_NEAR_PER_DEPTH = 3.0


@dataclass(frozen=True, slots=True)
class RoughFit:
    """A sector (six numbers) or a strip (four) in pixels of the reduced screen, and how well it covers the area."""

    # apex x, apex y, left and right angle (rad from straight down), near and far radius; or x0, y0, x1, y1
    numbers: tuple[float, ...]
    overlap_fraction: float  # intersection over union with the painted area
    edge_fraction: float  # share of the outline of the painted area that lies on the fitted outline

    @property
    def is_sector(self) -> bool:
        """Whether it is a sector."""
        return len(self.numbers) == 6

    @property
    def score(self) -> float:
        """Overlap, weighted with how closely the outlines follow each other."""
        return self.overlap_fraction * (0.4 + 0.6 * self.edge_fraction)


def fan_outline(numbers: tuple[float, ...], n_arc: int = 48) -> NDArray[np.float64]:
    """Return the closed outline (x, y) of a sector given by its six numbers."""
    apex_x, apex_y, left, right, near, far = numbers
    angles = np.linspace(left, right, n_arc)
    outer = np.stack([apex_x + far * np.sin(angles), apex_y + far * np.cos(angles)], axis=1)
    inner = np.stack([apex_x + near * np.sin(angles), apex_y + near * np.cos(angles)], axis=1)[::-1]
    return np.concatenate([outer, inner])


def _fill(outline: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.uint8]:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(np.clip(outline, -8000, 8000) * 16).astype(np.int32)], 1, shift=4)
    return mask


@dataclass(frozen=True, slots=True)
class _Area:
    mask: NDArray[np.uint8]
    contour: NDArray[np.float64]  # (n, 2) x, y; points on the rim of the screen left out
    reach: NDArray[np.float64]  # (n, 2) x, y; all of them
    window: tuple[int, int, int, int]  # x0, y0, x1, y1 that may cut the fan (inclusive)
    centre: NDArray[np.float64]
    is_hull: bool


def _area(blob: Blob) -> _Area:
    mask, contour = blob.mask, blob.contour
    rows, cols = mask.shape
    x, y = contour[:, 0], contour[:, 1]
    x0, y0, x1, y1 = x.min(), y.min(), x.max(), y.max()
    width, height = x1 - x0 + 1, y1 - y0 + 1

    # A side of the bounding box that the outline follows for 30 % of its length is a cut: an arc of 400 px radius
    # stays within one pixel of its tangent for 2·sqrt(2·400) = 57 px only.
    def is_cut(along: NDArray[np.bool_], length: float) -> bool:
        return float(along.sum()) > 0.3 * length

    window = (
        int(x0) if is_cut(x <= x0 + 0.5, height) else 0,
        int(y0) if is_cut(y <= y0 + 0.5, width) and y0 <= 1 else 0,
        int(x1) if is_cut(x >= x1 - 0.5, height) else cols - 1,
        int(y1) if is_cut(y >= y1 - 0.5, width) else rows - 1,
    )
    rim = (x <= 0) | (y <= 0) | (x >= cols - 1) | (y >= rows - 1)
    inside = contour[~rim] if (~rim).sum() >= 30 else contour
    moments = cv2.moments(mask, binaryImage=True)
    centre = np.array([moments["m10"] / moments["m00"], moments["m01"] / moments["m00"]])
    return _Area(mask=mask, contour=inside, reach=contour, window=window, centre=centre, is_hull=blob.is_hull)


@dataclass(frozen=True, slots=True)
class _Line:
    """A straight run of the outline: unit normal, offset along it, and the middle of the points on it."""

    normal: NDArray[np.float64]
    offset: float
    middle: NDArray[np.float64]


def _lines(area: _Area) -> list[_Line]:
    """Return straight runs of the outline, strongest first (Hough transform)."""
    points = area.contour
    angles = np.radians(np.arange(0.0, 180.0, _ANGLE_STEP_DEG))
    normals = np.stack([np.cos(angles), np.sin(angles)])
    offsets = points @ normals  # (point, angle)
    low = float(offsets.min())
    bins = ((offsets - low) / _BIN_PX).astype(np.int64)
    n_bins = int(bins.max()) + 1
    flat = bins + np.arange(len(angles)) * n_bins
    votes = np.bincount(flat.ravel(), minlength=n_bins * len(angles)).reshape(len(angles), n_bins).astype(np.float32)
    votes = cv2.filter2D(votes, -1, np.array([[0.5, 1.0, 0.5]], np.float32), borderType=cv2.BORDER_CONSTANT)
    found: list[_Line] = []
    for _ in range(_LINES_KEPT):
        angle_index, bin_index = np.unravel_index(int(np.argmax(votes)), votes.shape)
        if votes[angle_index, bin_index] < _LEAST_VOTES:
            break
        offset = low + (float(bin_index) + 0.5) * _BIN_PX
        near = np.abs(offsets[:, angle_index] - offset) < 2.5
        line = _straightened(points, normals[:, angle_index], offset)
        found.append(line)
        # Clear the neighbourhood of this line: 5 degrees and 6 px about its own middle.
        middle = points[near].mean(axis=0)
        for step in range(-5, 6):
            other = (int(angle_index) + step) % len(angles)
            at = int((float(middle @ normals[:, other]) - low) / _BIN_PX)
            votes[other, max(at - 4, 0) : at + 5] = 0
    return found


def _straightened(points: NDArray[np.float64], normal: NDArray[np.float64], offset: float) -> _Line:
    """Fit the line anew to the points near it (total least squares, twice)."""
    middle = normal * offset
    for width in (2.5, 1.5):
        near = points[np.abs(points @ normal - offset) < width]
        if len(near) < 8:
            break
        middle = near.mean(axis=0)
        dx, dy = (near - middle).T
        xx, yy, xy = float(dx @ dx), float(dy @ dy), float(dx @ dy)
        along = 0.5 * math.atan2(2 * xy, xx - yy)  # direction of the longer axis of the scatter
        turned = np.array([-math.sin(along), math.cos(along)])
        normal = turned if turned @ normal >= 0 else -turned
        offset = float(normal @ middle)
    return _Line(normal=normal, offset=offset, middle=middle)


def _apex(one: _Line, two: _Line) -> NDArray[np.float64] | None:
    determinant = one.normal[0] * two.normal[1] - one.normal[1] * two.normal[0]
    if abs(determinant) < math.sin(math.radians(_MIN_WIDTH_DEG)):
        return None
    x = one.offset * two.normal[1] - two.offset * one.normal[1]
    y = one.normal[0] * two.offset - two.normal[0] * one.offset
    return np.asarray(np.array([x, y]) / determinant)


def _edge_angle(line: _Line, apex: NDArray[np.float64]) -> float:
    """Angle from straight down, at the apex, of the half of the line on which the outline lies."""
    direction = np.array([-line.normal[1], line.normal[0]])
    if (line.middle - apex) @ direction < 0:
        direction = -direction
    return math.atan2(direction[0], direction[1])


def _common(values: NDArray[np.float64], width_px: float, first: bool = False) -> float | None:
    """Return the densest value (a sliding window of this width), or None for too few.

    `first`: the smallest value that is at least half as dense; the face lies nearer than the bands below it.
    """
    if len(values) < 6:
        return None
    ordered = np.sort(values)
    ends = np.searchsorted(ordered, ordered + width_px, side="right")
    counts = ends - np.arange(len(ordered))
    best = int(np.argmax(counts >= 0.5 * counts.max())) if first else int(np.argmax(counts))
    return float(np.median(ordered[best : ends[best]]))


def _with_arcs(apex: NDArray[np.float64], left: float, right: float, area: _Area) -> tuple[float, ...] | None:
    """Add near and far radius: where the outline between the edges runs round the apex."""
    away = area.contour - apex
    radius = np.hypot(away[:, 0], away[:, 1])
    angle = np.arctan2(away[:, 0], away[:, 1])
    margin = 0.06 * (right - left)
    between = (angle > left + margin) & (angle < right - margin)
    rim = radius[between]  # nearly empty for a pointed fan whose arc the screen cuts off
    farthest = float(np.quantile(np.hypot(*(area.reach - apex).T), 0.995))
    # The deepest arc that carries a fair share of the outline; where the screen cuts it off, the farthest corner.
    deep = rim[rim > 0.85 * farthest]
    far = _common(deep, 3.0)
    if far is None or far < 0.9 * farthest:
        far = farthest
    shallow = rim[rim < 0.6 * far]
    if len(shallow) == 0 and len(rim) > 0:
        shallow = rim[rim < 0.5 * (float(rim.min()) + far)]
    near = _common(shallow, 3.0, first=True)
    if near is None or near < 0.02 * far:
        near = 0.0
    if far < near + 5 or near > _MAX_NEAR_PER_DEPTH * (far - near):
        return None
    return (float(apex[0]), float(apex[1]), left, right, max(near, 0.0), far)


def _judge(numbers: tuple[float, ...], area: _Area) -> RoughFit:
    if len(numbers) == 6:
        outline = fan_outline(numbers)
    else:
        x0, y0, x1, y1 = numbers
        outline = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    if area.is_hull:
        outline = cv2.convexHull(np.clip(outline, -8000, 8000).astype(np.float32))[:, 0, :].astype(np.float64)
    model = _fill(outline, (area.mask.shape[0], area.mask.shape[1]))
    x0, y0, x1, y1 = area.window
    model[:y0] = 0
    model[y1 + 1 :] = 0
    model[:, :x0] = 0
    model[:, x1 + 1 :] = 0
    both = int(cv2.countNonZero(model & area.mask))
    either = int(cv2.countNonZero(model | area.mask))
    rim = cv2.morphologyEx(model, cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8))
    on_rim = rim[area.contour[:, 1].astype(int), area.contour[:, 0].astype(int)]
    return RoughFit(
        numbers=numbers,
        overlap_fraction=both / max(either, 1),
        edge_fraction=float(np.count_nonzero(on_rim)) / max(len(on_rim), 1),
    )


def _sectors_from_lines(area: _Area) -> list[RoughFit]:
    fits: list[RoughFit] = []
    for one, two in combinations(_lines(area), 2):
        apex = _apex(one, two)
        if apex is None:
            continue
        left, right = sorted((_edge_angle(one, apex), _edge_angle(two, apex)))
        if not math.radians(_MIN_WIDTH_DEG) < right - left < math.radians(_MAX_WIDTH_DEG):
            continue
        towards = math.atan2(area.centre[0] - apex[0], area.centre[1] - apex[1])
        if not left < towards < right or abs(0.5 * (left + right)) > math.radians(75):
            continue
        numbers = _with_arcs(apex, left, right, area)
        if numbers is not None:
            fits.append(_judge(numbers, area))
    return fits


def _circle(points: NDArray[np.float64]) -> tuple[float, float, float] | None:
    """Least-squares circle (centre x, y, radius) through points."""
    matrix = np.column_stack([2 * points, np.ones(len(points))])
    try:
        solved, *_ = np.linalg.lstsq(matrix, (points**2).sum(axis=1), rcond=None)
    except np.linalg.LinAlgError:
        return None
    squared = solved[2] + solved[0] ** 2 + solved[1] ** 2
    return (float(solved[0]), float(solved[1]), math.sqrt(squared)) if squared > 0 else None


def _sectors_from_arc(area: _Area) -> list[RoughFit]:
    """Fans from the deepest arc alone: its centre is the apex. Serves pictures whose sides are in shadow."""
    x, y = area.contour[:, 0], area.contour[:, 1]
    deepest = np.full(area.mask.shape[1], -1.0)
    np.maximum.at(deepest, x.astype(int), y)
    fits: list[RoughFit] = []
    for share in (0.5, 0.7, 0.85):
        # Lowest outline point of each column, columns near the middle of the area.
        width = x.max() - x.min()
        centre_x = 0.5 * (x.min() + x.max())
        columns = np.unique(x[np.abs(x - centre_x) < 0.5 * share * width]).astype(int)
        if len(columns) < 12:
            continue
        lowest = np.column_stack([columns, deepest[columns]])
        keep = np.ones(len(lowest), bool)
        circle = None
        for _ in range(4):
            if keep.sum() < 10:
                break
            circle = _circle(lowest[keep])
            if circle is None:
                break
            error = np.abs(np.hypot(lowest[:, 0] - circle[0], lowest[:, 1] - circle[1]) - circle[2])
            keep = error < max(1.5, 1.5 * float(np.median(error)))
        if circle is None or circle[1] >= y.max() or circle[2] > 4 * max(area.mask.shape):
            continue
        apex = np.array(circle[:2])
        away = area.contour - apex
        angle = np.arctan2(away[:, 0], away[:, 1])
        deep = np.hypot(away[:, 0], away[:, 1]) > 0.3 * circle[2]
        if deep.sum() < 20:
            continue
        left, right = (float(v) for v in np.quantile(angle[deep], [0.01, 0.99]))
        if not math.radians(_MIN_WIDTH_DEG) < right - left < math.radians(_MAX_WIDTH_DEG):
            continue
        numbers = _with_arcs(apex, left, right, area)
        if numbers is not None:
            fits.append(_judge(numbers, area))
    return fits


def _strip(blob: Blob, area: _Area) -> RoughFit | None:
    ys, xs = np.nonzero(blob.pieces)
    by_row = np.bincount(ys, minlength=area.mask.shape[0])
    by_col = np.bincount(xs, minlength=area.mask.shape[1])
    rows = np.flatnonzero(by_row >= 0.5 * by_row.max())
    cols = np.flatnonzero(by_col >= 0.5 * by_col.max())
    if len(rows) < 8 or len(cols) < 8:
        return None
    return _judge((float(cols[0]), float(rows[0]), float(cols[-1]), float(rows[-1])), area)


def rough_fits(blob: Blob) -> list[RoughFit]:
    """Return the best sector and the strip for one painted area, best first; numbers in its own pixels."""
    area = _area(blob)
    sectors = sorted(_sectors_from_lines(area) + _sectors_from_arc(area), key=lambda fit: -fit.score)
    strip = _strip(blob, area)
    fits = sectors[:1] if strip is None else [*sectors[:1], strip]
    return sorted(fits, key=lambda fit: -fit.score)
