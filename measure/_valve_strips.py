"""M-mode strips through the mitral valve of simulated animals, with the tissue along the cursor as the truth."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.ring import Ring
from measure._cursor_strips import CursorStrip, draw_cursor_strip
from measure._m_mode_strips import STRIP_MS, tissue_along

VIEWS = ("right_parasternal_long_axis_outflow", "right_parasternal_short_axis_mitral_valve")
_STREAM = 29
_ABOUT_E_MS = 50.0  # from the widest opening of the valve: the leaflet is nearest to the septum within it


@dataclass(frozen=True, kw_only=True, eq=False)
class ValveStrip:
    """A strip and what lies along its cursor.

    Attributes
    ----------
    true_mm : tuple of float
        Of each whole beat: from the left side of the septum to the septal leaflet where that is nearest to the probe
        about the widest early opening; NaN where the cursor meets no septum or no leaflet then.
    """

    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    r_times_ms: tuple[float, ...]  # as read off a screen
    true_mm: tuple[float, ...]
    heart: str
    species: str
    weight_kg: float


def draw_mitral_strip(seed: int, ring: Ring, view: str) -> ValveStrip:
    """Return the strip of a subject: a steady hand's, with sweep, gain and dynamic range at random.

    Raises
    ------
    ValueError
        If the animal cannot be scanned in this view.
    """
    strip = draw_cursor_strip(seed, ring, view, _STREAM, STRIP_MS)
    animal = strip.subject.animal
    return ValveStrip(
        levels=strip.levels, mm_per_row=strip.mm_per_row, ms_per_col=strip.ms_per_col, r_times_ms=strip.r_times_ms,
        true_mm=_true_mm(strip), heart=animal.heart.value, species=animal.species.value, weight_kg=animal.weight_kg,
    )  # fmt: skip


def _true_mm(strip: CursorStrip) -> tuple[float, ...]:
    depth_mm = (np.arange(len(strip.levels)) + 0.5) * strip.mm_per_row
    points, film, times_ms = strip.start_mm + depth_mm[:, None] * strip.along, strip.film, strip.times_ms
    septum, leaflet = np.full(len(times_ms), np.nan), np.full(len(times_ms), np.nan)
    states = [film.state_at(time_ms) for time_ms in times_ms]
    opening = np.array([state.mitral_opening for state in states])
    for col, tissue in enumerate(tissue_along(strip.subject.animal, states, points)):
        wall = np.flatnonzero(tissue == Tissue.SEPTUM)
        if not len(wall):
            continue
        septum[col] = wall[-1] + 1
        below = np.flatnonzero(tissue[wall[-1] + 1 :] == Tissue.MITRAL_SEPTAL_LEAFLET)
        leaflet[col] = wall[-1] + 1 + below[0] if len(below) else np.nan
    half, found = round(_ABOUT_E_MS / strip.ms_per_col), []
    for start, end in pairwise(round(r / strip.ms_per_col) for r in strip.true_r_times_ms):
        widest = start + int(opening[start:end].argmax())
        about = slice(max(widest - half, 0), widest + half + 1)
        if np.isnan(leaflet[about]).all():
            found.append(float("nan"))
            continue
        nearest = about.start + int(np.nanargmin(leaflet[about]))
        found.append(float(leaflet[nearest] - septum[nearest]) * strip.mm_per_row)
    return tuple(found)
