"""A strip from the apex through the ring of the tricuspid valve, drawn from an excursion that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode import MModeStrip
from tests.measure.m_mode.drawn_strip import (
    BLOOD_DB,
    LUNG_DB,
    MM_PER_ROW,
    ROWS,
    WALL_DB,
    depth_mm,
    share_of_beat,
    shown,
    times_ms,
)

Floats = NDArray[np.float64]
APEX_MM, RING_MM, BEHIND_MM = 20.0, 48.0, 57.0  # muscle ends, ring begins, lung begins: depths at the R wave


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """What the ring does in a beat.

    Attributes
    ----------
    mm : float
        How far it comes towards the apex.
    wall_comes_in : bool
        Whether the wall of the right ventricle lies on it in systole: the first echo then comes twice as far.
    goes_back : bool
        Whether it does so in diastole.
    has_ring : bool
        Whether the cursor meets it; else there is blood down to the lung, which stands still.
    """

    mm: float = 9.0
    wall_comes_in: bool = True
    goes_back: bool = True
    has_ring: bool = True
    starts_ms: tuple[float, ...] = (60.0, 560.0, 1060.0, 1560.0)

    def gone(self, time_ms: Floats) -> Floats:
        """Return how far the ring has come, 0 to 1."""
        share = share_of_beat(self.starts_ms, time_ms)
        back = 0.0 if self.goes_back else 1.0
        smooth = np.interp(share, np.linspace(0, 1, 41), _course(back))
        return np.asarray(smooth)


def _course(back: float) -> Floats:
    share = np.linspace(0, 1, 41)
    up = np.sin(np.pi / 2 * np.clip(share / 0.42, 0, 1)) ** 2
    down = back + (1 - back) * np.cos(np.pi / 2 * np.clip((share - 0.5) / 0.3, 0, 1)) ** 2
    return np.asarray(np.where(share < 0.45, up, down))


def ring_strip_of(ring: Ring, seed: int = 0, gain_db: float = 0.0, *, with_ecg: bool = True) -> MModeStrip:
    """Return the strip of a ring."""
    rng = np.random.default_rng(seed)
    depth = depth_mm()
    gone = ring.mm * ring.gone(times_ms())[None, :]
    begins = RING_MM - gone
    comes = RING_MM - 2 * gone if ring.wall_comes_in else begins
    is_apex = depth < APEX_MM - 0.3 * gone  # the chest above it as well
    is_ring = (depth >= begins) & (depth < BEHIND_MM - gone)
    is_wall = (depth >= comes) & (depth < begins)
    if not ring.has_ring:
        is_ring, is_wall = np.zeros_like(is_ring), np.zeros_like(is_wall)
    size_db = np.where(is_apex | is_ring, WALL_DB, BLOOD_DB)
    size_db = np.where(is_wall, WALL_DB - 6.0, size_db)
    size_db = np.where(depth >= BEHIND_MM + 3.0, LUNG_DB, size_db)
    # What is solid keeps its texture and takes it along: the ring by its own way, the wall by another.
    still = rng.rayleigh(size=(3 * ROWS,)) / np.sqrt(2)
    moved = np.where(is_apex, -0.3 * gone, np.where(is_wall, -2 * gone, np.where(depth < BEHIND_MM - gone, -gone, 0.0)))
    texture = still[np.rint((depth - moved) / MM_PER_ROW).astype(int) + ROWS]
    amplitude = np.where(size_db == BLOOD_DB, rng.rayleigh(size=size_db.shape) / np.sqrt(2), texture)
    return shown(amplitude * 10 ** (size_db / 20), rng, gain_db, ring.starts_ms, with_ecg=with_ecg)
