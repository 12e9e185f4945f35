"""One wave of an envelope: its peak, when it begins and ends, and the integrals over it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.clicks import runs
from fanlight.measure.doppler.envelope import STILL_MS, Envelope
from fanlight.measure.doppler.flank import DOME, Flank, foot_ms
from fanlight.measure.doppler.side import SMOOTH_MS

Floats = NDArray[np.float64]

# Columns near the peak to which a parabola is fitted, so that speckle does not choose the peak (engineering judgement).
_PEAK_SHARE, _FEWEST_PEAK = 0.88, 5
_LEAST_MS = 25.0  # a shorter wave is a click or speckle
_BRIDGE_MS = 12.0  # a gap that speckle or a click may tear
_FOOT_SHARE = 0.12  # of the peak: lower, the wall filter and wall echoes rule
_RISE_SHARE = 0.06  # of the peak, by which a flank may rise again
_SHARP_SHARE = 0.5  # of the peak, that the highest column tells; the rest is the parabola's (engineering judgement)
_PASSES_MS = 12.0  # of signal at the end of the strip within a wave: it runs out there (engineering judgement)
_ABOUT_MS, _OTHER_MS = 25.0, 20.0  # about a wave, and so much far signal on the other side (engineering judgement)
_COURSE_MS = 40.0
_CLICKED_SHARE = 0.35  # of the columns about a peak, from which clicks hide it (engineering judgement)
_BALANCE_SHARE = 0.75  # of the peak: the level at which both flanks are compared (engineering judgement)
# Variance of the weights by which the edge and, before it, the picture are averaged along time.
_STILLED_MS2 = STILL_MS**2 + SMOOTH_MS**2
# Times what a half sine as long has lost: a wave that rises as a quarter of a sine and falls, nine times as long, as
# another has lost 2.8 times as much (identity: 1 / (4·r·(1 - r)), r the share of the rise); a ragged edge would go on.
_MOST_LOST = 3.0
_MOST_GIVEN_BACK = 0.04  # of a peak; more is speckle, not a top (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wave:
    """From the baseline to the baseline.

    Attributes
    ----------
    times_ms, velocity_cm_s : ndarray of shape (point,)
        The outline, with its onset and its end on the baseline.
    peak_cm_s, peak_ms : float
        Of a parabola through the top.
    onset_ms, end_ms : float
        Where its flanks, drawn on by their shape, meet the baseline, or the valley to another wave.
    is_open : bool
        The signal runs out of the strip, or fades before the peak: it is at least as fast.
    open_reason : str
        Which of both.
    is_clicked : bool
        A click covers the peak.
    strength : float
        Fall of brightness at the edge about the peak, 0 to 1.
    step_share : float
        Height over the peak from which the feet are drawn on: what the wall filter hides.
    clicked_share : float
        Of its columns, that clicks cover: across them the outline is a guess.
    ragged_share : float
        Mean distance of the edge from its own course over some 40 ms, over the peak: large where only specks are seen.
    """

    times_ms: Floats
    velocity_cm_s: Floats
    peak_cm_s: float
    peak_ms: float
    onset_ms: float
    end_ms: float
    is_open: bool
    open_reason: str
    is_clicked: bool
    strength: float
    step_share: float
    ragged_share: float
    clicked_share: float

    @property
    def integral_cm(self) -> float:
        """Velocity-time integral."""
        return float(np.trapezoid(self.velocity_cm_s, self.times_ms)) / 1000.0

    @property
    def mean_gradient_mmhg(self) -> float:
        """Mean of 4·v² over the wave, each moment by itself (QUINONES2002): not 4 times the square of a mean.

        An average with weights of standard deviation s keeps ∫v dt and takes s²·∫(dv/dt)² dt from ∫v² dt (Taylor's
        series, by parts): that is given back, up to what a wave can have lost. The feet, drawn on in straight lines,
        have not been averaged.
        """
        v_m_s, times_ms = self.velocity_cm_s / 100.0, self.times_ms
        steps_m_s, steps_ms = np.diff(v_m_s[1:-1]), np.diff(times_ms[1:-1])
        squares = float(np.trapezoid(v_m_s**2, times_ms))
        lost = _STILLED_MS2 * float((steps_m_s**2 / steps_ms).sum())
        most = _MOST_LOST * _STILLED_MS2 * (math.pi / self.length_ms) ** 2 * squares
        return 4.0 * (squares + min(lost, most)) / self.length_ms

    @property
    def balanced_peak_ms(self) -> float:
        """When a blunt top has its peak: where both flanks have climbed alike.

        Each flank reaches a high level in the same share of its own time: with t1 and t2 the crossings of the level,
        a the onset and b the end, (t - t1) / (t - a) = (t2 - t) / (b - t). A half sine of two halves of unlike length
        fulfils it exactly (identity); the middle of the top would lie late where the rise is short.
        """
        high = np.flatnonzero(self.velocity_cm_s >= _BALANCE_SHARE * self.peak_cm_s)
        if not len(high):
            return self.peak_ms
        t1, t2 = float(self.times_ms[high[0]]), float(self.times_ms[high[-1]])
        rest = self.length_ms - (t2 - t1)
        return self.peak_ms if rest <= 0 else (t1 * self.end_ms - t2 * self.onset_ms) / rest

    @property
    def length_ms(self) -> float:
        """From onset to end."""
        return self.end_ms - self.onset_ms

    @property
    def half_length_ms(self) -> float:
        """From first reaching half of its peak to last leaving it, in straight lines between columns."""
        v, t, half = self.velocity_cm_s, self.times_ms, 0.5 * self.peak_cm_s
        high = np.flatnonzero(v >= half)
        if not len(high):
            return 0.0
        first, last = int(high[0]), int(high[-1])  # both ends lie on the baseline, so neither is one of these
        rise = np.interp(half, v[first - 1 : first + 1], t[first - 1 : first + 1])
        fall = np.interp(half, v[[last + 1, last]], t[[last + 1, last]])
        return float(fall - rise)

    @property
    def drawn_on_ms(self) -> tuple[float, float]:
        """For how long each foot was not seen and was drawn on by its shape."""
        return float(self.times_ms[1] - self.onset_ms), float(self.end_ms - self.times_ms[-2])


def modal_integral_cm(envelope: Envelope, wave: Wave) -> float:
    """Return the integral over a wave of the velocity at which most of the blood is heard."""
    times = envelope.times_ms
    within = (times > wave.onset_ms) & (times < wave.end_ms) & (envelope.modal_cm_s > 0)
    t = np.concatenate([[wave.onset_ms], times[within], [wave.end_ms]])
    return float(np.trapezoid(np.concatenate([[0.0], envelope.modal_cm_s[within], [0.0]]), t)) / 1000.0


def waves_of(envelope: Envelope, least_cm_s: float) -> tuple[Wave, ...]:
    """Return the whole waves of an envelope that rise above a velocity, in order; those cut by the strip's ends not."""
    v, per = envelope.velocity_cm_s, envelope.ms_per_px
    high = v >= least_cm_s
    found = []
    for start, stop in _bridged(runs(high), round(_BRIDGE_MS / per)):
        wave = wave_at(envelope, start, stop)
        if wave is not None:
            found.append(wave)
    return tuple(found)


