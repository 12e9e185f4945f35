"""Near and far wall of the aorta and the far wall of the atrium on a strip: three walls with blood above each."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from fanlight.measure.m_mode.best_path import NEVER, best_path
from fanlight.measure.m_mode.edges import Edge, place_edge
from fanlight.measure.m_mode.strip import Floats, MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap
from fanlight.measure.valve_strip.strip_beats import StripBeat

Rows = NDArray[np.float64]
NEAR, FAR, BEHIND = range(3)  # rows of `RootWalls`

# Engineering judgement, set on simulated strips of ring A (seeds 300 to 315).
_ROWS = 160  # of the coarse profile
_ABOUT_R_MS = (60.0, 20.0)  # before and behind the R wave: the right outflow is filled then, and parts wall from wall
_BLOOD_MM, _WALL_MM = 2.0, 1.2  # on the two sides of an edge, at the least
_BEHIND_MM = 6.0  # from the far wall of the atrium to the brightest line, the pericardium against the lung
_BRIGHTEST_FROM = 0.3  # of the depth: what is brighter nearer to the probe is the chest
_AORTA_SHARES = (0.12, 0.3)  # of the depth
_OUTFLOW_MM = 3.5  # of blood before the near wall: more than cusps leave between them
_ATRIUM_PER_AORTA = (0.5, 3.5)
_LEAST_MM = 4.0
_CUSP_WEIGHT = 0.4  # shut cusps lie in the vessel
_LEAST_FIT = 0.35  # of what three clear walls with blood between them give
_BAND_MM, _FASTEST_MM_PER_MS = 3.0, 0.08  # about the coarse place; walls here move little
_COL_MS, _STEP_COST = 8.0, 0.4
_WALL_SHARES = (0.3, 3.0)  # of that thickness: what the wall between aorta and atrium may show
_LEAST_LUMEN_SHARE, _LEAST_CAVITY_SHARE = 0.25, 0.6  # of the columns; cusps and the outflow's muscle come into a vessel
_LEAST_CONTRAST = 0.3  # of the strip's own step from blood to wall
# Of the columns; by the strips of ring A, seeds 400 to 424: half of the least, or the middle between both kinds.
_BEFORE_MM = (2.5, 0.7)  # before a leading edge, outside of its echo's blur
_LEAST_OUTFLOW_SHARE = 0.4  # about the R waves: 0.86 and more where the near wall is the aorta's, 0 of a chest's wall
_LEAST_VESSEL_SHARE = 0.2  # before the far wall: 0.38 and more where it bounds the aorta; cusps lie on it at times
_LEAST_FAR_SHARE = 0.75  # 0.85 and more where the far wall is one, 0.62 and less of cusps, which come and go


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RootWalls:
    """Leading edges of three walls, where their echoes are strongest.

    Attributes
    ----------
    rows : ndarray of shape (3, column)
        Near wall of the aorta, its far wall, far wall of the atrium.
    seen : ndarray of shape (3, column), bool
        Where the step from blood to wall stands beside it.
    blur_mm : tuple of float
        From the middle of each rise to its crest.
    """

    rows: Rows
    seen: NDArray[np.bool_]
    blur_mm: tuple[float, ...]


def find_root_walls(strip: MModeStrip, tissue: TissueMap, beats: tuple[StripBeat, ...]) -> RootWalls | str:
    """Return the three walls through all columns, or why they are not seen.

    Notes
    -----
    Open and shut cusps lie on the far wall of the aorta; its other side, towards the atrium, is clear. That side is
    followed, and the leading edge lies before it by the wall's thickness, which is the median of all columns.
    """
    wall, line = (_profile(strip, shown, beats) for shown in (tissue.wall, tissue.line))
    found = _best_three(wall, line, strip.depth_mm / _ROWS)
    if isinstance(found, str):
        return found
    near, side, behind = (row * strip.depth_mm / _ROWS for row in found)
    far = side - _WALL_MM
    edges = [_edge(strip, tissue, place_mm, 1.0) for place_mm in (near, far, behind)]
    inner = _edge(strip, tissue, side, -1.0)
    least = _LEAST_CONTRAST * (tissue.wall_level - tissue.blood_level)
    seen = np.stack([edge.contrast >= least for edge in edges])
    seen[FAR] = inner.contrast >= least
    thick = np.median(inner.rows - edges[FAR].rows)
    if not _WALL_SHARES[0] * _WALL_MM <= thick * strip.mm_per_row <= _WALL_SHARES[1] * _WALL_MM:
        return "the wall between aorta and atrium is not seen on both of its sides"
    rows = np.stack([edges[NEAR].rows, inner.rows - thick, edges[BEHIND].rows])
    blurs = tuple(edge.blur_rows * strip.mm_per_row for edge in edges)
    walls = RootWalls(rows=rows, seen=seen, blur_mm=blurs)
    return _why_no_cavities(strip, tissue, walls, inner.rows) or _why_others(strip, tissue, walls, beats) or walls


def _why_no_cavities(strip: MModeStrip, tissue: TissueMap, walls: RootWalls, inner: Rows) -> str:
    """Return which of the two cavities is none, "" where both hold blood."""
    wall_rows = _WALL_MM / strip.mm_per_row
    near, far, behind = walls.rows
    if _is_blood(tissue, near + wall_rows, far - wall_rows).mean() < _LEAST_LUMEN_SHARE:
        return "what lies between the walls is tissue at all times: the cursor does not run through the aorta"
    if _is_blood(tissue, inner + wall_rows, behind - wall_rows).mean() < _LEAST_CAVITY_SHARE:
        return "what lies behind the aorta is tissue at most times: the cursor does not run through the atrium"
    return ""


def _why_others(strip: MModeStrip, tissue: TissueMap, walls: RootWalls, beats: tuple[StripBeat, ...]) -> str:
    """Return which wall is not the one it was taken for, "" where each is.

    Notes
    -----
    Three walls that fit best need not be these three. Directly before the aorta's near wall lies the blood of the
    right outflow, directly before its far wall that of the vessel; and a wall is there throughout, shut cusps only
    until they open.
    """
    from_rows, to_rows = (mm / strip.mm_per_row for mm in _BEFORE_MM)
    near, far = (_is_blood(tissue, walls.rows[wall] - from_rows, walls.rows[wall] - to_rows) for wall in (NEAR, FAR))
    if near[_about_r(strip, beats)].mean() < _LEAST_OUTFLOW_SHARE:
        return (
            "no blood of the right outflow lies before the near wall: it is another wall than the aorta's, and the "
            "vessel behind it may be the outflow itself"
        )
    if far.mean() < _LEAST_VESSEL_SHARE:
        return "the wall before the atrium does not bound the aorta: there is tissue before it at nearly all times"
    if walls.seen[FAR].mean() < _LEAST_FAR_SHARE:
        return "the far wall of the aorta comes and goes, as cusps do and no wall does"
    return ""


def _is_blood(tissue: TissueMap, upper: Rows, lower: Rows) -> NDArray[np.bool_]:
    """Return in which columns there is more blood than tissue between two rows."""
    at = np.arange(tissue.wall.shape[0])[:, None]
    between = (at >= upper) & (at < lower)
    mean = (tissue.wall * between).sum(axis=0) / np.maximum(between.sum(axis=0), 1)
    return np.asarray(mean < 0)


def _edge(strip: MModeStrip, tissue: TissueMap, place_mm: float, sign: float) -> Edge:
    """Return a border near a depth: wall below blood for a sign of 1, blood below wall for -1."""
    return place_edge(strip, _path(strip, tissue, place_mm, sign), wall_is_below=sign > 0)


def _profile(strip: MModeStrip, shown: Floats, beats: tuple[StripBeat, ...]) -> Rows:
    """Return a map of the strip by depth about the R waves."""
    column = shown[:, _about_r(strip, beats)].mean(axis=1, keepdims=True)
    return np.asarray(cv2.resize(column, (1, _ROWS), interpolation=cv2.INTER_AREA)[:, 0], np.float64)


def _about_r(strip: MModeStrip, beats: tuple[StripBeat, ...]) -> NDArray[np.intp]:
    """Return the columns about the R waves, one R wave after the other."""
    before, behind = (round(ms / strip.ms_per_col) for ms in _ABOUT_R_MS)
    starts = [round(beat.start_ms / strip.ms_per_col) for beat in beats]
    n_cols = strip.levels.shape[1]
    return np.concatenate([np.arange(max(col - before, 0), min(col + behind + 1, n_cols)) for col in starts])


def _best_three(wall: Rows, line: Rows, row_mm: float) -> tuple[int, int, int] | str:
    """Return the coarse rows of the aorta's near wall, of the atrium's near side, and of its far wall.

    Parameters
    ----------
    wall, line : ndarray of shape (row,)
        By depth: +1 wall to -1 blood, and how far it is brighter than wall.
    """
    n, at = len(wall), np.arange(len(wall))
    sums = np.concatenate([[0.0], np.cumsum(wall)])

    def mean(first: ArrayLike, last: ArrayLike) -> Rows:
        low, high = (np.clip(np.asarray(row, np.intp), 0, n) for row in (first, last))
        return np.asarray((sums[high] - sums[low]) / np.maximum(high - low, 1))

    blood, solid = round(_BLOOD_MM / row_mm), max(round(_WALL_MM / row_mm), 1)
    enters, leaves = mean(at, at + solid) - mean(at - blood, at), mean(at - solid, at) - mean(at, at + blood)
    begins = mean(at, at + solid) - mean(at - round(_OUTFLOW_MM / row_mm), at)
    behind = round(_BEHIND_MM / row_mm)
    brightest = round(_BRIGHTEST_FROM * n) + int(line[round(_BRIGHTEST_FROM * n) :].argmax())
    ends = np.arange(max(brightest - behind, 0), brightest + 1)
    ends = ends[enters[ends] > 0]
    low, high = (round(share * n) for share in _AORTA_SHARES)
    best, score = None, -np.inf
    for near in [row for row in range(n) if enters[row] > 0]:
        for inner in range(near + max(low, round(_LEAST_MM / row_mm)), min(near + high + 1, n)):
            fits = ends[(ends - inner >= _ATRIUM_PER_AORTA[0] * (inner - near)) & (ends > inner)]
            fits = fits[fits - inner <= _ATRIUM_PER_AORTA[1] * (inner - near)]
            if leaves[inner] <= 0 or not len(fits):
                continue
            lumen = -float(mean(near + 2 * solid, inner - 2 * solid))
            each = enters[fits] + begins[near] + leaves[inner] + 2 * (_CUSP_WEIGHT * lumen - mean(inner, fits))
            if each.max() > score:
                score, best = float(each.max()), (near, inner, int(fits[each.argmax()]))
    if best is None or score < _LEAST_FIT * (6 + 2 * _CUSP_WEIGHT + 2):
        return "no three walls with blood between them are seen: the cursor does not run through aorta and atrium"
    return best


def _path(strip: MModeStrip, tissue: TissueMap, place_mm: float, sign: float) -> Rows:
    """Return a border near its usual depth, column by column."""
    rows, cols = tissue.wall.shape
    n_cols = max(min(round(strip.duration_ms / _COL_MS), cols), 2)
    is_wall = cv2.resize(tissue.wall, (n_cols, rows), interpolation=cv2.INTER_AREA).T
    sums = np.concatenate([np.zeros((n_cols, 1), np.float32), np.cumsum(is_wall, axis=1)], axis=1) * strip.mm_per_row
    at, reach = np.arange(rows), max(round(_WALL_MM / strip.mm_per_row), 1)
    scores = sign * (sums[:, np.minimum(at + reach, rows)] - 2 * sums[:, at] + sums[:, np.maximum(at - reach, 0)])
    scores[:, np.abs(at - place_mm / strip.mm_per_row) > _BAND_MM / strip.mm_per_row] = NEVER
    most = max(int(np.ceil(_FASTEST_MM_PER_MS * strip.duration_ms / n_cols / strip.mm_per_row)), 1)
    path, _ = best_path(np.asarray(scores, np.float32), most, _STEP_COST * strip.mm_per_row)
    middle = (np.arange(n_cols) + 0.5) * cols / n_cols - 0.5
    return np.interp(np.arange(cols), middle, path.astype(np.float64))
