"""The left side of the septum on a strip through the mitral valve: a band of wall with blood above and below it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.best_path import NEVER, best_pair, best_path
from fanlight.measure.m_mode.edges import place_edge
from fanlight.measure.m_mode.strip import Floats, MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap
from fanlight.measure.valve_strip.strip_beats import StripBeat

Rows = NDArray[np.float64]

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 321).
_ROWS, _COL_MS = 128, 12.0  # of the coarse grid
_BLOOD_MM = 3.0  # right cavity above and outflow tract below are looked for so far
_MOST_WALL_MM = 6.0  # a septum gains no more by being thicker
_SHARES = (0.035, 0.14)  # thickness that costs nothing, as a share of the depth
_OUTSIDE_MM = 12.0  # cost of lying outside, times the squared logarithm of how far
_LEAST_MM = 0.8  # no septum is thinner
_BETWEEN = (0.1, 0.62)  # of the depth: where a septum lies
_FASTEST_MM_PER_MS = 0.22  # walls of small hearts move at up to 0.1
_STEP_MM = 1.0  # cost of a row up or down
# While the ventricle ejects the shut valve and the root of the aorta may come into the beam and lie on the septum.
_EJECTS_SHARE, _EJECTS_MS = 0.6, 330.0
_EJECTION_WEIGHT = 0.15
# Then on the strip's own rows, within a band of the coarse path.
_FINE_COL_MS, _FINE_MM, _BAND_MM = 6.0, 1.5, 2.5
_FINE_STEP = 0.5  # cost of a mm up or down, in mm of wrong tissue
_LEAST_CONTRAST = 0.35  # of the strip's own step from blood to wall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Septum:
    """Left side of the septum in each column.

    Attributes
    ----------
    rows : ndarray of shape (column,)
        Between pixels; row 0 is the upper edge of the first row.
    seen : ndarray of shape (column,), bool
        Where the step from wall to blood stands beside it.
    blur_mm : float
        From the middle of its rise to where its echo is strongest: half a pulse, or what the wall makes of it.
    """

    rows: Rows
    seen: NDArray[np.bool_]
    blur_mm: float


def find_septum(strip: MModeStrip, tissue: TissueMap, beats: tuple[StripBeat, ...]) -> Septum:
    """Return the left side of the septum: the best pair of paths with wall between and blood on both sides."""
    n_cols = max(round(strip.duration_ms / _COL_MS), 2)
    n_rows = min(_ROWS, tissue.wall.shape[0])
    row_mm, col_ms = strip.depth_mm / n_rows, strip.duration_ms / n_cols
    is_wall = cv2.resize(tissue.wall, (n_cols, n_rows), interpolation=cv2.INTER_AREA).T
    weights = _weights(strip, beats, n_cols)[:, None, None]
    scores = np.maximum(_scores(is_wall, row_mm, strip.depth_mm) * weights, NEVER).astype(np.float32)
    most = max(int(np.ceil(_FASTEST_MM_PER_MS * col_ms / row_mm)), 1)
    _, lower, _ = best_pair(scores, most, _STEP_MM)
    at = (np.arange(tissue.wall.shape[1]) + 0.5) * n_cols / tissue.wall.shape[1] - 0.5
    path = np.interp(at, np.arange(n_cols), lower) * tissue.wall.shape[0] / n_rows
    path = _followed(strip, tissue, path)
    edge = place_edge(strip, path, wall_is_below=False)
    return Septum(
        rows=edge.rows,
        seen=np.asarray(edge.contrast >= _LEAST_CONTRAST * (tissue.wall_level - tissue.blood_level)),
        blur_mm=edge.blur_rows * strip.mm_per_row,
    )


def _followed(strip: MModeStrip, tissue: TissueMap, about: Rows) -> Rows:
    """Return the border near a coarse path on the strip's own rows: most wall above and most blood below."""
    rows, cols = tissue.wall.shape
    n_cols = max(min(round(strip.duration_ms / _FINE_COL_MS), cols), 2)
    is_wall = cv2.resize(tissue.wall, (n_cols, rows), interpolation=cv2.INTER_AREA).T
    sums = np.concatenate([np.zeros((n_cols, 1), np.float32), np.cumsum(is_wall, axis=1)], axis=1) * strip.mm_per_row
    at, reach = np.arange(rows), max(round(_FINE_MM / strip.mm_per_row), 1)
    scores = 2 * sums[:, at] - sums[:, np.maximum(at - reach, 0)] - sums[:, np.minimum(at + reach, rows)]
    middle = (np.arange(n_cols) + 0.5) * cols / n_cols - 0.5
    coarse = np.interp(middle, np.arange(cols), about)
    scores[np.abs(at[None, :] - coarse[:, None]) > _BAND_MM / strip.mm_per_row] = NEVER
    most = max(int(np.ceil(_FASTEST_MM_PER_MS * strip.duration_ms / n_cols / strip.mm_per_row)), 1)
    path, _ = best_path(np.asarray(scores, np.float32), most, _FINE_STEP * strip.mm_per_row)
    return np.interp(np.arange(cols), middle, path.astype(np.float64))


def _scores(is_wall: Floats, row_mm: float, depth_mm: float) -> Floats:
    """Return (column, upper row, lower row): mm of wall between them, less the wall beside them."""
    n_cols, n = is_wall.shape
    sums = np.concatenate([np.zeros((n_cols, 1), np.float32), np.cumsum(is_wall, axis=1)], axis=1) * row_mm
    at, reach = np.arange(n), max(round(_BLOOD_MM / row_mm), 1)
    above = sums[:, at] - sums[:, np.maximum(at - reach, 0)]
    below = sums[:, np.minimum(at + reach, n)] - sums[:, at]
    between = np.minimum(sums[:, None, :n] - sums[:, :n, None], _MOST_WALL_MM)
    thick = (at[None, :] - at[:, None]) / n
    safe, (low, high) = np.maximum(thick, 1e-4), _SHARES
    outside = np.log(np.maximum(safe / high, 1.0)) + np.log(np.maximum(low / safe, 1.0))
    cost = _OUTSIDE_MM * outside**2
    cost[thick * depth_mm < _LEAST_MM] = -NEVER
    cost[at < _BETWEEN[0] * n, :] = -NEVER
    cost[:, at > _BETWEEN[1] * n] = -NEVER
    return np.asarray(between - above[:, :, None] - below[:, None, :] - cost[None], np.float32)


def _weights(strip: MModeStrip, beats: tuple[StripBeat, ...], n_cols: int) -> Floats:
    weights = np.ones(n_cols, np.float32)
    time_ms = (np.arange(n_cols) + 0.5) * strip.duration_ms / n_cols
    for beat in beats:
        since = time_ms - beat.start_ms
        weights[(since > 0) & (since < min(_EJECTS_SHARE * beat.length_ms, _EJECTS_MS))] = _EJECTION_WEIGHT
    return weights
