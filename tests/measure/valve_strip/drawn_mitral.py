"""A strip through the tips of the mitral leaflets, drawn from distances that are known."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode import MModeStrip
from tests.measure.m_mode.drawn_strip import (
    BLOOD_DB,
    LUNG_DB,
    MM_PER_ROW,
    PERICARDIUM_DB,
    ROWS,
    WALL_DB,
    depth_mm,
    share_of_beat,
    shown,
    times_ms,
    with_surfaces,
)

Floats = NDArray[np.float64]
SEPTUM_MM, FREE_WALL_MM, PERICARDIUM_MM = (15.0, 22.0), 44.0, 51.0  # depth of both sides, and of the walls below
SEPTUM_MOVES_MM, WALL_MOVES_MM = 2.0, -5.0  # downwards by the end of systole
SHUT_MM = 14.0  # from the septum to the leaflets that touch each other


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """How near the leaflet comes to the septum, mm, and when, as a share of a beat."""

    e_mm: float = 5.0
    a_mm: float = 8.0
    rest_mm: float = 10.0
    leaflet_mm: float = 0.6
    opens: bool = True
    starts_ms: tuple[float, ...] = (60.0, 560.0, 1060.0, 1560.0)

    def share_of_beat(self, time_ms: Floats) -> Floats:
        """Return how far each moment is in its beat, 0 to 1."""
        return share_of_beat(self.starts_ms, time_ms)

    def systole(self, time_ms: Floats) -> Floats:
        """Return how far the heart has shrunk, 0 to 1."""
        return np.asarray(np.interp(self.share_of_beat(time_ms), [0.0, 0.42, 0.62, 1.0], [0.0, 1.0, 0.0, 0.0]))

    def separation_mm(self, time_ms: Floats) -> Floats:
        """Return the distance of septum and leaflet at each moment."""
        if not self.opens:
            return np.full(time_ms.shape, SHUT_MM)
        share = self.share_of_beat(time_ms)
        # The M of the leaflet: shut in systole, E, half shut, A, shut at the R wave.
        return np.interp(
            share,
            [0.0, 0.52, 0.58, 0.61, 0.70, 0.82, 0.90, 0.99, 1.0],
            [SHUT_MM, SHUT_MM, self.e_mm, self.e_mm, self.rest_mm, self.rest_mm, self.a_mm, SHUT_MM, SHUT_MM],
        )


def strip_of(valve: Valve, seed: int = 0, gain_db: float = 0.0, *, with_ecg: bool = True) -> MModeStrip:
    """Return the strip of a valve."""
    rng = np.random.default_rng(seed)
    depth = depth_mm()
    shrunk = valve.systole(times_ms())[None, :]
    upper, lower = (at + SEPTUM_MOVES_MM * shrunk for at in SEPTUM_MM)
    wall, pericardium = FREE_WALL_MM + WALL_MOVES_MM * shrunk, PERICARDIUM_MM + 0.3 * WALL_MOVES_MM * shrunk
    front = lower + valve.separation_mm(times_ms())[None, :]
    is_leaflet = (depth >= front) & (depth < front + valve.leaflet_mm)
    is_wall = ((depth >= upper) & (depth < lower)) | ((depth >= wall) & (depth < pericardium)) | (depth < 8.0)
    size_db = np.where(is_wall | is_leaflet, WALL_DB, BLOOD_DB)
    size_db = np.where(depth >= pericardium, LUNG_DB, size_db)
    size_db = np.where(np.abs(depth - pericardium - 0.4) < 0.4, PERICARDIUM_DB, size_db)
    # What is solid keeps its texture and takes it along.
    still = rng.rayleigh(size=(3 * ROWS,)) / np.sqrt(2)
    moved = np.where(depth < 0.5 * (lower + wall), upper - SEPTUM_MM[0], wall - FREE_WALL_MM)
    own_row = np.rint((depth - moved) / MM_PER_ROW).astype(int) + ROWS
    texture = np.where(size_db == BLOOD_DB, rng.rayleigh(size=size_db.shape) / np.sqrt(2), still[own_row])
    amplitude = np.where(is_leaflet, 1.0, texture) * 10 ** (size_db / 20)
    amplitude = with_surfaces(amplitude, (upper, lower, wall, front))
    return shown(amplitude, rng, gain_db, valve.starts_ms, with_ecg=with_ecg)


ROW0, COL0 = 40, 60  # of a strip on its screen


def screen_of(strip: MModeStrip, starts_ms: tuple[float, ...]) -> NDArray[np.uint8]:
    """A strip on black with a green trace below it: a spike at the start of each beat."""
    rows, cols = strip.levels.shape
    screen = np.zeros((ROW0 + rows + 120, COL0 + cols + 40, 3), np.uint8)
    screen[ROW0 : ROW0 + rows, COL0 : COL0 + cols] = strip.levels[..., None]
    base, points = ROW0 + rows + 80, []
    for col in range(cols):
        away = min(abs(col - start / strip.ms_per_col) for start in starts_ms)
        points.append((COL0 + col, base - round(50 * max(0.0, 1 - away / 2))))
    cv2.polylines(screen, [np.array(points, np.int32).reshape(-1, 1, 2)], False, (40, 220, 60), 1, cv2.LINE_AA)
    return screen
