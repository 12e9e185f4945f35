"""Columns of a spectrum: how high its signal stands, clicks of valves left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach

# The height of a signal is that which its highest columns reach; single columns are clicks of valves.
TOP_PERCENTILE = 94.0
LEAST_REACH_SHARE = 0.04  # of the height of the strip: less is the wall filter's rim, no signal
FEWEST_COLUMNS = 20
EMPTY_SHARE = 0.35  # of the room on one side, for the other to have been worth moving the baseline


def top_px(reach_px: NDArray[np.float64], axes: SpectralAxes) -> float:
    """Return the height that the signal's high columns reach; 0 where there is none."""
    there = reach_px[reach_px > LEAST_REACH_SHARE * axes.box.height_px]
    return float(np.percentile(there, TOP_PERCENTILE)) if len(there) >= FEWEST_COLUMNS else 0.0


def without_clicks(reach: SpectralReach, clicks: NDArray[np.bool_]) -> SpectralReach:
    """Return the reach with the clicks of valves taken out."""
    return replace(
        reach,
        up_px=np.where(clicks, 0.0, reach.up_px),
        down_px=np.where(clicks, 0.0, reach.down_px),
        foot_up_px=np.where(clicks, np.nan, reach.foot_up_px),
        foot_down_px=np.where(clicks, np.nan, reach.foot_down_px),
        signal=reach.signal & ~clicks,
    )
