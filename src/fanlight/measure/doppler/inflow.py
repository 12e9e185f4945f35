"""Values of flow into a ventricle: E, A, their ratio, how E falls off, how long A lasts, and whether both are one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fanlight.measure.doppler.case import SpectrumCase
from fanlight.measure.doppler.filling import (
    RIDING,
    Filling,
    are_cut,
    are_fused,
    fillings,
    read_waves,
    steady_waves,
    why_none,
)
from fanlight.measure.doppler.propagated import VelocityError, ratio_share
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import LEAST_FLOW_CM_S, weak_notes
from fanlight.measure.doppler.valued import (
    BREATH_SHARE,
    Asked,
    angle_note,
    averaged,
    common_notes,
    refused,
    velocity_error,
)
from fanlight.measure.doppler.wave import Wave
from fanlight.measure.doppler.wrap import ALIASED, agree
from fanlight.study import Measurement, Valve

# Shares of E between which its fall is taken for straight; where A cuts it, what lies above the valley counts, if it
# is so much of E at least. Engineering judgement: a bell's chord between them meets the baseline as its steepest
# tangent does, within 3 %.
_FALL_FROM, _FALL_TO, _LEAST_FALL = 0.85, 0.35, 0.25
# One standard deviations (engineering judgement, held against ring A).
_FALL_SHARE, _FOOT_MS = 0.09, 6.0
SLOW = f"E is slower than {LEAST_FLOW_CM_S:.0f} cm/s: what is seen may be walls, or a part of what wraps"


def asked_of(valve_word: str, key: str) -> dict[str, Asked]:
    """Return names and labels of a valve's inflow values."""
    return {
        "e": Asked(name=f"{key}_e", label=f"{valve_word} E", unit="m/s"),
        "a": Asked(name=f"{key}_a", label=f"{valve_word} A", unit="m/s"),
        "e_a": Asked(name=f"{key}_e_a", label=f"{valve_word} E:A", unit="1"),
        "fall": Asked(
            name=f"{key}_e_deceleration_time", label=f"{valve_word} E deceleration time", unit="ms",
            how="the fall of E, drawn on to the baseline",
        ),
        "a_time": Asked(name=f"{key}_a_duration", label=f"{valve_word} A duration", unit="ms"),
    }  # fmt: skip


def inflow_values(read: ReadSpectrum) -> tuple[Measurement, ...]:
    """Return all values of an inflow, each with its uncertainty or the reason why there is none."""
    case = read.case
    asked = asked_of(case.valve.value.capitalize(), case.valve.value)
    towards = case.runs_towards_probe
    envelope = read.side(towards=towards)
    found = fillings(envelope, read.beats)
    why = read.why_aliased(towards=towards)
    if why and (isinstance(found, str) or are_cut(found)):
        return tuple(refused(case, item, why) for item in asked.values())
    if isinstance(found, str):
        return tuple(refused(case, item, found) for item in asked.values())
    if are_fused(found):
        return _fused(case, asked, found)
    notes = [angle_note(case), *common_notes(read, towards=towards)]
    beats = [item for item in found if not item.is_one]
    apart = [item for item in beats if not item.is_riding]
    seen_early = read_waves([item.early for item in beats], envelope)
    seen_late = read_waves([item.late for item in apart], envelope)
    early, late = steady_waves(seen_early), steady_waves(seen_late)
    if early and max(wave.peak_cm_s for wave in early) < LEAST_FLOW_CM_S:
        return tuple(refused(case, item, SLOW) for item in asked.values())
    if read.is_unwrapped(towards=towards) and not agree([wave.peak_cm_s for wave in early]):
        return tuple(refused(case, item, ALIASED) for item in asked.values())
    pairs = [
        (item.early, item.late)
        for item in apart
        if item.early is not None and item.late is not None and item.early in early and item.late in late
    ]
    error = velocity_error(case, envelope)
    share = error.share_at(max((wave.peak_cm_s for wave in (*early, *late)), default=1.0))
    riding = RIDING if beats and not apart else ""
    of_early = [*notes, *weak_notes(len(seen_early) - len(early)), *([riding] if riding else [])]
    of_late = [*notes, *weak_notes(len(seen_late) - len(late))]
    return (
        _speed(case, asked["e"], early, share, of_early, why_none(beats, "early", "m/s")),
        _speed(case, asked["a"], late, share, of_late, riding or why_none(apart, "late", "m/s")),
        _ratio(case, asked["e_a"], pairs, error) if pairs
        else refused(case, asked["e_a"], riding or "no beat has both waves whole"),
        _fall(case, asked["fall"], early, riding),
        _lengths(case, asked["a_time"], late, riding or why_none(apart, "late", "m/s")),
    )  # fmt: skip


