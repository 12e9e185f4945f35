"""What an M-mode strip of the left ventricle measures: diameters, walls, shortening and rate, or why not."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from fanlight.measure.m_mode.beat_distances import DISTANCES, LVIDD, LVIDS, BeatDistances, measure_distance
from fanlight.measure.m_mode.beats import Beats, find_beats
from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.borders import Borders, find_borders
from fanlight.measure.m_mode.spread import BeatMean, combined, mean_of_beats
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.reference.formulas.heart_size import fractional_shortening_percent
from fanlight.reference.formulas.ventricle import ejected_percent, teichholz_volume_ml
from fanlight.reference.m_mode import MModeSettings
from fanlight.study import ENGINE, Measurement

METHOD = "M-mode, leading edge to leading edge/1"
# How much beats usually differ, a share of a distance (engineering judgement, beats of simulated strips of ring A).
_USUAL_SPREAD_SHARE = 0.01
_SLOPE_SHARE = 1e-3  # for derivatives
_RATE_LABEL = "heart rate on the strip"

Ratio = tuple[str, str, Callable[[float, float], float]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MModeReading:
    """Everything that was read off a strip: to show, and to measure by.

    `distances` has each distance in each beat by quantity; it is empty where there are no borders or no beats.
    """

    borders: Borders | None
    beats: Beats | None
    distances: dict[str, BeatDistances]
    measurements: tuple[Measurement, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Where a strip was seen; stored with each value."""

    clip: str = ""
    frame: int = 0


def measure_m_mode(strip: MModeStrip, settings: MModeSettings, seen: Seen | None = None) -> MModeReading:
    """Return diameters, walls, shortening and heart rate of a left-ventricular strip.

    Parameters
    ----------
    strip : MModeStrip
        Through both ventricles.
    settings : MModeSettings
        The house's; Teichholz' ejection fraction is given only where it says so.
    seen : Seen or None
        Where the strip was seen.

    Notes
    -----
    Distances run from leading edge to leading edge, end-diastole at the R wave and end-systole at the smallest cavity
    (the convention of the reference intervals for M-mode, WHIPPET2023 and FELINECARD). A value is the mean over the
    whole beats in which both of its borders are borne out.

    The uncertainty is one standard deviation by the law of propagation (JCGM 100:2008, GUM, 5.1.2), of inputs that err
    independently: the depth scale's share of the value; half a pixel at each border; the placement of each border, a
    share of its blur; the moment at which it is taken; and the beats (`mean_of_beats`). What the cursor's angle to the
    heart adds is not in it.
    """
    seen = seen or Seen()
    borders = find_borders(strip, settings)
    if isinstance(borders, str):
        return MModeReading(borders=None, beats=None, distances={}, measurements=_refused(borders, settings, seen))
    cavity_mm = (borders.rows[Border.ENDOCARDIUM] - borders.rows[Border.SEPTUM_END]) * strip.mm_per_row
    beats = find_beats(strip, cavity_mm, borders.rows[Border.ENDOCARDIUM] * strip.mm_per_row)
    if isinstance(beats, str):
        return MModeReading(borders=borders, beats=None, distances={}, measurements=_refused(beats, settings, seen))
    read = {each.name: measure_distance(each, strip, borders, beats, settings) for each in DISTANCES}
    values = [_distance(each.name, each.label, read[each.name], strip, beats, seen) for each in DISTANCES]
    values += [_ratio(ratio, read[LVIDD.name], read[LVIDS.name], beats, seen) for ratio in _ratios(settings)]
    values.append(_heart_rate(strip, beats, seen))
    return MModeReading(borders=borders, beats=beats, distances=read, measurements=tuple(values))


def _ratios(settings: MModeSettings) -> tuple[Ratio, ...]:
    shortening: Ratio = ("fractional_shortening", "FS", fractional_shortening_percent)
    if not settings.with_teichholz:
        return (shortening,)
    return shortening, ("ejection_fraction", "EF (Teichholz)", _teichholz_percent)


def _teichholz_percent(lvidd_mm: float, lvids_mm: float) -> float:
    return ejected_percent(teichholz_volume_ml(lvidd_mm / 10), teichholz_volume_ml(lvids_mm / 10))


def _distance(name: str, label: str, read: BeatDistances, strip: MModeStrip, beats: Beats, seen: Seen) -> Measurement:
    if read.reason:
        return _none(name, label, "mm", read.reason, seen)
    values = list(read.mm.values())
    mean = mean_of_beats(values, _USUAL_SPREAD_SHARE * sum(values) / len(values))
    error = combined(strip.mm_share * mean.value, read.placement_mm, mean.error)
    return _value(name, label, "mm", mean, error, tuple(read.mm), beats, seen)


