"""The wave of each beat that runs in systole on one side: ejection, or a leak of an inflow valve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanlight.measure.doppler.beats import Beats, regular
from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.doppler.wave import Wave, waves_of

# Of the tallest wave: lower ones are wall echoes or what is left of other flow (engineering judgement).
_TALL_SHARE, _FOUND_SHARE = 0.45, 0.3
_TOP_PERCENTILE = 98.0
# Systole ends, and diastole begins, within so much of a beat after R, at rates from 60 to 240 a minute; outflow peaks
# in its first two thirds (engineering judgement).
_PEAKS_BEFORE_SHARE = 0.62
# A beat that reaches less of the highest one is left out: mostly breath has moved the beam (engineering judgement).
STEADY_SHARE = 0.7
_CLEARLY = 1.05  # more than beats of one rhythm differ by breathing and speckle (engineering judgement)
_FADED = 0.12  # fall of brightness at the edge, below which a peak is not seen (engineering judgement)
_NEARBY_MS, _PASSES_MS = 100.0, 4.5  # about a peak, and so much signal at the end of the strip (engineering judgement)
_BESIDE_MS, _RIM_MS, _TORN_MS = 130.0, 8.0, 15.0  # about a peak, off its feet, and so long (engineering judgement)
_RAGGED_SHARE = 0.035  # of the peak, by which an edge jumps where only specks of a signal are seen (set on ring A)
_NEAR_END_SHARE = 0.7  # of the room of its side, from which a torn wave may have wrapped (engineering judgement)
# Slower than this a signal is that of walls, or of a beam across the flow (engineering judgement: normal flow of every
# valve is twice as fast); a ring moves at a tenth of it.
LEAST_FLOW_CM_S, LEAST_RING_CM_S = 20.0, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SystolicWaves:
    """What was found, and why it is less than it might be."""

    waves: tuple[Wave, ...]  # whole, of beats that count
    n_weak: int  # beats left out that reach clearly less than the fastest
    open_waves: tuple[Wave, ...]
    stays_within: (
        bool  # no open wave comes near the end of the scale: what is missing of them is too faint, not wrapped
    )
    reason: str  # why there is no whole one, ""


def systolic_waves(envelope: Envelope, beats: Beats, least_cm_s: float = LEAST_FLOW_CM_S) -> SystolicWaves:
    """Return the systolic waves of one side, one a beat; those slower than `least_cm_s` are none."""
    v = envelope.velocity_cm_s
    top = float(np.percentile(v, _TOP_PERCENTILE))
    if top < least_cm_s:
        return _none(f"nothing faster than {least_cm_s:.0f} cm/s runs this way: what is seen may be walls")
    tall = [wave for wave in waves_of(envelope, _FOUND_SHARE * top) if wave.peak_cm_s >= _TALL_SHARE * top]
    if not tall:
        return _none("no whole wave lies on the strip")
    chosen = _of_beats(tall, beats) if beats.has_r_waves else _by_rhythm(tall, beats)
    if not chosen:
        why = "no whole wave of a regular beat lies on the strip"
        if beats.has_r_waves and beats.begun:
            why = "the signal on this side does not run in systole"
        return _none(why)
    best = max(wave.peak_cm_s for wave in chosen)
    steady = [wave for wave in chosen if wave.peak_cm_s >= STEADY_SHARE * best]
    clear = [wave for wave in steady if not wave.is_clicked]
    cut = [is_open(wave) or passes_nearby(envelope, wave) or _is_torn(envelope, wave) for wave in clear]
    shut = tuple(wave for wave, is_cut in zip(clear, cut, strict=True) if not is_cut)
    opened = tuple(wave for wave, is_cut in zip(clear, cut, strict=True) if is_cut)
    reason = "" if shut or opened else "a click covers the peak of each beat"
    return SystolicWaves(
        waves=shut, n_weak=len(chosen) - len(steady), open_waves=opened, reason=reason,
        stays_within=not any(_nears_end(envelope, wave) for wave in opened),
    )  # fmt: skip


def weak_notes(n_weak: int) -> list[str]:
    """Return what is to be said of beats that were left out since they reach clearly less than the fastest."""
    if not n_weak:
        return []
    some = "1 beat left out that reaches" if n_weak == 1 else f"{n_weak} beats left out that reach"
    return [f"{some} less than {100 * STEADY_SHARE:.0f} % of the fastest: perhaps breath moved the beam off the flow"]


def is_open(wave: Wave) -> bool:
    """Whether a wave tells only how fast its flow is at least."""
    return wave.is_open or wave.strength < _FADED or wave.ragged_share > _RAGGED_SHARE


def is_faster(opened: Sequence[Wave], whole: Sequence[Wave]) -> bool:
    """Whether an open envelope reaches clearly beyond every whole one: then whole ones tell of weaker beats only."""
    return max((wave.peak_cm_s for wave in opened), default=0.0) > _CLEARLY * max(wave.peak_cm_s for wave in whole)


def passes_nearby(envelope: Envelope, wave: Wave, within_ms: float = _NEARBY_MS) -> bool:
    """Whether signal stands at the end of the strip about a wave: what is seen of it may be its wrapped rest."""
    near = np.abs(envelope.times_ms - wave.peak_ms) <= within_ms
    return bool(envelope.end_bright[near].sum() * envelope.ms_per_px >= _PASSES_MS)


def _nears_end(envelope: Envelope, wave: Wave) -> bool:
    """Whether an open wave may be the part of a faster one that the scale still shows."""
    is_high = wave.peak_cm_s >= _NEAR_END_SHARE * envelope.room_cm_s
    return wave.is_open or is_high or passes_nearby(envelope, wave)


def _is_torn(envelope: Envelope, wave: Wave) -> bool:
    """Whether as high a signal stands beside a wave in the same systole: parts of one that wraps or is not whole."""
    times = envelope.times_ms
    beside = (np.abs(times - wave.peak_ms) <= _BESIDE_MS) & ~envelope.clicks
    beside &= (times < wave.onset_ms - _RIM_MS) | (times > wave.end_ms + _RIM_MS)
    high = envelope.velocity_cm_s[beside] >= _TALL_SHARE * wave.peak_cm_s
    return bool(high.sum() * envelope.ms_per_px >= _TORN_MS)


def _none(reason: str) -> SystolicWaves:
    return SystolicWaves(waves=(), n_weak=0, open_waves=(), stays_within=True, reason=reason)


def _of_beats(waves: list[Wave], beats: Beats) -> list[Wave]:
    """Return the tallest wave of each beat that peaks in its systole."""
    chosen = []
    for beat in beats.begun:
        inside = [
            wave for wave in waves
            if 0.0 < (wave.peak_ms - beat.start_ms) / beat.rr_ms < _PEAKS_BEFORE_SHARE
        ]  # fmt: skip
        if inside:
            chosen.append(max(inside, key=lambda wave: wave.peak_cm_s))
    return chosen


def _by_rhythm(waves: list[Wave], beats: Beats) -> list[Wave]:
    """Return one wave a beat where no ECG tells the beats; ectopic ones and those after them left out."""
    rr = beats.rr_ms
    if rr is None:
        return waves
    kept: list[Wave] = []
    for wave in waves:
        if kept and wave.peak_ms - kept[-1].peak_ms < 0.5 * rr:
            if wave.peak_cm_s > kept[-1].peak_cm_s:
                kept[-1] = wave
        else:
            kept.append(wave)
    good = regular(np.asarray([wave.peak_ms for wave in kept]))
    # A wave counts if the interval before it and the one it begins are regular.
    return [
        wave for k, wave in enumerate(kept)
        if (k == 0 or good[k - 1]) and (k == len(kept) - 1 or good[k])
    ]  # fmt: skip
