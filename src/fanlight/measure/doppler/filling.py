"""The two waves of diastole on one side: early filling (E) and that of the atrium (A), apart, touching or fused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import find_peaks

from fanlight.measure.doppler.beats import Beats
from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.doppler.flank import BELL
from fanlight.measure.doppler.systole import LEAST_FLOW_CM_S, STEADY_SHARE, is_open, passes_nearby
from fanlight.measure.doppler.wave import Wave, wave_at

# A peak stands above its valleys by so much of the tallest, is so high and so far from the next (engineering
# judgement: speckle makes lesser ones).
_PROMINENT_SHARE, _HIGH_SHARE, _APART_MS = 0.1, 0.25, 35.0
_TOP_PERCENTILE = 98.0
# The wave of the atrium ends after the R wave: a beat of filling is shifted by so much of it, at most so many ms.
_LATE_SHARE, _LATE_MS = 0.15, 70.0
# Where the valley between E and A is higher than this share of the lower one, A rides on E (engineering judgement).
RIDING_SHARE = 0.5
# From this rate on one wave alone is both (dogs: separate below about 125 a minute, Small Animal Radiology and
# Ultrasound ch. 2; a margin below it is engineering judgement).
ONE_WAVE_IS_BOTH_BPM = 110.0
# With an ECG a lone wave so shortly before the next R wave is that of the atrium: it beats within the time from P to R
# (in dogs up to about 130 ms; common practice, no source), and its wave peaks before the R wave.
_ATRIAL_SHARE, _ATRIAL_MS = 0.25, 130.0
# Without an ECG, E and A are told by the longer pause of systole; below this rate that of diastole is as long
# (engineering judgement).
LEAST_BPM_WITHOUT_ECG = 100.0
_NEARBY_MS = 60.0  # about a peak, in which signal at the end of the scale spoils it (engineering judgement)
RIDING = "A rides on E: both are fused in part"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filling:
    """Early and late wave of one beat."""

    early: Wave | None
    late: Wave | None
    is_one: bool  # a single wave at a rate at which it is both
    is_riding: bool  # the late wave begins before the early one is over: it is too high, and E falls too short
    valley_share: float  # height of the valley over the lower peak; 1: one wave


def fillings(envelope: Envelope, beats: Beats, least_cm_s: float = LEAST_FLOW_CM_S) -> tuple[Filling, ...] | str:
    """Return the waves of each whole beat of filling, or why none can be told."""
    v, per = envelope.velocity_cm_s, envelope.ms_per_px
    top = float(np.percentile(v, _TOP_PERCENTILE))
    if top < least_cm_s:
        return f"nothing faster than {least_cm_s:.0f} cm/s runs this way: what is seen may be walls"
    peaks, _ = find_peaks(
        v, height=_HIGH_SHARE * top, prominence=_PROMINENT_SHARE * top, distance=max(round(_APART_MS / per), 1)
    )
    groups = _by_r(peaks, envelope, beats) if beats.has_r_waves else _by_pause(peaks, envelope, beats)
    if isinstance(groups, str):
        return groups
    found = [_filling(envelope, group, beats) for group in groups if len(group)]
    whole = tuple(item for item in found if item.early is not None or item.late is not None)
    return whole or "no whole beat of filling lies on the strip"


def are_fused(found: Sequence[Filling]) -> bool:
    """Whether most beats have one wave that is both."""
    return 2 * sum(item.is_one for item in found) > len(found)


def are_cut(found: Sequence[Filling]) -> bool:
    """Whether half of the beats or more lack a wave or have one that is open."""
    cut = [any(wave is None or wave.is_open for wave in (item.early, item.late)) for item in found]
    return 2 * sum(cut) >= len(found)


def read_waves(waves: Sequence[Wave | None], envelope: Envelope) -> list[Wave]:
    """Return the waves whose peak is seen; what passes the end of the scale close by may be what is left of them."""
    return [
        wave for wave in waves
        if wave is not None and not is_open(wave) and not wave.is_clicked
        and not passes_nearby(envelope, wave, _NEARBY_MS)
    ]  # fmt: skip


def steady_waves(waves: Sequence[Wave]) -> list[Wave]:
    """Return the waves that come near the fastest: a lower one shows a beam off the flow, or is no such wave."""
    best = max((wave.peak_cm_s for wave in waves), default=0.0)
    return [wave for wave in waves if wave.peak_cm_s >= STEADY_SHARE * best]


def why_none(found: Sequence[Filling], part: str, unit: str) -> str:
    """Return why no "early" or "late" wave is read; speeds in "m/s" or "cm/s"."""
    waves = [wave for item in found if (wave := getattr(item, part)) is not None]
    opened = [wave.peak_cm_s for wave in waves if is_open(wave)]
    if opened:
        best = f"{max(opened) / 100.0:.2f} m/s" if unit == "m/s" else f"{max(opened):.1f} cm/s"
        return f"the envelope is open: at least {best}"
    if waves and all(wave.is_clicked for wave in waves):
        return "a click covers the peak of each beat"
    if waves:
        return "signal stands at the end of the scale about each peak: what is seen may be a part of what wraps"
    return "no such wave stands apart" if part == "late" else "no whole wave lies on the strip"


def _by_r(peaks: np.ndarray, envelope: Envelope, beats: Beats) -> list[list[int]]:
    groups = []
    for beat in beats.beats:
        late = min(_LATE_SHARE * beat.rr_ms, _LATE_MS)
        times = envelope.times_ms[peaks]
        groups.append([int(p) for p in peaks[(times >= beat.start_ms + late) & (times < beat.end_ms + late)]])
    return groups


def _by_pause(peaks: np.ndarray, envelope: Envelope, beats: Beats) -> list[list[int]] | str:
    """Return peaks between two long pauses: without an ECG the longest pause of a beat is systole, at high rates."""
    rate = beats.rate_bpm
    if rate is None:
        return f"{beats.without_r}, and the strip does not repeat itself: beats are not known"
    if rate < LEAST_BPM_WITHOUT_ECG:
        return f"{beats.without_r}: at {rate:.0f} a minute early and late filling are not told apart by their pauses"
    assert beats.rr_ms is not None
    apart = np.diff(envelope.times_ms[peaks])
    groups: list[list[int]] = [[]]
    for k, peak in enumerate(peaks):
        groups[-1].append(int(peak))
        if k < len(apart) and apart[k] > 0.5 * beats.rr_ms:
            groups.append([])
    return groups[1:-1]  # those at the ends may be cut


def _filling(envelope: Envelope, peaks: list[int], beats: Beats) -> Filling:
    v = envelope.velocity_cm_s
    tallest = max(v[p] for p in peaks)
    high = [p for p in peaks if v[p] >= 0.3 * tallest]
    first, last = high[0], high[-1]
    if first == last:
        return _lone(_wave(envelope, first, None, None), float(envelope.times_ms[first]), beats)
    valley = first + int(np.argmin(v[first : last + 1]))
    share = float(v[valley] / min(v[first], v[last]))
    return Filling(
        early=_wave(envelope, first, None, valley), late=_wave(envelope, last, valley, None),
        is_one=False, is_riding=share > RIDING_SHARE, valley_share=share,
    )  # fmt: skip


def _lone(wave: Wave | None, peak_ms: float, beats: Beats) -> Filling:
    """Return a wave that is alone in its beat: both in one at high rates and without an ECG, else by its place."""
    is_one = beats.rate_bpm is None or beats.rate_bpm >= ONE_WAVE_IS_BOTH_BPM or not beats.has_r_waves
    is_late = not is_one and any(
        0.0 <= beat.end_ms - peak_ms < min(_ATRIAL_SHARE * beat.rr_ms, _ATRIAL_MS) for beat in beats.beats
    )
    early, late = (None, wave) if is_late else (wave, None)
    return Filling(early=early, late=late, is_one=is_one, is_riding=False, valley_share=1.0)


def _wave(envelope: Envelope, peak: int, least: int | None, most: int | None) -> Wave | None:
    n = len(envelope.velocity_cm_s)
    bounds = (0 if least is None else least, n - 1 if most is None else most)
    return wave_at(envelope, peak, peak + 1, bounds, BELL)
