"""An M-mode strip as it is measured: grey levels, and how large a pixel is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MModeStrip:
    """Rows are depth, the probe at the top; columns are moments, the earliest at the left.

    Attributes
    ----------
    levels : ndarray of shape (row, column), uint8
        Grey levels of the strip alone: no axis, no ECG, no writing.
    mm_share, ms_share : float
        Error of the two scales, one standard deviation as a share of the scale.
    r_times_ms : tuple of float
        R waves of the ECG, from the middle of the first column, rising; empty where there is no ECG.
    """

    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    mm_share: float = 0.0
    ms_share: float = 0.0
    r_times_ms: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.levels.ndim != 2 or self.levels.dtype != np.uint8:
            raise ValueError(
                f"an M-mode strip must be grey levels (row, column) in uint8, got {self.levels.dtype} of shape "
                f"{self.levels.shape}; cut the strip out and make it grey"
            )
        for name in ("mm_per_row", "ms_per_col"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name} must be above 0, got {value}; calibrate the strip first")
        if any(later <= earlier for earlier, later in zip(self.r_times_ms, self.r_times_ms[1:], strict=False)):
            raise ValueError(f"R times must rise, got {self.r_times_ms}")

    @property
    def depth_mm(self) -> float:
        """Depth of the whole strip."""
        return int(self.levels.shape[0]) * self.mm_per_row

    @property
    def duration_ms(self) -> float:
        """Time of the whole strip."""
        return int(self.levels.shape[1]) * self.ms_per_col