def deceleration_ms(wave: Wave) -> float | None:
    """Return the time from the peak until the fall, drawn on as a straight line, meets the baseline; None: no fall.

    The fall is what lies between 85 and 35 % of the peak, or down to the valley before A (deceleration time by
    extrapolation, as human guidelines draw it; common practice, no source at hand).
    """
    after = wave.times_ms >= wave.peak_ms
    t, v = wave.times_ms[after], wave.velocity_cm_s[after]
    t, v = t[:-1], v[:-1]  # the last point is drawn on already
    if len(t) < 3:
        return None
    used = (v <= _FALL_FROM * wave.peak_cm_s) & (v >= _FALL_TO * wave.peak_cm_s)
    if used.sum() < 3 or v[used].max() - v[used].min() < _LEAST_FALL * wave.peak_cm_s:
        return None
    slope, level = np.polyfit(t[used], v[used], 1)
    return None if slope >= 0 else float(-level / slope - wave.peak_ms)


def _ratio(
    case: SpectrumCase, asked: Asked, pairs: Sequence[tuple[Wave, Wave]], error: VelocityError
) -> Measurement:  # fmt: skip
    ratios = [early.peak_cm_s / late.peak_cm_s for early, late in pairs]
    early_cm_s, late_cm_s = (float(np.mean([pair[k].peak_cm_s for pair in pairs])) for k in (0, 1))
    common = ratio_share(error, early_cm_s, late_cm_s) * float(np.mean(ratios))
    return averaged(case, asked, ratios, common, known_share=_breath_share(case))


def _speed(
    case: SpectrumCase, asked: Asked, waves: list[Wave], share: float, notes: list[str], why: str
) -> Measurement:
    if not waves:
        return refused(case, asked, why)
    speeds = [wave.peak_cm_s / 100.0 for wave in waves]
    common = share * float(np.mean(speeds))
    return averaged(case, asked, speeds, common, notes=notes, known_share=_breath_share(case))


def _breath_share(case: SpectrumCase) -> float:
    return BREATH_SHARE if case.valve is Valve.TRICUSPID else 0.0


def _fall(case: SpectrumCase, asked: Asked, early: list[Wave], riding: str) -> Measurement:
    times = [time for wave in early if (time := deceleration_ms(wave)) is not None]
    if not times:
        return refused(case, asked, riding or "A cuts the fall of E too soon, or E is not read")
    mean = float(np.mean(times))
    return averaged(case, asked, times, mean * math.hypot(_FALL_SHARE, case.axis_error.time_share), each=0.1 * mean)


def _lengths(case: SpectrumCase, asked: Asked, late: list[Wave], why: str) -> Measurement:
    if not late:
        return refused(case, asked, why)
    lengths = [wave.length_ms for wave in late]
    common = math.sqrt(2) * math.hypot(_FOOT_MS, case.axes.ms_per_px)
    return averaged(
        case, asked, lengths, math.hypot(common, case.axis_error.time_share * float(np.mean(lengths))), each=_FOOT_MS
    )


def _fused(case: SpectrumCase, asked: dict[str, Asked], found: Sequence[Filling]) -> tuple[Measurement, ...]:
    """Return no value: the height of one wave that is both is neither E nor A."""
    tops = [wave.peak_cm_s for item in found for wave in (item.early, item.late) if wave is not None]
    why = f"E and A are fused: one wave of {max(tops) / 100.0:.2f} m/s" if tops else "E and A are fused"
    return tuple(refused(case, item, why) for item in asked.values())
