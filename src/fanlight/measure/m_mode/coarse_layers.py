"""The layers of the heart along the cursor on a coarse grid: the left cavity as the best pair of paths of all."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.best_path import NEVER, best_pair
from fanlight.measure.m_mode.strip import Floats, MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap
from fanlight.reference.m_mode import MModeSettings, Shares

_ROWS = 112  # of the coarse grid: a layer of the least share is several rows thick
_COL_MS = 16.0  # of the coarse grid: a wall moves few rows within it
_AWAY_SHARE = 0.15  # of the cavity: a border this far off is another one
_AWAY_ROWS = 4
_LINE_WITHIN_MM = 1.0  # below the end of the wall, or of fluid, the pericardium's line begins


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoarseLayers:
    """Borders on the strip's own grid.

    Attributes
    ----------
    rows : ndarray of shape (6, column)
        Row in which each `Border` lies, and last the pericardium: with the epicardium where no fluid parts them.
    margin_share : float
        How much of the best solution's gain is lost when either border of the left cavity is looked for elsewhere.
    """

    rows: NDArray[np.float64]
    margin_share: float


def find_layers(strip: MModeStrip, tissue: TissueMap, settings: MModeSettings) -> CoarseLayers:
    """Return where the layers lie, by the best explanation of the whole strip at once.

    Notes
    -----
    Right side of the cavity first: what lies above and below any pair of borders is explained as well as it can be,
    column by column, and the best pair of paths is that of the left cavity. Then, with that pair held, the borders
    above and below are found in the same way.
    """
    grid = _Grid(strip, tissue, settings)
    right = grid.right_heart()
    below = grid.free_wall()
    above = (right.max(axis=1)[:, :, None] + grid.wall(settings.septum_share)).max(axis=1)
    scores = above[:, :, None] + grid.cavity(settings.left_cavity_share) + below.max(axis=2)[:, None, :]
    septum_end, endocardium, best = grid.pair(scores)
    other = max(
        grid.pair(np.where(_near(place, grid.n, axis, septum_end, endocardium), NEVER, scores))[2]
        for axis, place in ((0, septum_end), (1, endocardium))
    )
    septum = _column_at(grid.wall(settings.septum_share), septum_end, axis=2)
    right_wall_end, septum_start, _ = grid.pair(right + septum[:, None, :])
    wall = _column_at(grid.wall(settings.free_wall_share), endocardium, axis=1)
    epicardium, pericardium, _ = grid.pair(grid.ends() + wall[:, :, None])
    coarse = np.stack([right_wall_end, septum_start, septum_end, endocardium, epicardium, pericardium])
    return CoarseLayers(
        rows=grid.on_strip(coarse.astype(np.float64)),
        margin_share=float(np.clip((best - other) / max(best, 1e-6), 0.0, 1.0)),
    )


def _column_at(scores: Floats, place: NDArray[np.intp], axis: int) -> Floats:
    """Return (column, row): of each column the scores of one row along an axis."""
    shape = [-1, 1, 1]
    return np.take_along_axis(scores, place.reshape(shape), axis=axis).squeeze(axis)


def _near(
    place: NDArray[np.intp], n: int, axis: int, upper: NDArray[np.intp], lower: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return the pairs of which one row is the one already found."""
    away = np.maximum(_AWAY_ROWS, _AWAY_SHARE * (lower - upper))
    close = np.abs(np.arange(n)[None, :] - place[:, None]) < away[:, None]
    return np.asarray(close[:, :, None] if axis == 0 else close[:, None, :])


