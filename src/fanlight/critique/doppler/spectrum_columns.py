"""Columns of a spectrum: where its signal ends, is cut off or wraps, and which are clicks of valves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach

# The height of a signal is that which its highest columns reach; single columns are clicks of valves.
TOP_PERCENTILE = 94.0
LEAST_REACH_SHARE = 0.04  # of the height of the strip: less is the wall filter's rim, no signal
FEWEST_COLUMNS = 20
EDGE_SHARE = 0.03  # of the height of the strip: nearer to its end than this a signal is cut off
# A click of a valve fills its columns from end to end, but for no longer than this; signal that wraps often does.
FILLED_SHARE, LONGEST_CLICK_MS = 0.85, 40.0
# The smaller side of a strip is room for what comes back: that may be cut off while the larger side holds the flow.
SMALL_SIDE_SHARE = 0.5  # of the other side's room (engineering judgement)
EMPTY_SHARE = 0.35  # of the room on one side, for the other to have been worth moving the baseline


def top_px(reach_px: NDArray[np.float64], axes: SpectralAxes) -> float:
    """Return the height that the signal's high columns reach; 0 where there is none."""
    there = reach_px[reach_px > LEAST_REACH_SHARE * axes.box.height_px]
    return float(np.percentile(there, TOP_PERCENTILE)) if len(there) >= FEWEST_COLUMNS else 0.0


def cut_off_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns in which the signal runs into an end of the strip."""
    up, down = _cut_off(reach, axes)
    return np.asarray(up | down)


def passed_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns in which the flow that the strip was set for is cut off.

    The smaller side counts only while the larger one stands nearly empty: then the flow lies on the smaller.
    """
    up, down = _cut_off(reach, axes)
    if axes.above_px < SMALL_SIDE_SHARE * axes.below_px and top_px(reach.down_px, axes) > EMPTY_SHARE * axes.below_px:
        return down
    if axes.below_px < SMALL_SIDE_SHARE * axes.above_px and top_px(reach.up_px, axes) > EMPTY_SHARE * axes.above_px:
        return up
    return np.asarray(up | down)


def _cut_off(reach: SpectralReach, axes: SpectralAxes) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    margin = EDGE_SHARE * axes.box.height_px
    up = (axes.above_px > margin) & (reach.up_px >= axes.above_px - margin)
    down = (axes.below_px > margin) & (reach.down_px >= axes.below_px - margin)
    return np.asarray(up), np.asarray(down)


def wrapped_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns in which the signal runs out at one end of the strip and comes in at the other."""
    margin = max(round(EDGE_SHARE * axes.box.height_px), 2)
    signal = reach.signal
    at_top, at_bottom = signal[:margin].any(axis=0), signal[-margin:].any(axis=0)
    return np.asarray(at_top & at_bottom & cut_off_columns(reach, axes))


def click_columns(reach: SpectralReach, axes: SpectralAxes) -> NDArray[np.bool_]:
    """Return the columns of valve clicks: filled from end to end, for some milliseconds only."""
    filled = reach.signal.mean(axis=0) > FILLED_SHARE
    edges = np.flatnonzero(np.diff(np.concatenate([[0], filled.astype(np.int8), [0]])))
    clicks = np.zeros(len(filled), np.bool_)
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        if (stop - first) * axes.ms_per_px <= LONGEST_CLICK_MS:
            clicks[max(first - 2, 0) : stop + 2] = True  # its flanks fade over two columns
    return clicks


def without_clicks(reach: SpectralReach, axes: SpectralAxes) -> SpectralReach:
    """Return the reach with the clicks of valves taken out."""
    clicks = click_columns(reach, axes)
    return replace(
        reach,
        up_px=np.where(clicks, 0.0, reach.up_px),
        down_px=np.where(clicks, 0.0, reach.down_px),
        foot_up_px=np.where(clicks, np.nan, reach.foot_up_px),
        foot_down_px=np.where(clicks, np.nan, reach.foot_down_px),
        signal=reach.signal & ~clicks,
    )
