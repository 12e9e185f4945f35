"""The ECG of one recording as a row of samples, and the piece of it that a screen shows at one moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EcgStrip:
    """Voltage over time. Time 0 is the first frame; samples before it were drawn when the clip began."""

    mv: NDArray[np.float32]  # (sample,)
    first_ms: float  # time of the first sample, usually below 0
    step_ms: float
    r_times_ms: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.mv.ndim != 1 or len(self.mv) < 2 or not self.step_ms > 0:
            raise ValueError(
                f"an ECG needs at least two samples in a row and a step above 0 ms, "
                f"got shape {self.mv.shape} and {self.step_ms} ms"
            )

    def at(self, times_ms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the voltage at these times; NaN outside the recording."""
        own = self.first_ms + self.step_ms * np.arange(len(self.mv))
        return np.asarray(np.interp(times_ms, own, self.mv, left=np.nan, right=np.nan))
