"""One side of a spectrum's baseline as an array that runs outwards, and the grey levels it is to be judged by."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes

Floats = NDArray[np.float64]

# Speckle is as long as the piece of signal behind a column, some 10 ms, and as high as one over it (engineering
# judgement: enough to still the speckle, too little to move a wave that rises over 30 ms).
SMOOTH_MS, SMOOTH_PX = 3.5, 1.3
# The wall filter darkens the ground about the baseline: it is read from further out.
_FILTER_SHARE = 0.12
_GROUND_PERCENTILE, _BODY_PERCENTILE = 35.0, 98.0
# Echoes of walls lie next to the baseline and outshine blood: the body is read further out.
_WALL_SHARE = 0.12
# A body must stand so far above the ground to be one, grey levels (engineering judgement: shown noise stays below, and
# of fainter signal only the loudest specks are seen, not its edge).
LEAST_BODY = 50.0
_FEWEST_ROWS = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """What lies on one side of the baseline.

    Attributes
    ----------
    levels : ndarray of shape (row, column)
        Grey levels as stored; row 0 lies next to the baseline.
    smooth : ndarray of shape (row, column)
        The same without speckle.
    ground : float
        Grey level where nothing flows.
    body : float
        Grey level of the dense part of the signal.
    first_px : float
        Distance of row 0 from the baseline.
    """

    levels: Floats
    smooth: Floats
    ground: float
    body: float
    first_px: float

    @property
    def share(self) -> Floats:
        """Brightness from ground (0) to body (1), clipped."""
        return np.clip((self.smooth - self.ground) / (self.body - self.ground), 0.0, 1.0)

    @property
    def has_signal(self) -> bool:
        """Whether anything stands out from the ground."""
        return self.body - self.ground >= LEAST_BODY and len(self.levels) >= _FEWEST_ROWS


def sides_of(grey: NDArray[np.uint8], axes: SpectralAxes) -> tuple[Side, Side]:
    """Return what lies above and below the baseline of a spectrum.

    Parameters
    ----------
    grey : ndarray of shape (row, col)
        The whole screen; the strip is cut out of it.
    axes : SpectralAxes
        Where it lies.
    """
    box = axes.box
    strip = grey[box.row0 : box.row1, box.col0 : box.col1].astype(np.float64)
    sigma = max(SMOOTH_MS / axes.ms_per_px, 0.5)
    smooth = cv2.GaussianBlur(strip, (0, 0), sigmaX=sigma, sigmaY=SMOOTH_PX)
    zero = axes.baseline_row_px - box.row0
    # Rows whose middle lies above the baseline; the baseline's own row is a drawn line and belongs to no side.
    above = int(np.clip(np.ceil(zero), 0, len(strip)))
    below = int(np.clip(np.floor(zero) + 1, 0, len(strip)))
    ground = _ground(smooth, zero)
    return (
        _side(strip[:above][::-1], smooth[:above][::-1], ground, zero - (above - 1)),
        _side(strip[below:], smooth[below:], ground, below - zero),
    )


def _ground(smooth: Floats, zero: float) -> float:
    """Return the level where nothing flows: of the darker columns in each row, away from the wall filter."""
    off = np.abs(np.arange(len(smooth)) - zero) > _FILTER_SHARE * len(smooth)
    rows = smooth[off] if off.any() else smooth
    return float(np.median(np.percentile(rows, _GROUND_PERCENTILE, axis=1)))


def _side(levels: Floats, smooth: Floats, ground: float, first_px: float) -> Side:
    far = smooth[round(_WALL_SHARE * len(smooth)) :]
    body = float(np.percentile(far, _BODY_PERCENTILE)) if far.size else ground
    return Side(levels=levels, smooth=smooth, ground=ground, body=max(body, ground + 1.0), first_px=first_px)
