"""The drawn outline of a colour box: two arcs and two beams of one ink that stand still while the picture moves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Picture, Point, Sector

Floats = NDArray[np.float32]

# A line is brighter than what lies this far to both sides of it, by so many levels, in the darkest that each pixel was
# during the clip: echoes move away, lines stay (engineering judgement, from screens drawn and seen).
_BESIDE_PX, _BRIGHTER_LEVELS = 3, 14
# An edge may be this far off its beam or arc: the fan is found to a pixel or two.
_OFF_PX = 2
# Of each edge that must be seen, and of all four on average: colour, words or calipers may lie over a part.
LEAST_EDGE_SHARE, LEAST_MEAN_SHARE = 0.55, 0.72
_CANDIDATES, _APART_PX = 18, 5
_WINDOW_SHARE = 0.10  # of an axis: no edge of a box is shorter
# How far colour may lie outside its box: compression smears it (share of the depth or width).
_OUTSIDE_SHARE = 0.02
# What is painted reaches to the outermost coloured pixels, but for this share of them on each side: lone specks.
_TRIM = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourOutline:
    """Edges of a colour box, as shares of the picture's depth and width.

    Attributes
    ----------
    near, far : float
        Of the depth, 0 at the face.
    left, right : float
        Of the width, 0 at the left beam.
    seen : float
        Share of the outline on which its line was seen; 0 where these are the outermost places that were painted.
    """

    near: float
    far: float
    left: float
    right: float
    seen: float

    @property
    def is_drawn(self) -> bool:
        """Whether the box itself was found, and not only colour in it."""
        return self.seen > 0.0

    def points(self, picture: Picture) -> tuple[Point, ...]:
        """Return the outline in pixels, near edge first, clockwise on the screen."""
        across = np.linspace(self.left, self.right, 25)
        near = [picture.point(self.near, float(share)) for share in across]
        far = [picture.point(self.far, float(share)) for share in across[::-1]]
        return (*near, *far)

    def area_share(self, picture: Picture) -> float:
        """Return the area of the box over that of the picture."""
        if not isinstance(picture, Sector):
            return (self.far - self.near) * (self.right - self.left)
        inner, outer = picture.near_px, picture.far_px
        a, b = inner + self.near * (outer - inner), inner + self.far * (outer - inner)
        return (b * b - a * a) / (outer * outer - inner * inner) * (self.right - self.left)


def painted_outline(coloured: NDArray[np.bool_], picture: Picture, row0: int = 0, col0: int = 0) -> ColourOutline:
    """Return how far colour was painted, a lower bound of the box.

    Parameters
    ----------
    coloured : ndarray of shape (row, col)
        Where a pixel was coloured in any frame; at least one is.
    picture : Sector or Strip
        Where the picture lies.
    row0, col0 : int
        Of the screen, at the corner of `coloured`.
    """
    rows, cols = np.nonzero(coloured)
    rows, cols = rows + row0, cols + col0
    if isinstance(picture, Sector):
        aside, down = (cols - picture.apex_col_px) * picture.col_stretch, rows - picture.apex_row_px
        depth = (np.hypot(aside, down) - picture.near_px) / picture.depth_px
        beam = (np.degrees(np.arctan2(aside, down)) - picture.left_deg) / picture.width_deg
    else:
        depth = (rows - picture.box.row0) / picture.box.height_px
        beam = (cols - picture.box.col0) / picture.box.width_px
    near, far = (float(np.clip(v, 0.0, 1.0)) for v in np.quantile(depth, [_TRIM, 1 - _TRIM]))
    left, right = (float(np.clip(v, 0.0, 1.0)) for v in np.quantile(beam, [_TRIM, 1 - _TRIM]))
    return ColourOutline(near=near, far=far, left=left, right=right, seen=0.0)


def find_outline(
    darkest: NDArray[np.uint8], picture: Picture, painted: ColourOutline | None = None
) -> ColourOutline | None:
    """Return the drawn box, or None where no closed outline is seen.

    Parameters
    ----------
    darkest : ndarray of shape (row, col, 3)
        The least that red, green and blue each were in the frames of the clip.
    picture : Sector or Strip
        Where the picture lies.
    painted : ColourOutline, optional
        Where colour was painted: the box holds it.
    """
    red, green, blue = cv2.split(_to_polar(darkest, picture))
    bright = np.asarray(cv2.max(cv2.max(red, green), blue), np.uint8)
    lines = _ridges(bright, axis=0), _ridges(bright, axis=1)
    across, along = _thick(lines[0], axis=0), _thick(lines[1], axis=1)
    rows, cols = _candidates(across, axis=1), _candidates(along, axis=0)
    if len(rows) < 2 or len(cols) < 2:
        return None
    best = _best(across, along, rows, cols, _limits(painted, *across.shape))
    if best is None:
        return None
    n_rows, n_cols = across.shape
    top, bottom, left, right, seen = best
    near, far = (_middle(lines[0][:, left:right].sum(axis=1), row) / (n_rows - 1) for row in (top, bottom))
    first, last = (_middle(lines[1][top:bottom].sum(axis=0), col) / (n_cols - 1) for col in (left, right))
    return ColourOutline(near=near, far=far, left=first, right=last, seen=seen)


def _middle(n_seen: NDArray[np.int64], place: int) -> float:
    """Return where the middle of a line lies that was found about here."""
    start = max(place - _OFF_PX, 0)
    near = n_seen[start : place + _OFF_PX + 1].astype(float)
    return start + float((near * np.arange(len(near))).sum() / near.sum()) if near.any() else float(place)


def _to_polar(image: NDArray[np.uint8], picture: Picture) -> NDArray[np.uint8]:
    """Return the picture with beams upright, (depth, beam, 3), about a pixel a sample in its deeper half."""
    return np.asarray(cv2.remap(image, *_polar_maps(picture), cv2.INTER_LINEAR), np.uint8)


@lru_cache(maxsize=2)  # one clip asks for its first frames, and at its end
def _polar_maps(picture: Picture) -> tuple[Floats, Floats]:
    """Return the column and row on the screen of each (depth, beam) sample."""
    rows = round(picture.depth_px) + 1
    if isinstance(picture, Sector):
        cols = max(round(np.radians(picture.width_deg) * (picture.near_px + 0.7 * picture.depth_px)), 16)
        radius = picture.near_px + np.arange(rows)[:, None] * picture.depth_px / (rows - 1)
        angle = np.radians(picture.left_deg + np.arange(cols)[None] * picture.width_deg / (cols - 1))
        at_row = picture.apex_row_px + radius * np.cos(angle)
        at_col = picture.apex_col_px + radius * np.sin(angle) / picture.col_stretch
    else:
        cols = picture.box.width_px
        at_row, at_col = (
            np.broadcast_to(picture.box.row0 + np.arange(rows)[:, None], (rows, cols)),
            np.broadcast_to(picture.box.col0 + np.arange(cols)[None], (rows, cols)),
        )
    return at_col.astype(np.float32), at_row.astype(np.float32)


def _ridges(bright: NDArray[np.uint8], axis: int) -> NDArray[np.bool_]:
    """Return where a line crosses this axis at a right angle, (depth, beam)."""
    pad = [(0, 0), (0, 0)]
    pad[axis] = (_BESIDE_PX, _BESIDE_PX)
    wide = np.pad(bright, pad)
    if axis == 0:
        before, behind = wide[: -2 * _BESIDE_PX], wide[2 * _BESIDE_PX :]
    else:
        before, behind = wide[:, : -2 * _BESIDE_PX], wide[:, 2 * _BESIDE_PX :]
    return np.asarray(cv2.subtract(bright, cv2.max(before, behind)) >= _BRIGHTER_LEVELS, np.bool_)


def _thick(ridges: NDArray[np.bool_], axis: int) -> NDArray[np.bool_]:
    """Return lines made thicker along this axis, by what the fan may be off."""
    size = (1, 2 * _OFF_PX + 1) if axis == 1 else (2 * _OFF_PX + 1, 1)
    return np.asarray(cv2.dilate(ridges.view(np.uint8), np.ones(size, np.uint8)) > 0)


def _candidates(ridges: NDArray[np.bool_], axis: int) -> list[int]:
    """Return the rows (axis 1: along the beams' width) or columns on which the longest stretches of line lie."""
    n = ridges.shape[axis]
    window = max(int(_WINDOW_SHARE * n), 8)
    sums = _sums(ridges, axis)
    later, earlier = (sums[window:], sums[:-window]) if axis == 0 else (sums[:, window:], sums[:, :-window])
    score = (later - earlier).max(axis=axis) / window + sums.take(-1, axis=axis) / n
    found: list[int] = []
    for place in np.argsort(-score):
        if len(found) == _CANDIDATES or score[place] < LEAST_EDGE_SHARE:
            break
        if all(abs(int(place) - other) >= _APART_PX for other in found):
            found.append(int(place))
    return sorted(found)


def _sums(ridges: NDArray[np.bool_], axis: int) -> NDArray[np.int32]:
    """Return how much line lies before each place along an axis; one longer than the axis."""
    shape = list(ridges.shape)
    shape[axis] += 1
    sums = np.zeros(shape, np.int32)
    np.cumsum(ridges, axis=axis, dtype=np.int32, out=sums[1:] if axis == 0 else sums[:, 1:])
    return sums


def _limits(painted: ColourOutline | None, n_rows: int, n_cols: int) -> tuple[float, float, float, float]:
    """Return the deepest near edge, the shallowest far one, the rightmost left and the leftmost right one."""
    if painted is None:
        return float(n_rows), 0.0, float(n_cols), 0.0
    return (
        (painted.near + _OUTSIDE_SHARE) * n_rows, (painted.far - _OUTSIDE_SHARE) * n_rows,
        (painted.left + _OUTSIDE_SHARE) * n_cols, (painted.right - _OUTSIDE_SHARE) * n_cols,
    )  # fmt: skip


def _best(
    across: NDArray[np.bool_], along: NDArray[np.bool_], rows: list[int], cols: list[int],
    limits: tuple[float, float, float, float],
) -> tuple[int, int, int, int, float] | None:  # fmt: skip
    """Return the rectangle whose four edges are seen best."""
    n_rows, n_cols = across.shape
    # Of each row and column that may be an edge: how much line lies on it before it meets each of the others.
    in_rows = _sums(across[rows], axis=1)[:, cols]
    in_cols = _sums(along[:, cols], axis=0)[rows]
    at_rows, at_cols = np.array(rows), np.array(cols)
    left, right = _pairs(at_cols, _WINDOW_SHARE * n_cols, most=limits[2], least=limits[3])
    top, bottom = _pairs(at_rows, _WINDOW_SHARE * n_rows / 2, most=limits[0], least=limits[1])
    # Shares of line of each edge, (pair of columns, pair of rows).
    of_rows = ((in_rows[:, right] - in_rows[:, left]) / (at_cols[right] - at_cols[left])).T
    of_cols = ((in_cols[bottom] - in_cols[top]) / (at_rows[bottom] - at_rows[top])[:, None]).T
    edges = of_rows[:, top], of_rows[:, bottom], of_cols[left], of_cols[right]
    mean = (edges[0] + edges[1] + edges[2] + edges[3]) / 4
    fits = mean >= LEAST_MEAN_SHARE
    for edge in edges:
        fits &= edge >= LEAST_EDGE_SHARE
    if not fits.any():
        return None
    i, j = np.unravel_index(int(np.where(fits, mean, -1.0).argmax()), mean.shape)
    return rows[top[j]], rows[bottom[j]], cols[left[i]], cols[right[i]], float(mean[i, j])


def _pairs(
    places: NDArray[np.int64], least_apart: float, *, most: float, least: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return which places may be opposite edges: so far apart, the first at most here and the second at least there."""
    first, second = np.triu_indices(len(places), 1)
    may = (places[second] - places[first] >= least_apart) & (places[first] <= most) & (places[second] >= least)
    return first[may], second[may]
