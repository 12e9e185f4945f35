"""The envelopes of a spectrum, above and below its baseline: where the outer edge runs and what velocity it tells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.doppler.breadth import Breadth, read_breadth
from fanlight.measure.doppler.clicks import near_clicks
from fanlight.measure.doppler.path import PathCost, cheapest_path, fall_cost
from fanlight.measure.doppler.side import Side

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Of the strip's height: rows about the edge that are compared, and how far a path may climb between two columns and
# leap from the baseline; what a climb over the whole height costs. Engineering judgement, all.
_INSIDE_SHARE, _OUTSIDE_SHARE, _STEP_SHARE, _LEAP_SHARE = 0.03, 0.06, 0.08, 0.3
_CLIMB = 1.9
_BEYOND_SHARE = 0.1
_BEYOND, _BEYOND_WALL = 0.7, 0.1  # for signal left outside, of blood and of walls
# Signal leaves the strip where its outermost part is bright, and all that lies before it, so that it is no wrapped rest
# of other flow (engineering judgement; the last rows may be dimmed by a filter).
_END_SHARE, _BEFORE_SHARE, _END_BRIGHT, _BEFORE_BRIGHT = 0.05, 0.4, 0.3, 0.3
_RIM_SHARE, _RIM_BRIGHT = 0.06, 0.28  # the same for a band that passes the end on its way (engineering judgement)
_LEAVES = 0.5  # what a path that goes on to the end gains there, as a fall of brightness
_FEWEST_PX = 4
_USUAL_FALL = 0.93  # of the path's velocity where the fall is not known (engineering judgement; see `breadth`)
_END_PX = 2.0  # as near to the end of the strip counts as at it
# By how much the length of a column widens a rise and a fall: columns sum up 10 to 25 ms, the longer the slower the
# sweep, with weights that favour their middle; flow that ends grows faint first. Set on ring A.
_RISE_MS, _FALL_MS = 4.0, 3.3
_RISE_COLUMNS, _FALL_COLUMNS = 1.6, 1.3  # and at least so many columns
# Of the edge, from where the brightest row is looked for; of its height over the ground, what is all but as bright
# (engineering judgement).
_MODAL_FROM, _MODAL_ALIKE = 0.5, 0.95
STILL_MS = 4.5  # standard deviation of the weights by which the edge is averaged (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """One side of the baseline.

    Attributes
    ----------
    towards_probe : bool
        Which way blood on this side runs.
    edge_cm_s : ndarray of shape (column,)
        Velocity of the outer edge as it is drawn, 0 where there is no signal.
    velocity_cm_s : ndarray of shape (column,)
        The same without the breadth of the band: the fastest blood.
    modal_cm_s : ndarray of shape (column,)
        Velocity at which the signal is brightest, away from the walls, 0 where there is none.
    at_end : ndarray of shape (column,), bool
        Whether the edge lies at the end of the strip.
    end_bright : ndarray of shape (column,), bool
        Whether there is signal at the end of the strip: this one's, or wrapped rest of another flow.
    other_far : ndarray of shape (column,), bool
        Whether signal reaches far out on the other side of a pulsed spectrum at the same time: a gate hears one flow
        at a time, and that is then this one's wrapped rest. False until `wrap.with_other_side`.
    clicks : ndarray of shape (column,), bool
        Columns that a click covers; the envelope is led across them.
    strength : ndarray of shape (column,)
        Fall of brightness at the edge, from 0 (none) to 1 (from the dense signal to the ground).
    room_cm_s : float
        Highest velocity that this side has room for.
    """

    towards_probe: bool
    edge_cm_s: Floats
    velocity_cm_s: Floats
    modal_cm_s: Floats
    at_end: Flags
    end_bright: Flags
    other_far: Flags
    clicks: Flags
    strength: Floats
    room_cm_s: float
    ms_per_px: float
    cm_s_per_px: float
    breadth: Breadth | None

    @property
    def times_ms(self) -> Floats:
        """Middle of each column, from the left edge of the strip."""
        return np.asarray((np.arange(len(self.edge_cm_s)) + 0.5) * self.ms_per_px)


def envelope_of(
    side: Side, clicks: Flags, axes: SpectralAxes, *, towards_probe: bool, is_tissue: bool = False
) -> Envelope:  # fmt: skip
    """Return the envelope of one side; a wall is one dense band, and faint signal beyond it is not its own."""
    n = side.levels.shape[1]
    none = np.zeros(n)
    height, fall = none, none
    if side.has_signal:
        height, fall = _edge_px(side, clicks, axes, _BEYOND_WALL if is_tissue else _BEYOND)
    near = near_clicks(clicks, axes.ms_per_px)
    open_end = height >= len(side.levels) + side.first_px - 0.5 - _END_PX
    changes = _changes(height, axes.ms_per_px)
    breadth = read_breadth(side, height, ~clicks & ~open_end, changes) if side.has_signal else None
    edge = height * axes.cm_s_per_px
    velocity = narrowed(edge, axes.ms_per_px) * (breadth.ratio if breadth else _USUAL_FALL)
    at_end = open_end & (height > 0) & ~near
    bright = _end_bright(side.share) & ~near if side.has_signal else near & False
    return Envelope(
        towards_probe=towards_probe, edge_cm_s=edge,
        velocity_cm_s=np.where(at_end, edge, velocity),  # what leaves the strip is as fast as its end, at least
        modal_cm_s=_modal_px(side, height) * axes.cm_s_per_px, at_end=at_end, end_bright=bright,
        other_far=near & False, clicks=clicks,
        strength=fall, room_cm_s=(len(side.levels) + side.first_px - 0.5) * axes.cm_s_per_px,
        ms_per_px=axes.ms_per_px, cm_s_per_px=axes.cm_s_per_px, breadth=breadth,
    )  # fmt: skip


def _edge_px(side: Side, clicks: Flags, axes: SpectralAxes, beyond: float) -> tuple[Floats, Floats]:
    """Return how far from the baseline the edge lies, px, and how sharply brightness falls there."""
    height_px = axes.box.height_px
    cost = PathCost(
        inside_px=max(round(_INSIDE_SHARE * height_px), _FEWEST_PX),
        outside_px=max(round(_OUTSIDE_SHARE * height_px), _FEWEST_PX), bend=_CLIMB / height_px,
        step_px=max(round(_STEP_SHARE * height_px), 1),
        beyond=beyond, beyond_px=max(round(_BEYOND_SHARE * height_px), 1), leap_px=round(_LEAP_SHARE * height_px),
    )  # fmt: skip
    share = side.share
    costs = fall_cost(share, cost)
    leaves = _leaves(share) & ~near_clicks(clicks, axes.ms_per_px)
    costs[-1, leaves] = np.minimum(costs[-1, leaves], cost.least_fall - _LEAVES)
    costs[:-1, leaves] = np.maximum(costs[:-1, leaves], cost.least_fall)
    fall = cost.least_fall - costs
    costs[:, clicks] = 0.0
    rows = cheapest_path(costs, cost)
    strength = np.where(rows > 0, fall[rows, np.arange(len(rows))], 0.0)
    height = np.where(rows > 0, rows + side.first_px - 0.5, 0.0)
    return _stilled(height, axes.ms_per_px), np.clip(strength, 0.0, 1.0)


def _leaves(share: Floats) -> Flags:
    """Return the columns in which signal goes on to the end of the side, shape (column,)."""
    end = share[-max(round(_END_SHARE * len(share)), 2) :].mean(axis=0)
    before = share[-max(round(_BEFORE_SHARE * len(share)), 2) :].mean(axis=0)
    return np.asarray((end > _END_BRIGHT) & (before > _BEFORE_BRIGHT))


def _end_bright(share: Floats) -> Flags:
    """Return the columns in which something bright lies at the end of the side, shape (column,)."""
    rows = max(round(_RIM_SHARE * len(share)), 2)
    outer, inner = share[-rows:].mean(axis=0), share[-2 * rows : -rows].mean(axis=0)
    return np.asarray((outer > _RIM_BRIGHT) & (inner > _RIM_BRIGHT))


def _stilled(height: Floats, ms_per_px: float) -> Floats:
    """Return the path without the jitter of speckle; where it starts and ends stays.

    Through what stands near each column a straight line is laid, with weights of a bell (Cleveland 1979): a mean would
    lift the foot of a steep flank, which has higher columns on one side only.
    """
    there = (height > 0).astype(np.float64)
    sigma = STILL_MS / ms_per_px
    off = np.arange(-math.ceil(4 * sigma), math.ceil(4 * sigma) + 1)
    bell = np.exp(-0.5 * (off / sigma) ** 2)
    n, mean_off, square = (_about_each(there, bell * off**power) for power in (0, 1, 2))
    total, tilt = (_about_each(height, bell * off**power) for power in (0, 1))
    spread = n * square - mean_off**2
    line = np.where(spread > 1e-6, (square * total - mean_off * tilt) / np.maximum(spread, 1e-6), height)
    return np.asarray(np.where(there > 0, np.maximum(line, 0.0), 0.0), np.float64)


def _about_each(values: Floats, weights: Floats) -> Floats:
    """Return the weighted sum of what stands about each column, weights from left to right."""
    reach = len(weights) // 2
    return np.convolve(np.pad(values, reach), weights[::-1], mode="valid")


def _changes(height: Floats, ms_per_px: float) -> Floats:
    """Return by what share of itself the edge changes over the length of a column."""
    before, after = _about(height, ms_per_px)
    return np.asarray(np.abs(after - before) / np.maximum(height, 1e-9), np.float64)


def _about(edge: Floats, ms_per_px: float) -> tuple[Floats, Floats]:
    """Return the edge as far before and after each column as the column reaches."""
    at = np.arange(len(edge), dtype=np.float64)
    before = np.interp(at - max(_RISE_MS / ms_per_px, _RISE_COLUMNS), at, edge)
    return before, np.interp(at + max(_FALL_MS / ms_per_px, _FALL_COLUMNS), at, edge)


def narrowed(edge: Floats, ms_per_px: float) -> Floats:
    """Return the edge as it would run without the length of time that a column sums up.

    A column shows the fastest of a piece of time, so that a rise seems to begin early and a fall to end late. At a peak
    nothing changes.
    """
    before, after = _about(edge, ms_per_px)
    drop = edge - np.minimum(np.minimum(before, after), edge)
    slope = np.abs(after - before)
    flank = np.clip(slope / np.maximum(drop, 1e-9), 0.0, 1.0)
    return np.asarray(edge - flank * drop, np.float64)


def _modal_px(side: Side, height: Floats) -> Floats:
    """Return where the signal is brightest in the outer part of what lies inside the edge, px from the baseline.

    Further in lie walls. Of rows that are all but as bright the middle counts, since speckle chooses among them.
    """
    rows = np.arange(len(side.levels))[:, None] + side.first_px
    inside = (rows <= height[None]) & (rows >= _MODAL_FROM * height[None])
    level = np.where(inside, side.smooth, -np.inf)
    if not len(level):
        return np.zeros_like(height)
    best = level.max(axis=0)
    bright = inside & (level >= side.ground + _MODAL_ALIKE * (best - side.ground)[None])
    found = (rows * bright).sum(axis=0) / np.maximum(bright.sum(axis=0), 1)
    return np.asarray(np.where(height > 0, found, 0.0), np.float64)