class _Grid:
    """The tissue map on the coarse grid, and what each layer gains between any two of its rows, in depths."""

    def __init__(self, strip: MModeStrip, tissue: TissueMap, settings: MModeSettings) -> None:
        rows, cols = tissue.wall.shape
        self.settings = settings
        self.depth_mm = strip.depth_mm
        self.n = min(_ROWS, rows)
        self.n_cols = max(min(round(strip.duration_ms / _COL_MS), cols), 2)
        self.row_mm, self.col_ms = strip.depth_mm / self.n, strip.duration_ms / self.n_cols
        self._strip_shape = (rows, cols)
        self.line = self._coarse(tissue.line)
        is_wall = self._coarse(tissue.wall)
        self.blood_sums = -self._sums(is_wall)
        self.wall_sums = self._sums(np.where(is_wall > 0, is_wall * (1 - 2 * self.line), is_wall))
        self.chest_sums = settings.chest_share * self._sums(np.maximum(is_wall, 0))

    def _coarse(self, values: Floats) -> Floats:
        return np.asarray(cv2.resize(values, (self.n_cols, self.n), interpolation=cv2.INTER_AREA).T, np.float32)

    def _sums(self, values: Floats) -> Floats:
        """Return what lies above each row, in depths."""
        return np.asarray((np.cumsum(values, axis=1) - values) / self.n, np.float32)

    def pair(self, scores: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp], float]:
        """Return the best pair of paths through (column, row, row)."""
        most = max(int(np.ceil(self.settings.fastest_mm_per_ms * self.col_ms / self.row_mm)), 1)
        return best_pair(scores, most, self.settings.step_ms / self.col_ms / self.n)

    def wall(self, shares: Shares) -> Floats:
        """Return (column, upper row, lower row): how well wall lies between."""
        return self._between(self.wall_sums, shares)

    def cavity(self, shares: Shares) -> Floats:
        """Return (column, upper row, lower row): how well blood or fluid lies between."""
        return self._between(self.blood_sums, shares)

    def _between(self, sums: Floats, shares: Shares) -> Floats:
        thick = (np.arange(self.n)[None, :] - np.arange(self.n)[:, None]) / self.n
        low, high = shares
        safe = np.maximum(thick, 1e-4)
        outside = np.log(np.maximum(safe / high, 1.0)) + np.log(np.maximum(low / safe, 1.0))
        cost = self.settings.outside_cost * outside**2
        cost[thick * self.depth_mm < self.settings.least_layer_mm] = -NEVER
        return np.asarray(sums[:, None, :] - sums[:, :, None] - cost[None].astype(np.float32), np.float32)

    def right_heart(self) -> Floats:
        """Return (column, end of the right wall, start of the septum): chest, fluid if any, wall and cavity."""
        s = self.settings
        fluid = (self.chest_sums[:, :, None] + self.cavity(s.fluid_share)).max(axis=1) - np.float32(s.fluid_cost)
        start = np.maximum(self.chest_sums, fluid)
        right_wall = (start[:, :, None] + self.wall(s.right_wall_share)).max(axis=1)
        return np.asarray(right_wall[:, :, None] + self.cavity(s.right_cavity_share))

    def ends(self) -> Floats:
        """Return (column, end of the free wall, pericardium): nothing between them, or fluid."""
        s = self.settings
        reach = max(round(_LINE_WITHIN_MM / self.row_mm), 1)
        line = s.pericardium_gain * np.stack([np.roll(self.line, -k, axis=1) for k in range(reach + 1)]).max(axis=0)
        line[:, -reach:] = 0.0
        fluid = self.cavity(s.fluid_share) - np.float32(s.fluid_cost)
        touching = np.arange(self.n)
        fluid[:, touching, touching] = 0.0
        return np.asarray(fluid + line[:, None, :])

    def free_wall(self) -> Floats:
        """Return (column, endocardium, epicardium)."""
        return np.asarray(self.wall(self.settings.free_wall_share) + self.ends().max(axis=2)[:, None, :])

    def on_strip(self, coarse: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return borders of the coarse grid on the grid of the strip, rows between pixels."""
        rows, cols = self._strip_shape
        at = (np.arange(cols) + 0.5) * coarse.shape[1] / cols - 0.5
        scale = rows / self.n
        return np.stack([np.interp(at, np.arange(coarse.shape[1]), border) * scale for border in coarse])
