"""Where exactly a border lies: the crest of its echo, to a fraction of a pixel."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from fanlight.measure.m_mode.strip import Floats, MModeStrip

Rows = NDArray[np.float64]

_REACH_MM = 1.6  # looked at on either side of a path
_SEARCH_MM = 0.5  # the middle of the rise lies no further into the wall from its path
_SEARCH_OUT_MM = 0.9  # nor further out: brief thickenings are cut by a path, leaflets lie farther off
_STEP_MM = 0.05  # between the places looked at
_BESIDE_MM = 0.5  # from the path on, what lies there is blood or wall and no longer edge
_BLOOD_PERCENTILE = 25  # of what lies on its side: a thin cavity has wall on its far side
_CREST_MM = 1.0  # the crest of the echo lies no deeper in the wall: a pulse of 2 MHz lasts so long
_TOP_OF_RISE = 0.9  # at a step the echo is 3 to 6 dB below what it rises to, of some 30 dB of the rise
_PLATEAU = 0.95  # of the wall's level: where there is no crest, the border ends there
_COVER_MM = 1.4  # a leaflet with the blood beneath it
_GAP_LEVEL = 0.35  # of the way from blood to wall: darker than streaks within a wall
_LASTS_MS = 32.0  # a leaflet lies on a wall for longer than this
_ALONG_MS = 12.0  # evened out along the path: speckle, not motion
_PATH_MS = 6.0
_LEVEL_MS = 60.0  # levels beside a border change slowly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """One border, column by column.

    Attributes
    ----------
    rows : ndarray of shape (column,)
    contrast : ndarray of shape (column,)
        Grey levels from one side to the other, above 0 where the wall is the brighter one.
    blur_rows : float
        How far the border lies inside of the middle of the rise.
    """

    rows: Rows
    contrast: Rows
    blur_rows: float


def place_edge(
    strip: MModeStrip, path: Rows, wall_is_below: bool, is_thin: bool = True, may_be_covered: bool = False
) -> Edge:
    """Return the border near a path.

    Parameters
    ----------
    path : ndarray of shape (column,)
        Row of the border to within a pulse length.
    wall_is_below : bool
        Whether the brighter side lies deeper.
    is_thin : bool
        Whether the border's own echo is a line, which has a crest; else, as the pericardium, it goes on being bright.
    may_be_covered : bool
        Whether a leaflet may lie on the wall, with a thread of blood between them.

    Notes
    -----
    On a log-compressed picture half the rise lies outside of the border by part of a pulse: there the echo is still
    tens of decibels below the wall. The border itself reflects, so its echo is strongest where it lies; the crest of
    the average over all columns gives how far that is from the middle of the rise. Blood enters the wall at its leading
    edge, and leaves it at the leading edge of the next layer's echo: distances between crests are those from leading
    edge to leading edge, since a leading edge lies the same half pulse before each crest.
    """
    path = _evened(path, _PATH_MS / strip.ms_per_col)
    offsets = np.arange(-_REACH_MM, _REACH_MM + _STEP_MM / 2, _STEP_MM) / strip.mm_per_row  # in rows
    inward = offsets if wall_is_below else -offsets  # to walk from blood into wall
    patch = _along(strip.levels.astype(np.float32), path, inward)
    patch = np.asarray(cv2.GaussianBlur(patch, (0, 0), sigmaX=max(_ALONG_MS / strip.ms_per_col, 0.3), sigmaY=0.5))
    beside = round((_REACH_MM - _BESIDE_MM) / _STEP_MM)
    blood = _slow(np.percentile(patch[:beside], _BLOOD_PERCENTILE if is_thin else 50, axis=0), strip)
    wall = _slow(np.median(patch[-beside:], axis=0), strip)
    crossing = _crossing(patch, (blood + wall) / 2)
    if may_be_covered:
        crossing = _uncovered(patch, crossing, blood, wall, strip)
    if is_thin:
        blur_steps = _crest_steps(patch, crossing)
    else:
        blur_steps = float(np.median(_crossing(patch, blood + _TOP_OF_RISE * (wall - blood)) - crossing))
    moved = (crossing - (len(offsets) - 1) / 2 + blur_steps) * _STEP_MM / strip.mm_per_row
    rows = path + (moved if wall_is_below else -moved)
    return Edge(
        rows=rows,
        contrast=wall - blood,
        blur_rows=blur_steps * _STEP_MM / strip.mm_per_row,
    )


def _along(levels: Floats, path: Rows, offsets: Rows) -> Floats:
    """Return (offset, column): levels at these rows from a path. A row's own middle lies half a row below its edge."""
    rows = (path[None, :] + offsets[:, None] - 0.5).astype(np.float32)
    cols = np.broadcast_to(np.arange(levels.shape[1], dtype=np.float32), rows.shape)
    return np.asarray(
        cv2.remap(levels, np.ascontiguousarray(cols), rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
        np.float32,
    )


def _crossing(patch: Floats, level: Rows) -> Rows:
    """Return the step at which each column rises through its level, nearest the middle; the middle if it does not."""
    n = len(patch)
    middle = (n - 1) / 2
    below, above = patch[:-1] < level, patch[1:] >= level
    step = np.arange(n - 1)[:, None]
    off_mm = (step + 0.5 - middle) * _STEP_MM
    near = (off_mm >= -_SEARCH_OUT_MM) & (off_mm <= _SEARCH_MM)
    away = np.where(below & above & near, np.abs(off_mm), np.inf)
    first = away.argmin(axis=0)
    cols = np.arange(patch.shape[1])
    low, high = patch[first, cols], patch[first + 1, cols]
    at = first + (level - low) / np.maximum(high - low, 1e-3)
    return np.where(np.isfinite(away[first, cols]), at, middle)


def _uncovered(patch: Floats, crossing: Rows, blood: Rows, wall: Rows, strip: MModeStrip) -> Rows:
    """Return the crossings with those of a thin cover replaced by those of the wall beneath it."""
    step = np.arange(len(patch))[:, None]
    beneath = (step > crossing) & (step <= crossing + _COVER_MM / _STEP_MM)
    dark = beneath & (patch < blood + _GAP_LEVEL * (wall - blood))
    last_dark = np.where(dark.any(axis=0), len(patch) - 1 - dark[::-1].argmax(axis=0), -1)
    rises = (step > last_dark) & (patch >= (blood + wall) / 2)
    deeper = rises.argmax(axis=0).astype(np.float64)
    is_covered = (last_dark >= 0) & rises.any(axis=0)
    size = 2 * round(_LASTS_MS / 2 / strip.ms_per_col) + 1
    is_covered = median_filter(is_covered.astype(np.uint8), size=size, mode="nearest").astype(bool) & is_covered
    return np.where(is_covered, deeper, crossing)


def _crest_steps(patch: Floats, crossing: Rows) -> float:
    """Return how many steps inside the crossing the average column has its first crest, or reaches the wall's level."""
    n = round(_CREST_MM / _STEP_MM)
    rows = (crossing[None, :] + np.arange(n + 1)[:, None]).astype(np.float32)
    cols = np.broadcast_to(np.arange(patch.shape[1], dtype=np.float32), rows.shape)
    aligned = cv2.remap(patch, np.ascontiguousarray(cols), rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mean = aligned.mean(axis=1)
    plateau = float(mean[n // 2 :].mean())
    falls = np.flatnonzero(np.diff(mean) < 0)
    crest = int(falls[0]) if len(falls) else n
    if len(falls) and mean[crest] >= plateau:
        return float(crest)
    reached = np.flatnonzero(mean >= _PLATEAU * plateau)
    return float(reached[0]) if len(reached) else float(n)


def _evened(values: Rows, sigma: float) -> Rows:
    if sigma < 0.3:
        return values
    return np.asarray(cv2.GaussianBlur(values[None, :], (0, 0), sigmaX=sigma, borderType=cv2.BORDER_REPLICATE)[0])


def _slow(values: NDArray[np.float32], strip: MModeStrip) -> Rows:
    return _evened(values.astype(np.float64), _LEVEL_MS / strip.ms_per_col)
