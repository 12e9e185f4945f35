"""Whether R waves were missed: flow that runs again within an interval as it does after each of the others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fanlight.measure.doppler.beats import alike, period_ms, summed
from fanlight.measure.doppler.envelope import Envelope

WHY = "the R waves that were found leave out beats that the flow shows"
# Of the flow's own period: an interval so much longer may hide a beat, and one within this share shows that the period
# is a beat. Early and late filling half a beat apart look like a period too, but no R wave comes at it (engineering
# judgement).
_LONG_SHARE, _NEAR_SHARE = 1.5, 0.2
_LEAST_ALIKE = 0.6  # correlation of the flow in such an interval with itself a period later (engineering judgement)


def hides_a_beat(r_times_ms: Sequence[float], envelopes: Sequence[Envelope]) -> bool:
    """Return whether an interval between R waves holds two beats by the flow's own rhythm.

    Parameters
    ----------
    r_times_ms : sequence of float
        From the left edge of the strip.
    envelopes : sequence of Envelope
        Both sides of the strip.
    """
    period, times = period_ms(envelopes), np.asarray(sorted(r_times_ms), np.float64)
    intervals = np.diff(times)
    if period is None or not (np.abs(intervals / period - 1) <= _NEAR_SHARE).any():
        return False
    per, flow = envelopes[0].ms_per_px, summed(envelopes)
    lag = max(round(period / per), 1)
    for start in np.flatnonzero(intervals > _LONG_SHARE * period):
        first, last = (round(t / per) for t in (max(times[start], 0.0), times[start + 1]))
        part = flow[first:last]
        if len(part) > lag and alike(part[:-lag], part[lag:]) >= _LEAST_ALIKE:
            return True
    return False
