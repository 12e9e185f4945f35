"""Borders on the strip's own grid: each the best path through its own evidence, with its neighbours held, in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.best_path import NEVER, best_path
from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.strip import Floats, MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap, smoothed, soft_wall
from fanlight.reference.m_mode import MModeSettings

Rows = NDArray[np.float64]

_ROUNDS = 2  # each border sees its neighbours' new place once
# A last time within less than a leaflet's distance, where even a short thickening is followed.
_LAST_BAND_MM = 0.6
_LAST_THICKENING_MS = 8.0
_BAND_SHARE = 0.04  # of the depth, to either side of the coarse place
_WINDOW_SHARE = 0.03  # of the depth, to either side of a border: what speaks for it
_LINE_MM = 1.0  # the pericardium's line is at least so deep
_FLUID_MM = 1.5  # between epicardium and pericardium: more than the blur of either
# The most telling border first.
_ORDER = (Border.ENDOCARDIUM, Border.SEPTUM_END, Border.SEPTUM_START, Border.EPICARDIUM, Border.RIGHT_WALL_END)
# A wall changes its thickness more slowly than it moves: what lies on it for a while is not followed.
_PARTNERS = {
    Border.SEPTUM_START: Border.SEPTUM_END,
    Border.ENDOCARDIUM: Border.EPICARDIUM,
    Border.EPICARDIUM: Border.ENDOCARDIUM,
}
# Blood holds leaflets and chords, wall holds only wall: what is bright on the side of the blood weighs less.
_BLOOD_WEIGHT = {Border.RIGHT_WALL_END: 0.25, Border.SEPTUM_START: 0.25}  # the tricuspid valve often lies on both
_LEFT_BLOOD_WEIGHT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Usual grey levels of one strip beside each border.

    Attributes
    ----------
    wall, other : ndarray of shape (5,)
        Of the wall that ends or begins there, and of what lies on the other side: blood, fluid, or the pericardium.
    has_fluid : bool
        Whether fluid parts the free wall from the pericardium.
    """

    wall: NDArray[np.float64]
    other: NDArray[np.float64]
    has_fluid: bool


def refine(strip: MModeStrip, tissue: TissueMap, coarse: Rows, settings: MModeSettings) -> tuple[Rows, Levels]:
    """Return the five borders in rows of the strip, and the levels beside them.

    Parameters
    ----------
    coarse : ndarray of shape (6, column)
        As `CoarseLayers.rows`.
    """
    smooth = smoothed(strip)
    levels = _levels(smooth, coarse, tissue, strip)
    rows = np.rint(coarse).astype(np.intp)
    most = max(int(np.ceil(settings.fastest_mm_per_ms * strip.ms_per_col / strip.mm_per_row)), 1)
    wide_mm = _BAND_SHARE * strip.depth_mm
    least = max(int(settings.least_layer_mm / strip.mm_per_row), 1)
    for band_mm, thickening_ms in (
        *_ROUNDS * ((wide_mm, settings.thickening_ms),),
        (_LAST_BAND_MM, _LAST_THICKENING_MS),
    ):
        about = coarse if band_mm == wide_mm else rows.astype(np.float64)
        for border in _ORDER:
            scores = _evidence(smooth, border, rows, levels, strip)
            scores[_outside(scores.shape, border, rows, about, least, band_mm / strip.mm_per_row)] = NEVER
            rows[border] = _path(scores, border, rows, most, strip, settings.step_ms, thickening_ms)
    return rows[: len(Border)].astype(np.float64), levels


def _path(
    scores: Floats,
    border: Border,
    rows: NDArray[np.intp],
    most: int,
    strip: MModeStrip,
    step_ms: float,
    thickening_ms: float,
) -> NDArray[np.intp]:
    """Return the best path of a border; one that a wall ties to a surer border costs when it moves against that one."""
    partner = _PARTNERS.get(border)
    if partner is None:
        path, _ = best_path(scores, most, step_ms / strip.ms_per_col * strip.mm_per_row)
        return path
    n = scores.shape[1]
    shift = rows[partner] - int(np.median(rows[partner]))
    at = np.arange(n)[None, :] + shift[:, None]
    beside = np.where((at >= 0) & (at < n), np.take_along_axis(scores, np.clip(at, 0, n - 1), axis=1), NEVER)
    path, _ = best_path(beside, most, thickening_ms / strip.ms_per_col * strip.mm_per_row)
    return np.asarray(np.clip(path + shift, 0, n - 1))