def wave_at(
    envelope: Envelope, start: int, stop: int, bounds: tuple[int, int] | None = None, flank: Flank = DOME
) -> Wave | None:  # fmt: skip
    """Return the wave whose high part lies in these columns, or None where it is cut by the strip or too short.

    `bounds`, first and last column, are valleys to other waves: no foot lies beyond them. `flank` is the shape by which
    the flanks are drawn on to the baseline.
    """
    v, per = envelope.velocity_cm_s, envelope.ms_per_px
    least, most = bounds or (0, len(v) - 1)
    top = int(np.argmax(v[start:stop])) + start
    first = _downhill(v, top, -1, least)
    last = _downhill(v, top, 1, most)
    if first <= 1 or last >= len(v) - 2 or (last - first) * per < _LEAST_MS:
        return None
    peak, peak_at = _peak(v, top, first, last, _STILLED_MS2 / per**2)
    times = envelope.times_ms
    onset = foot_ms(times[first : top + 1], v[first : top + 1], peak, flank)
    end = -foot_ms(-times[top : last + 1][::-1], v[top : last + 1][::-1], peak, flank)
    onset, end = max(onset, float(times[least])), min(end, float(times[most]))
    inside = slice(first, last + 1)
    near = np.flatnonzero(v[inside] >= _PEAK_SHARE * peak) + first
    reason = ""
    bright = envelope.end_bright[inside]
    about = (envelope.times_ms >= times[first] - _ABOUT_MS) & (envelope.times_ms <= times[last] + _ABOUT_MS)
    if (envelope.other_far & about).sum() * per >= _OTHER_MS:
        reason = "signal at the other end of the scale at the same time: it wraps"
    if envelope.at_end[inside].any() or bright.sum() * per >= _PASSES_MS:
        reason = "the signal runs out of the strip"
    within = (times[inside] > onset) & (times[inside] < end)
    return Wave(
        times_ms=np.concatenate([[onset], times[inside][within], [end]]),
        velocity_cm_s=np.concatenate([[0.0], v[inside][within], [0.0]]),
        peak_cm_s=peak, peak_ms=(peak_at + 0.5) * per, onset_ms=onset, end_ms=end, is_open=bool(reason),
        open_reason=reason, is_clicked=bool(envelope.clicks[near].mean() > _CLICKED_SHARE) if len(near) else True,
        strength=float(np.median(envelope.strength[near])) if len(near) else 0.0,
        step_share=float(max(v[inside][within][0], v[inside][within][-1]) / peak) if within.any() else 1.0,
        clicked_share=float(envelope.clicks[inside].mean()),
        ragged_share=_ragged(envelope.edge_cm_s[first : last + 1], per),
    )  # fmt: skip


