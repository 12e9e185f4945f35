"""A strip from the right through the root of the aorta and the left atrium, drawn from diameters that are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode import MModeStrip
from tests.measure.m_mode.drawn_strip import (
    BLOOD_DB,
    LUNG_DB,
    PERICARDIUM_DB,
    WALL_DB,
    depth_mm,
    share_of_beat,
    shown,
    times_ms,
    with_surfaces,
)

Floats = NDArray[np.float64]
CHEST_MM, OUTFLOW_MM = 12.0, 20.0  # wall of the right ventricle ends, near wall of the aorta begins at the R wave
MOVES_MM = -2.0  # of the whole root towards the probe in systole
WALL_MM, BACK_MM = 1.5, 1.5  # of the aorta, of the atrium's far wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Root:
    """Sizes from leading edge to leading edge.

    Attributes
    ----------
    aorta_mm, atrium_mm : float
        Of the aorta always; of the atrium at its largest.
    fills_mm : float
        By how much the atrium is smaller at the R wave.
    has_cusps : bool
        Whether the shut cusps lie as a line in the vessel, and the open ones on its far wall.
    """

    aorta_mm: float = 14.0
    atrium_mm: float = 20.0
    fills_mm: float = 4.0
    has_cusps: bool = True
    starts_ms: tuple[float, ...] = (60.0, 560.0, 1060.0, 1560.0)

    def systole(self, time_ms: Floats) -> Floats:
        """Return how far the heart has shrunk, 0 to 1; the atrium is largest where it is 1."""
        share = share_of_beat(self.starts_ms, time_ms)
        up, down = np.clip(share / 0.42, 0, 1), np.clip((share - 0.5) / 0.3, 0, 1)
        return np.asarray(np.where(share < 0.46, np.sin(np.pi / 2 * up) ** 2, np.cos(np.pi / 2 * down) ** 2))


def walls_mm(root: Root) -> Floats:
    """Return the depth of the three leading edges, (3, column)."""
    shrunk = root.systole(times_ms())
    near = OUTFLOW_MM + MOVES_MM * shrunk
    far = near + root.aorta_mm
    return np.stack([near, far, far + root.atrium_mm - root.fills_mm * (1 - shrunk)])


def root_strip_of(root: Root, seed: int = 0, gain_db: float = 0.0, *, with_ecg: bool = True) -> MModeStrip:
    """Return the strip of a root."""
    rng = np.random.default_rng(seed)
    depth = depth_mm()
    near, far, back = (row[None, :] for row in walls_mm(root))
    shrunk = root.systole(times_ms())[None, :]
    is_wall = (
        (depth < CHEST_MM) | ((depth >= near) & (depth < near + WALL_MM)) | ((depth >= far) & (depth < far + WALL_MM))
    )
    is_wall |= (depth >= back) & (depth < back + BACK_MM)
    if root.has_cusps:
        shut = np.abs(depth - (near + far) / 2) < 0.4
        on_wall = (depth >= far - 1.2) & (depth < far)
        is_wall |= np.where(shrunk < 0.15, shut, on_wall & (shrunk > 0.5))
    size_db = np.where(is_wall, WALL_DB, BLOOD_DB)
    size_db = np.where(depth >= back + BACK_MM, LUNG_DB, size_db)
    size_db = np.where(np.abs(depth - back - BACK_MM - 0.5) < 0.5, PERICARDIUM_DB, size_db)
    amplitude = rng.rayleigh(size=size_db.shape) / np.sqrt(2) * 10 ** (size_db / 20)
    amplitude = with_surfaces(amplitude, (near, near + WALL_MM, far, far + WALL_MM, back))
    return shown(amplitude, rng, gain_db, root.starts_ms, with_ecg=with_ecg)
