"""How the flank of a wave runs, and where it meets the baseline: the foot itself lies in the wall filter."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LONGEST_FOOT_MS = 40.0  # that a flank is drawn on to the baseline (engineering judgement)
_BELL_BEGINS = 0.03  # of the peak, where a wave without a sharp foot is taken to begin (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flank:
    """The shape of a flank.

    Attributes
    ----------
    way : callable
        From shares of the peak to the share of the flank's time after which a rise reaches them.
    foot : float
        Share of the flank's time at which the wave is taken to begin.
    low, high : float
        Shares of the peak between which the shape is laid on: lower, the wall filter and the leap of the path rule,
        higher, speckle does.
    inner_ms : float
        By which a foot, seen through the length of a column, lies too far out.
    """

    way: Callable[[Floats], Floats]
    foot: float
    low: float
    high: float
    inner_ms: float


def _dome_way(share: Floats) -> Floats:
    return np.asarray(np.arcsin(share) * 2.0 / np.pi, np.float64)


def _bell_way(share: Floats) -> Floats:
    return np.asarray(np.arccos(1.0 - 2.0 * share) / np.pi, np.float64)


# Ejection and leaks: a quarter of a sine, steep at once and blunt about the peak. A straight line through its lower
# half would meet the baseline some 1.5 % of the flank too far out (identity). Inflow: half a cosine, gentle at both
# ends; the line would meet it 17 % too far in. Shapes: common practice, no source; all else: set on ring A.
DOME = Flank(way=_dome_way, foot=0.0, low=0.2, high=0.75, inner_ms=3.0)
BELL = Flank(way=_bell_way, foot=float(_bell_way(np.asarray(_BELL_BEGINS))), low=0.5, high=0.85, inner_ms=2.0)


def foot_ms(times_ms: Floats, velocity: Floats, peak: float, flank: Flank) -> float:
    """Return when a rising flank left the baseline.

    Parameters
    ----------
    times_ms, velocity : ndarray of shape (column,)
        From the foot to the top.
    peak : float
        Velocity of the top.
    flank : Flank
        Its shape: what is laid on by least squares is the share of the flank's time, which runs straight.
    """
    below, low = np.flatnonzero(velocity < flank.high * peak), np.flatnonzero(velocity < flank.low * peak)
    first, last = (int(low[-1]) + 1 if len(low) else 0), (int(below[-1]) + 2 if len(below) else 1)
    t, way = times_ms[first:last], flank.way(np.clip(velocity[first:last] / peak, 0.0, 1.0))
    if len(t) < 2 or way[-1] <= way[0]:
        return float(times_ms[0] - 0.5 * (times_ms[1] - times_ms[0])) if len(times_ms) > 1 else float(times_ms[0])
    pace, at_first = np.polyfit(t - t[0], way, 1)
    reach_ms = (at_first - flank.foot) / max(pace, 1e-9)
    return float(t[0] - min(reach_ms, _LONGEST_FOOT_MS) + flank.inner_ms)