def _ragged(edge: Floats, ms_per_px: float) -> float:
    n = max(round(_COURSE_MS / ms_per_px), 3) | 1
    if len(edge) < n:
        return 0.0
    at = np.arange(n) - n // 2
    # Weights of a parabola fitted to n points, at its middle (Savitzky & Golay 1964).
    weights = np.linalg.pinv(np.stack([np.ones(n), at, at**2], axis=1))[0]
    off = edge[n // 2 : len(edge) - n // 2] - np.convolve(edge, weights[::-1], mode="valid")
    return float(np.mean(np.abs(off)) / max(float(edge.max()), 1e-9))


def _downhill(v: Floats, top: int, step: int, end: int) -> int:
    """Return the column at the foot of a wave: the last before its foot or before it rises again."""
    at, lowest, foot = top, float(v[top]), _FOOT_SHARE * float(v[top])
    best = top
    while at != end:
        at += step
        if v[at] <= foot or v[at] > lowest + _RISE_SHARE * v[top]:
            break
        if v[at] <= lowest:
            lowest, best = float(v[at]), at
    return best


def _peak(v: Floats, top: int, first: int, last: int, stilled_px2: float) -> tuple[float, float]:
    """Return height and place, columns, of the top of a parabola through what stands near the highest column.

    An average with weights of variance s² lowers a top of curvature c by c·s²/2: that is given back.
    """
    left, right = top, top
    while left > first and v[left - 1] >= _PEAK_SHARE * v[top]:
        left -= 1
    while right < last and v[right + 1] >= _PEAK_SHARE * v[top]:
        right += 1
    at = np.arange(left, right + 1, dtype=np.float64)
    if len(at) < _FEWEST_PEAK:
        return float(v[top]), float(top)
    bend, slope, level = np.polyfit(at - top, v[left : right + 1], 2)
    if bend >= 0:
        return float(v[top]), float(top)
    place = float(np.clip(top - slope / (2 * bend), left, right))
    height = float(level - slope**2 / (4 * bend))
    # Half way between the highest column, which speckle favours, and the parabola, which rounds a sharp peak off.
    lost = min(-bend * stilled_px2, _MOST_GIVEN_BACK * height)
    return (1 - _SHARP_SHARE) * height + _SHARP_SHARE * float(v[top]) + lost, place


def _bridged(spans: list[tuple[int, int]], gap: int) -> list[tuple[int, int]]:
    out: list[tuple[int, int]] = []
    for start, stop in spans:
        if out and start - out[-1][1] <= gap:
            out[-1] = (out[-1][0], stop)
        else:
            out.append((start, stop))
    return out
