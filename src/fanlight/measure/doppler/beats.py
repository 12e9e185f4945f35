"""Which beats of a strip count: whole ones, without ectopic beats and those that follow them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.rhythm import judge_rhythm

Floats = NDArray[np.float64]

# 40 to 300 beats a minute.
_SHORTEST_MS, _LONGEST_MS = 200.0, 1500.0
_LEAST_ALIKE = 0.35  # correlation of the envelope with itself a beat later (engineering judgement)
_AS_GOOD_SHARE = 0.85  # of the best correlation: the first lag that is as good is the beat, not two of them


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """From one R wave to the next, ms from the left edge of the strip."""

    start_ms: float
    end_ms: float

    @property
    def rr_ms(self) -> float:
        """Length."""
        return self.end_ms - self.start_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """The beats that count.

    `begun` are those whose systole may lie whole on the strip: the last R wave begins one, too.
    """

    beats: tuple[Beat, ...]
    begun: tuple[Beat, ...]
    has_r_waves: bool
    n_left_out: int  # ectopic, or after one
    rr_ms: float | None  # usual interval; None: not known
    without_r: str = ""  # why there are no R waves to go by
    rhythm_note: str = ""  # what the rhythm asks of a mean

    @property
    def notes(self) -> tuple[str, ...]:
        """What a mean of the beats must say of their rhythm."""
        word = "beats" if self.n_left_out > 1 else "beat"
        left = f"{self.n_left_out} irregular {word} left out" if self.n_left_out else ""
        return tuple(note for note in (left, self.rhythm_note) if note)

    @property
    def rate_bpm(self) -> float | None:
        """Heart rate."""
        return None if self.rr_ms is None else 60_000.0 / self.rr_ms


def beats_from_r(r_times_ms: Sequence[float], strip_ms: float) -> Beats:
    """Return the beats between R waves that lie whole on a strip.

    Parameters
    ----------
    r_times_ms : sequence of float
        In order, from the left edge of the strip; may lie outside it.
    strip_ms : float
        Length of the strip.
    """
    times = np.asarray(sorted(r_times_ms), np.float64)
    rhythm = judge_rhythm(list(np.diff(times)))
    kept = np.array([not why for why in rhythm.left_out], bool)
    whole = [
        (Beat(start_ms=float(a), end_ms=float(b)), bool(good))
        for a, b, good in zip(times[:-1], times[1:], kept, strict=True)
        if a >= 0 and b <= strip_ms
    ]
    intervals = np.diff(times)
    beats = tuple(beat for beat, good in whole if good)
    begun = beats
    if len(times) > 1 and 0 <= times[-1] < strip_ms and kept[-2:].all():
        begun = (*beats, Beat(start_ms=float(times[-1]), end_ms=float(times[-1] + np.median(intervals))))
    return Beats(
        beats=beats, begun=begun, has_r_waves=True,
        n_left_out=sum(not good for _, good in whole),
        rr_ms=float(np.median(intervals)) if len(intervals) else None, rhythm_note=rhythm.note,
    )  # fmt: skip


def regular(times_ms: Floats) -> NDArray[np.bool_]:
    """Return for each interval whether the beat in it counts, shape (interval,): see `measure.rhythm`."""
    return np.array([not why for why in judge_rhythm(list(np.diff(times_ms))).left_out], bool)


def period_ms(envelopes: Sequence[Envelope]) -> float | None:
    """Return the length of a beat by how an envelope repeats itself, or None where it does not.

    The autocorrelation of the sum of both sides; of lags that are nearly as good the shortest is taken, since two beats
    repeat as well as one.
    """
    per = envelopes[0].ms_per_px
    signal = summed(envelopes)
    n = len(signal)
    first, last = round(_SHORTEST_MS / per), min(round(_LONGEST_MS / per), n // 2)
    if last - first < 3 or not signal.any():
        return None
    lags = np.arange(first, last)
    found = np.asarray([alike(signal[:-lag], signal[lag:]) for lag in lags])
    if found.max() < _LEAST_ALIKE:
        return None
    peaks = [
        k for k in range(1, len(found) - 1)
        if found[k] >= found[k - 1] and found[k] >= found[k + 1] and found[k] >= _AS_GOOD_SHARE * found.max()
    ]  # fmt: skip
    return None if not peaks else float(lags[peaks[0]] * per)


def summed(envelopes: Sequence[Envelope]) -> Floats:
    """Return the course of both sides together, each over its highest velocity."""
    parts = [env.velocity_cm_s / max(float(env.velocity_cm_s.max()), 1e-9) for env in envelopes]
    return np.asarray(np.sum(parts, axis=0), np.float64)


def alike(a: Floats, b: Floats) -> float:
    """Return the correlation of two courses, 0 where one of them is flat."""
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a**2).sum() * (b**2).sum()))
    return float((a * b).sum()) / size if size > 0 else 0.0
