"""M-mode strips through aorta and left atrium of simulated animals, with the tissue along the cursor as the truth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.ring import Ring
from measure._cursor_strips import CursorStrip, draw_cursor_strip
from measure._m_mode_strips import tissue_along

VIEW = "right_parasternal_short_axis_aorta"
_STREAM = 37
_STEP_MM = 0.05  # along the cursor
_STEP_MS = 8.0
_LEAST_MM = 3.0  # from one wall of the aorta to the other
_LARGEST_SHARES = (0.2, 0.85)  # of a beat: between these the atrium is largest
_NEAR_WALL = (Tissue.AORTIC_WALL, Tissue.SEPTUM)  # the septum where the cursor lies below the valve
_ATRIUM = (Tissue.LA_CAVITY, Tissue.LEFT_AURICLE)


@dataclass(frozen=True, kw_only=True)
class TrueBeat:
    """What lies along the cursor in one beat; NaN where it misses aorta or atrium.

    Attributes
    ----------
    aorta_mm : float
        At the R wave, from where the near wall of the aorta begins to where its far wall begins.
    atrium_mm : float
        The largest from where the far wall of the aorta begins to where the far wall of the atrium begins.
    """

    aorta_mm: float
    atrium_mm: float


def draw_root_strip(seed: int, ring: Ring) -> CursorStrip:
    """Return the strip of a subject; ValueError if the animal cannot be scanned in this view."""
    return draw_cursor_strip(seed, ring, VIEW, _STREAM)


def true_beats(strip: CursorStrip) -> Iterator[TrueBeat]:
    """Yield what is true of each whole beat."""
    depth_mm = np.arange(0.0, len(strip.levels) * strip.mm_per_row, _STEP_MM)
    points = strip.start_mm + depth_mm[:, None] * strip.along
    for start, end in pairwise(strip.true_r_times_ms):
        low, high = (start + share * (end - start) for share in _LARGEST_SHARES)
        moments_ms = np.array([start, *np.arange(low, high, _STEP_MS)]) + strip.times_ms[0]
        states = [strip.film.state_at(float(moment)) for moment in moments_ms]
        (aorta_mm, _), *rest = (_sizes_mm(tissue) for tissue in tissue_along(strip.subject.animal, states, points))
        atria = [atrium_mm for _, atrium_mm in rest]
        seen = [mm for mm in atria if mm == mm]
        yield TrueBeat(aorta_mm=aorta_mm, atrium_mm=max(seen) if seen else float("nan"))


def _sizes_mm(tissue: NDArray[np.uint8]) -> tuple[float, float]:
    """Return the diameters of the aorta and of the atrium from what lies along the cursor at a moment."""
    atrium = np.flatnonzero(np.isin(tissue, [int(kind) for kind in _ATRIUM]))
    near = np.flatnonzero(np.isin(tissue, [int(kind) for kind in _NEAR_WALL]))
    wall = np.flatnonzero(tissue == Tissue.AORTIC_WALL)
    if not len(atrium) or not len(near):
        return float("nan"), float("nan")
    wall = wall[wall < atrium[0]]
    starts = wall[np.diff(wall, prepend=-2) > 1]
    if not len(starts) or starts[-1] - near[0] < _LEAST_MM / _STEP_MM:
        return float("nan"), float("nan")
    return float((starts[-1] - near[0]) * _STEP_MM), float((atrium[-1] + 1 - starts[-1]) * _STEP_MM)
