"""A spectrum read off the screen: its axes, and where its signal reaches to in each column."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Layout, PhysicalUnit, Region, SpatialFormat

Floats = NDArray[np.float64]

# Grey levels above the quiet part of the strip from which smoothed brightness counts as signal (engineering judgement:
# noise that is just shown stays below).
SIGNAL_LEVELS = 26.0
QUIET_PERCENTILE = 20.0
# A gap of so much of the height within a column does not end the signal: a spectrum is speckled, and hollow.
GAP_SHARE = 0.06
# A signal begins no further from the baseline than this share of the height; what lies beyond, alone, is noise.
FOOT_SHARE = 0.22
_LINE_PX = 2  # rows about the baseline that its drawn line may cover


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectralAxes:
    """Where a spectrum lies and what its pixels mean."""

    box: Box
    baseline_row_px: float  # row of velocity 0, of the whole screen; may lie outside the box
    cm_s_per_px: float  # size of a row, above 0
    is_inverted: bool  # towards the top means away from the probe
    ms_per_px: float

    @property
    def above_px(self) -> float:
        """Room above the baseline."""
        return float(np.clip(self.baseline_row_px - self.box.row0, 0, self.box.height_px))

    @property
    def below_px(self) -> float:
        """Room below the baseline."""
        return self.box.height_px - self.above_px


def find_axes(layout: Layout) -> SpectralAxes | str:
    """Return the axes of the spectrum on a screen, or why there are none."""
    held = [item for item in layout.regions if item.region.spatial_format == SpatialFormat.SPECTRAL]
    if not held:
        return "the file does not say where the spectrum lies on the screen"
    trusted = [item.region for item in held if item.trusted]
    if not trusted:
        return f"what the file says of the spectrum is not borne out by the picture: {held[0].reason}"
    region = max(trusted, key=lambda item: item.box.width_px * item.box.height_px)
    return _axes(region)


def _axes(region: Region) -> SpectralAxes | str:
    if region.unit_x != PhysicalUnit.SECONDS or not region.delta_x:
        return "the file gives no time scale for the spectrum"
    if region.unit_y != PhysicalUnit.CM_PER_S or not region.delta_y:
        return "the file gives no velocity scale for the spectrum"
    if region.reference_row_px is None:
        return "the file does not say where the baseline of the spectrum lies"
    zero = region.box.row0 + region.reference_row_px
    if region.reference_value_y:
        zero -= region.reference_value_y / region.delta_y
    return SpectralAxes(
        box=region.box,
        baseline_row_px=zero,
        cm_s_per_px=abs(region.delta_y),
        is_inverted=region.delta_y > 0,
        ms_per_px=1000.0 * abs(region.delta_x),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectralReach:
    """How far the signal reaches, column by column.

    Attributes
    ----------
    up_px, down_px : ndarray of shape (column,)
        From the baseline to the farthest row of signal above and below it; 0: none.
    foot_up_px, foot_down_px : ndarray of shape (column,)
        From the baseline to the nearest row of signal; NaN where there is none.
    signal : ndarray of shape (row, column), bool
        Smoothed brightness above the quiet level.
    quiet_level : float
        Grey level of the strip where nothing flows.
    """

    up_px: Floats
    down_px: Floats
    foot_up_px: Floats
    foot_down_px: Floats
    signal: NDArray[np.bool_]
    quiet_level: float


def read_reach(grey: NDArray[np.uint8], axes: SpectralAxes) -> SpectralReach:
    """Return how far a spectrum reaches.

    Parameters
    ----------
    grey : ndarray of shape (row, col)
        The whole screen; the strip is cut out of it.
    axes : SpectralAxes
        Where it lies.
    """
    strip = grey[axes.box.row0 : axes.box.row1, axes.box.col0 : axes.box.col1]
    zero = axes.baseline_row_px - axes.box.row0
    smooth = cv2.GaussianBlur(strip, (0, 0), sigmaX=1.6, sigmaY=1.6).astype(np.float64)
    level = float(np.percentile(smooth, QUIET_PERCENTILE))
    signal = smooth >= level + SIGNAL_LEVELS
    middle = round(zero)
    signal[max(middle - _LINE_PX, 0) : middle + _LINE_PX + 1] = False
    gap, foot = GAP_SHARE * len(strip), FOOT_SHARE * len(strip)
    up = _outwards(signal[: max(middle, 0)][::-1], gap, foot)
    down = _outwards(signal[max(middle, 0) :], gap, foot)
    return SpectralReach(
        up_px=up[0], down_px=down[0], foot_up_px=up[1], foot_down_px=down[1], signal=signal, quiet_level=level
    )


def _outwards(signal: NDArray[np.bool_], gap_px: float, foot_px: float) -> tuple[Floats, Floats]:
    """Return farthest and nearest row of the signal that begins near row 0 and goes on without a large gap."""
    rows, cols = signal.shape
    far, foot = np.zeros(cols), np.full(cols, np.nan)
    if rows == 0:
        return far, foot
    place = np.arange(rows, dtype=np.float64)[:, None]
    last = np.maximum.accumulate(np.where(signal, place, -1.0), axis=0)  # last row of signal so far
    first = np.where(signal.any(axis=0), signal.argmax(axis=0).astype(np.float64), np.inf)
    begun = last >= 0
    broken = begun & (place - last > gap_px)
    ends = np.where(broken.any(axis=0), broken.argmax(axis=0), rows - 1)
    reach = last[ends, np.arange(cols)]
    has = first <= foot_px
    far[has] = reach[has] + 1.0
    foot[has] = first[has]
    return far, foot


def has_guide(layout: Layout) -> bool | None:
    """Return whether a picture stands beside the spectrum; None where the file has no regions to tell."""
    if not layout.regions:
        return None
    return any(item.region.spatial_format == SpatialFormat.TWO_D for item in layout.regions)