def _ratio(ratio: Ratio, diastole: BeatDistances, systole: BeatDistances, beats: Beats, seen: Seen) -> Measurement:
    name, label, formula = ratio
    if reason := diastole.reason or systole.reason:
        return _none(name, label, "%", reason, seen)
    both = [number for number in diastole.mm if number in systole.mm]
    if not both:
        return _none(name, label, "%", "no beat shows both diameters", seen)
    if any(systole.mm[number] > diastole.mm[number] for number in both):
        return _none(name, label, "%", "the cavity is larger in end-systole than in end-diastole", seen)
    lvidd = sum(diastole.mm[number] for number in both) / len(both)
    lvids = sum(systole.mm[number] for number in both) / len(both)
    slopes = _slope(lambda d: formula(max(d, lvids), lvids), lvidd), _slope(lambda s: formula(lvidd, s), lvids)
    usual = combined(*(slope * _USUAL_SPREAD_SHARE * mm for slope, mm in zip(slopes, (lvidd, lvids), strict=True)))
    mean = mean_of_beats([formula(diastole.mm[number], systole.mm[number]) for number in both], usual)
    # The depth scale takes itself out of a ratio of lengths; what little stays in a volume's formula is left out.
    error = combined(slopes[0] * diastole.placement_mm, slopes[1] * systole.placement_mm, mean.error)
    return _value(name, label, "%", mean, error, tuple(both), beats, seen)


def _slope(of: Callable[[float], float], at: float) -> float:
    step = _SLOPE_SHARE * at
    return (of(at) - of(at - step)) / step


def _heart_rate(strip: MModeStrip, beats: Beats, seen: Seen) -> Measurement:
    lengths = [beat.length_ms for beat in beats.measured]
    if not lengths:
        return _none("", _RATE_LABEL, "bpm", "no beat of the strip can be measured", seen)
    length_ms = sum(lengths) / len(lengths)
    rate = 60_000 / length_ms
    # Neighbours share a moment: each run of beats errs by its two ends alone.
    runs = 1 + sum(b.number - a.number > 1 for a, b in pairwise(beats.measured))
    of_times = math.sqrt(2 * runs) * beats.length_timing_ms / sum(lengths)
    sd = mean_of_beats([60_000 / each for each in lengths], 0.0).sd
    mean = BeatMean(value=rate, sd=sd, n=len(lengths), error=0.0)
    numbers = tuple(beat.number for beat in beats.measured)
    error = rate * combined(strip.ms_share, of_times)
    return _value("", _RATE_LABEL, "bpm", mean, error, numbers, beats, seen)


def _how(mean: BeatMean, numbers: tuple[int, ...], beats: Beats, unit: str) -> str:
    """Return the method and the beats that a value was taken from."""
    which = ", ".join(str(number) for number in numbers)
    of = "beat" if mean.n == 1 else "mean of beats"
    spread = "" if mean.sd is None else f", SD {mean.sd:.2g} {'points' if unit == '%' else unit}"
    left = "".join(f"; beat {beat.number} left out: {beat.left_out}" for beat in beats.beats if beat.left_out)
    return f"{METHOD}; {of} {which} of {len(beats.beats)}{spread}; timed by {beats.timed_by}{left}"


def _value(
    name: str, label: str, unit: str, mean: BeatMean, error: float, numbers: tuple[int, ...], beats: Beats, seen: Seen
) -> Measurement:
    return Measurement(
        name=name, label=label, value=mean.value, unit=unit, uncertainty=error, clip=seen.clip, frames=(seen.frame,),
        method=_how(mean, numbers, beats, unit), given_by=ENGINE, reason=beats.rhythm_note,
    )  # fmt: skip


def _none(name: str, label: str, unit: str, reason: str, seen: Seen) -> Measurement:
    return Measurement(
        name=name, label=label, value=None, unit=unit, clip=seen.clip, frames=(seen.frame,), method=METHOD,
        given_by=ENGINE, reason=reason,
    )  # fmt: skip


def _refused(reason: str, settings: MModeSettings, seen: Seen) -> tuple[Measurement, ...]:
    named = [(each.name, each.label, "mm") for each in DISTANCES]
    named += [(name, label, "%") for name, label, _ in _ratios(settings)]
    return tuple(_none(*each, reason, seen) for each in (*named, ("", _RATE_LABEL, "bpm")))
