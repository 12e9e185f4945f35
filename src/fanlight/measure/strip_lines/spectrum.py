"""The lines of a spectrum: an envelope on each side of the baseline, and in each beat peaks, rise, fall, outline."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.envelope import Envelope
from fanlight.measure.doppler.filling import RIDING, Filling, fillings, read_waves, steady_waves
from fanlight.measure.doppler.inflow import asked_of as asked_of_inflow
from fanlight.measure.doppler.inflow import deceleration_ms, inflow_values
from fanlight.measure.doppler.jet import jet_values
from fanlight.measure.doppler.outflow import JET_FROM_M_S, outflow_values
from fanlight.measure.doppler.outflow import asked_of as asked_of_outflow
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.relaxation import relaxation_value
from fanlight.measure.doppler.systole import LEAST_FLOW_CM_S, LEAST_RING_CM_S, STEADY_SHARE, systolic_waves
from fanlight.measure.doppler.tissue import JERK, LEAFLET, is_jerk, of_walls, tissue_values
from fanlight.measure.doppler.wave import Wave
from fanlight.measure.strip_lines.pauses import relaxations
from fanlight.measure.strip_lines.shown import Course, Place, Said, StripLines, courses_of
from fanlight.study import House, MarkKind, Measurement, Point

_OUTLINE_POINTS = 17  # of a wave: a half sine by 16 chords has 0.3 % less area (calculus)
_OPEN = "the envelope is open or torn: it is at least as fast"
_NOT_WHOLE = "its peak is not seen whole"
_ONE_WAVE = "E and A are fused"
_LOWER = "of a jet the highest envelope counts"
_WEAK = f"it reaches less than {100 * STEADY_SHARE:.0f} % of the fastest: perhaps breath moved the beam off the flow"
_AMONG_LEAFLETS = "at least half of such waves on this strip swing as a leaflet does, so that none counts"

_Judged = tuple[Wave | None, str]  # a wave, or none, and why it does not count


class OnStrip:
    """From milliseconds and cm/s of one side to pixels of the picture; None outside of the strip."""

    def __init__(self, axes: SpectralAxes, *, towards: bool) -> None:
        self._axes = axes
        self._down = -1.0 if towards != axes.is_inverted else 1.0

    def rows(self, speed_cm_s: np.ndarray) -> np.ndarray:
        """Return the row of each speed, NaN outside of the strip."""
        rows = self._axes.baseline_row_px + self._down * speed_cm_s / self._axes.cm_s_per_px
        box = self._axes.box
        return np.where((rows >= box.row0 - 0.5) & (rows <= box.row1 - 0.5), rows, np.nan)

    def cols(self, time_ms: np.ndarray) -> np.ndarray:
        """Return the column of each moment."""
        return self._axes.box.col0 + time_ms / self._axes.ms_per_px - 0.5

    def points(self, at: Iterable[tuple[float, float]]) -> tuple[Point, ...] | None:
        """Return the points of pairs of (ms, cm/s), or None where one leaves the strip."""
        found = np.asarray(list(at), np.float64)
        rows, cols = self.rows(found[:, 1]), self.cols(found[:, 0])
        if not np.isfinite(rows).all():
            return None
        return tuple((round(float(row), 2), round(float(col), 2)) for row, col in zip(rows, cols, strict=True))


def spectrum_lines(read: ReadSpectrum, frame: int, house: House) -> StripLines:
    """Return both envelopes of a spectrum and the places of what it measures.

    Notes
    -----
    An envelope runs where velocities are read: inside the outer rim of the signal by what the band's breadth and the
    length of a column add. What lies beyond the end of the scale, unwrapped, has no place on the picture.
    """
    case = read.case
    found: list[Place | None]
    if case.signal is Signal.ANNULUS:
        said = Said(tissue_values(read), house)
        found = _ring(read, said)
    elif case.signal is Signal.LEAK:
        said = Said(jet_values(read), house)
        found = _jet(read, said)
    elif case.is_inflow:
        said = Said((*inflow_values(read), *_relaxation(read)), house)
        found = _inflow(read, said) + _pauses(read, said)
    else:
        said = Said((*outflow_values(read), *_relaxation(read)), house)
        found = _outflow(read, said) + _pauses(read, said)
    courses = (*_envelope(read, towards=True), *_envelope(read, towards=False))
    return StripLines(
        frame=frame, courses=courses, places=tuple(item for item in found if item is not None),
        notes=read.beats.notes, reason=said.why_none,
    )  # fmt: skip


def _envelope(read: ReadSpectrum, *, towards: bool) -> tuple[Course, ...]:
    envelope, to = read.side(towards=towards), OnStrip(read.case.axes, towards=towards)
    rows = to.rows(np.where(envelope.edge_cm_s > 0, envelope.velocity_cm_s, np.nan))
    seen = ~(envelope.at_end | envelope.clicks) & (not read.why_aliased(towards=towards))
    name, way = ("towards", "towards the probe") if towards else ("away", "away from the probe")
    return courses_of(name, f"envelope of what runs {way}", rows, to.cols(envelope.times_ms), seen)


def _peak(said: Said, name: str, beat: int, wave: Wave, to: OnStrip, reason: str, per: float = 100.0) -> Place | None:
    """Return the place of a peak, in m/s where `per` is 100."""
    points = to.points([(wave.peak_ms, wave.peak_cm_s)])
    return None if points is None else said.place(name, beat, MarkKind.POINT, points, wave.peak_cm_s / per, reason)


def _line(
    said: Said, name: str, beat: int, ends: Sequence[tuple[float, float]], to: OnStrip, reason: str
) -> Place | None:
    """Return the place of a time, from one moment to the other."""
    points = to.points(ends)
    value = abs(ends[1][0] - ends[0][0])
    return None if points is None else said.place(name, beat, MarkKind.LINE, points, value, reason)


def _lasts(said: Said, name: str, beat: int, wave: Wave, to: OnStrip, reason: str) -> Place | None:
    """Return the place of how long a wave lasts: along the baseline, between its feet."""
    return _line(said, name, beat, [(wave.onset_ms, 0.0), (wave.end_ms, 0.0)], to, reason)


def _outline(said: Said, name: str, beat: int, wave: Wave, to: OnStrip, reason: str) -> Place | None:
    times = np.linspace(wave.onset_ms, wave.end_ms, _OUTLINE_POINTS)
    speeds = np.interp(times, wave.times_ms, wave.velocity_cm_s)
    points = to.points(zip(times.tolist(), speeds.tolist(), strict=True))
    return None if points is None else said.place(name, beat, MarkKind.TRACE, points, wave.integral_cm, reason)


def _systolic(envelope: Envelope, read: ReadSpectrum, least_cm_s: float) -> list[tuple[int, Wave, str]]:
    """Return the systolic waves in order, each with its number and why it does not count."""
    found = systolic_waves(envelope, read.beats, least_cm_s)
    both = [(wave, "") for wave in found.waves]
    both += [(wave, wave.open_reason or _OPEN) for wave in found.open_waves]
    both.sort(key=lambda item: item[0].peak_ms)
    return [(number, wave, why) for number, (wave, why) in enumerate(both, start=1)]


def _of_jet(waves: list[tuple[int, Wave, str]]) -> list[tuple[int, Wave, str]]:
    """Return the waves of a jet: all but the highest whole one do not count."""
    best = max((wave.peak_cm_s for _, wave, why in waves if not why), default=0.0)
    return [(n, wave, why or ("" if wave.peak_cm_s == best else _LOWER)) for n, wave, why in waves]


def _outflow(read: ReadSpectrum, said: Said) -> list[Place | None]:
    towards = read.case.runs_towards_probe
    to, envelope = OnStrip(read.case.axes, towards=towards), read.side(towards=towards)
    waves = _systolic(envelope, read, LEAST_FLOW_CM_S)
    if max((wave.peak_cm_s for _, wave, why in waves if not why), default=0.0) >= 100 * JET_FROM_M_S:
        waves = _of_jet(waves)
    asked = asked_of_outflow(read.case.valve)
    found: list[Place | None] = []
    for number, wave, why in waves:
        found.append(_peak(said, asked["vmax"].name, number, wave, to, why))
        found.append(_outline(said, asked["vti"].name, number, wave, to, why))
        ends = (wave.onset_ms, 0.0), (wave.balanced_peak_ms, wave.peak_cm_s)
        found.append(_line(said, asked["at"].name, number, ends, to, why))
        found.append(_lasts(said, asked["et"].name, number, wave, to, why))
    return found


def _jet(read: ReadSpectrum, said: Said) -> list[Place | None]:
    towards = read.case.runs_towards_probe
    to = OnStrip(read.case.axes, towards=towards)
    waves = _of_jet(_systolic(read.side(towards=towards), read, LEAST_FLOW_CM_S))
    return [_peak(said, said.names[0], number, wave, to, why) for number, wave, why in waves]


def _inflow(read: ReadSpectrum, said: Said) -> list[Place | None]:
    towards = read.case.runs_towards_probe
    to, envelope = OnStrip(read.case.axes, towards=towards), read.side(towards=towards)
    valve = read.case.valve.value
    asked = asked_of_inflow(valve.capitalize(), valve)
    told = _told(envelope, fillings(envelope, read.beats), steady_waves, lambda _: _WEAK)
    found = _diastolic(told, said, (asked["e"].name, asked["a"].name), to, 100.0)
    for number, ((wave, why), (late, why_late)) in enumerate(told, start=1):
        length = None if wave is None or why else deceleration_ms(wave)
        if wave is not None and length is not None:
            ends = (wave.peak_ms, wave.peak_cm_s), (wave.peak_ms + length, 0.0)
            found.append(_line(said, asked["fall"].name, number, ends, to, why))
        if late is not None:
            found.append(_lasts(said, asked["a_time"].name, number, late, to, why_late))
    return found


def _relaxation(read: ReadSpectrum) -> tuple[Measurement, ...]:
    """Return the isovolumic relaxation time where it is asked."""
    value = relaxation_value(read)
    return () if value is None else (value,)


def _pauses(read: ReadSpectrum, said: Said) -> list[Place | None]:
    """Return the relaxation of each beat, along the baseline from the end of outflow to the onset of inflow."""
    (item,) = _relaxation(read) or (None,)
    if item is None or item.value is None:
        return []
    to = OnStrip(read.case.axes, towards=True)
    ends = enumerate(relaxations(read), start=1)
    return [_line(said, item.name, number, [(first, 0.0), (last, 0.0)], to, "") for number, (first, last) in ends]


def _ring(read: ReadSpectrum, said: Said) -> list[Place | None]:
    towards = read.case.runs_towards_probe
    to, envelope = OnStrip(read.case.axes, towards=towards), read.side(towards=towards)
    systole, early, late = said.names  # S', E', A'
    waves = [(n, wave, JERK if is_jerk(wave) else why) for n, wave, why in _systolic(envelope, read, LEAST_RING_CM_S)]
    found = [_peak(said, systole, number, wave, to, why, 1.0) for number, wave, why in waves]
    other, back = OnStrip(read.case.axes, towards=not towards), read.side(towards=not towards)
    told = _told(back, fillings(back, read.beats, LEAST_RING_CM_S), of_walls, _why_of_no_wall)
    return found + _diastolic(told, said, (early, late), other, 1.0)


def _told(
    envelope: Envelope,
    found: Sequence[Filling] | str,
    kept: Callable[[Sequence[Wave]], list[Wave]],
    why_not: Callable[[Wave], str],
) -> list[tuple[_Judged, _Judged]]:
    """Return early and late wave of each beat; of those that are read, `kept` tells which count."""
    items = () if isinstance(found, str) else found
    early = [(item.early, _ONE_WAVE if item.is_one else _why_hidden(item.early, envelope)) for item in items]
    late = [
        (item.late, _ONE_WAVE if item.is_one else RIDING if item.is_riding else _why_hidden(item.late, envelope))
        for item in items
    ]
    return list(zip(_counted(early, kept, why_not), _counted(late, kept, why_not), strict=True))


def _counted(
    told: list[_Judged], kept: Callable[[Sequence[Wave]], list[Wave]], why_not: Callable[[Wave], str]
) -> list[_Judged]:  # fmt: skip
    count = kept([wave for wave, why in told if wave is not None and not why])
    return [(wave, why or ("" if wave is None or wave in count else why_not(wave))) for wave, why in told]


def _why_of_no_wall(wave: Wave) -> str:
    """Return why a wave that `of_walls` leaves out does not count: it is a leaflet's, or most beside it are."""
    return _AMONG_LEAFLETS if of_walls([wave]) else LEAFLET


def _diastolic(
    told: list[tuple[_Judged, _Judged]], said: Said, names: tuple[str, str], to: OnStrip, per: float
) -> list[Place | None]:
    """Return the peaks of early and late filling."""
    return [
        _peak(said, name, number, wave, to, why, per)
        for number, both in enumerate(told, start=1)
        for name, (wave, why) in zip(names, both, strict=True)
        if wave is not None
    ]


def _why_hidden(wave: Wave | None, envelope: Envelope) -> str:
    """Return why a wave is not read, "" where it is."""
    if wave is None or read_waves([wave], envelope):
        return ""
    return wave.open_reason or _NOT_WHOLE