def _levels(smooth: Floats, coarse: Rows, tissue: TissueMap, strip: MModeStrip) -> Levels:
    """Return the median level of each layer; a layer of too few pixels has that of the whole strip."""
    at = (np.arange(len(smooth)) + 0.5)[:, None]

    def between(upper: Rows, lower: Rows, otherwise: float) -> float:
        third = (lower - upper) / 4  # away from the borders themselves
        inside = smooth[(at > upper + third) & (at < lower - third)]
        return float(np.median(inside)) if inside.size >= 2 * smooth.shape[1] else otherwise

    end, start, septum_end, endocardium, epicardium, pericardium = coarse
    right_wall = between(end - 2.0 / strip.mm_per_row, end, tissue.wall_level)
    right_blood = between(end, start, tissue.blood_level)
    septum = between(start, septum_end, tissue.wall_level)
    left_blood = between(septum_end, endocardium, tissue.blood_level)
    free_wall = between(endocardium, epicardium, tissue.wall_level)
    has_fluid = float(np.median(pericardium - epicardium)) * strip.mm_per_row > _FLUID_MM
    if has_fluid:
        beyond = between(epicardium, pericardium, tissue.blood_level)
    else:
        beyond = float(np.median(_brightest_below(smooth, epicardium, strip)))
    return Levels(
        wall=np.array([right_wall, septum, septum, free_wall, free_wall]),
        other=np.array([right_blood, right_blood, left_blood, left_blood, beyond]),
        has_fluid=has_fluid,
    )


def _brightest_below(smooth: Floats, rows: Rows, strip: MModeStrip) -> Floats:
    """Return the brightest level of each column within a few millimetres below a border."""
    reach = int(np.ceil(3 * _LINE_MM / strip.mm_per_row))
    at = np.clip(np.rint(rows).astype(np.intp)[None, :] + np.arange(reach)[:, None], 0, len(smooth) - 1)
    return np.asarray(smooth[at, np.arange(smooth.shape[1])[None, :]].max(axis=0), np.float32)


def _evidence(smooth: Floats, border: Border, rows: NDArray[np.intp], levels: Levels, strip: MModeStrip) -> Floats:
    """Return (column, row): mm of the right thing on either side of a border in that row."""
    wall, other = float(levels.wall[border]), float(levels.other[border])
    is_wall = soft_wall(smooth, other, wall) if wall > other else -soft_wall(smooth, wall, other)
    above = is_wall if not border.enters_wall else -is_wall
    sums = np.zeros((len(smooth) + 1, smooth.shape[1]), np.float32)
    np.cumsum(above * strip.mm_per_row, axis=0, out=sums[1:])
    n, cols = smooth.shape
    window = max(int(_WINDOW_SHARE * n), 2)
    at = np.arange(n)[:, None]
    top = rows[border - 1][None, :] if border > 0 else np.zeros((1, cols), np.intp)
    bottom = rows[border + 1][None, :] if border < Border.EPICARDIUM or levels.has_fluid else np.full((1, cols), n)
    if border is Border.EPICARDIUM and not levels.has_fluid:
        bottom = np.minimum(bottom, at + max(round(_LINE_MM / strip.mm_per_row), 1))
    upper = np.clip(np.maximum(at - window, top), 0, at)
    lower = np.clip(np.minimum(at + window, bottom), at, n)
    here = np.arange(cols)[None, :]
    weight_above, weight_below = _weights(border, levels)
    before, after = sums[at, here] - sums[upper, here], sums[at, here] - sums[lower, here]
    return np.ascontiguousarray((weight_above * before + weight_below * after).T)


def _weights(border: Border, levels: Levels) -> tuple[np.float32, np.float32]:
    """Return how much counts what lies above and below a border."""
    if border is Border.EPICARDIUM and not levels.has_fluid:
        return np.float32(1), np.float32(1)
    blood, wall = np.float32(_BLOOD_WEIGHT.get(border, _LEFT_BLOOD_WEIGHT)), np.float32(1)
    return (blood, wall) if border.enters_wall else (wall, blood)


def _outside(
    shape: tuple[int, ...], border: Border, rows: NDArray[np.intp], about: Rows, least: int, band: float
) -> NDArray[np.bool_]:
    """Return (column, row): where a border must not go: far from its coarse place, or past a neighbour."""
    at = np.arange(shape[1])[None, :]
    out = np.abs(at - about[border][:, None]) > band
    if border > 0:
        out |= at < np.minimum(rows[border - 1] + least, rows[border])[:, None]
    if border < Border.EPICARDIUM:
        out |= at > np.maximum(rows[border + 1] - least, rows[border])[:, None]
    return np.asarray(out)
