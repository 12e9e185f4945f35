"""When in the beat a spectrum has its signal, against its valve; and how near pulsed wave comes to its limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames, spectrum_frames
from fanlight.critique.doppler.spectrum_passed import passed
from fanlight.critique.doppler.told import told
from fanlight.study import ClipTime, Criterion, Finding, Mode, PictureChunk, Species, Valve

WRONG, LIMIT = "spectrum_wrong_signal", "spectrum_at_limit"
_TALL_SHARE = 0.5  # of the height: slow flow at the baseline goes on all the time
_FEWEST_COLUMNS, _FEWEST_BEATS = 20, 1
INFLOW = (Valve.MITRAL, Valve.TRICUSPID)


class _SpectrumTiming:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = spectrum_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        self._frames.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        frames = self._frames
        if not frames.is_asked:
            return ()
        if frames.why_not:
            return none_assessable(self._context, FAMILY, frames.why_not)
        if frames.envelope is None:
            return none_assessable(self._context, FAMILY, "no signal stands out from the noise")
        return self._wrong(frames.envelope, time), self._limit(time)

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)

    def _wrong(self, envelope: Envelope, time: ClipTime) -> Finding:
        mode, valve = self._context.mode.mode, told(self._context).valve
        if valve is None:
            return self._none(WRONG, "the valve is not known: nobody said which one this spectrum is of")
        if mode is None:
            return self._none(WRONG, "pulsed or continuous wave is not known, and they look for different flows")
        if mode is Mode.TISSUE_DOPPLER:
            return self._none(WRONG, "asked of blood flow, not of tissue")
        columns = self._frames.r_columns
        if isinstance(columns, str):
            return self._none(WRONG, f"when in the beat the signal runs is not known: {columns}")
        assert self._frames.axes is not None
        if passed(self._frames, mode, valve, time).is_passed:
            return self._none(WRONG, "the scale is passed: which way the signal runs is not sure")
        species = self._context.patient.species
        if species is None:
            return self._none(WRONG, "the species is not known, and with it how long systole lasts")
        when = signal_times(self._frames, envelope, columns)
        if when is None:
            return self._none(WRONG, "no whole beat with signal lies between two R waves")
        systole = systole_of(self._context.criteria[WRONG], species, when.rr_ms)
        return self._judged(valve, mode, when, systole)

    def _judged(self, valve: Valve, mode: Mode, when: SignalTimes, systole: Systole) -> Finding:
        in_systole = (when.after_r_ms >= systole.start_ms) & (when.after_r_ms < systole.end_ms)
        is_systolic = in_systole.mean() >= 0.5
        is_inflow = valve in INFLOW
        if mode is Mode.CONTINUOUS_WAVE and is_systolic != is_inflow:
            # A leak of the other valve runs at the same time and passes for this one's outflow.
            return self._none(
                WRONG,
                f"the signal of this line runs in {'systole' if is_systolic else 'diastole'}, as forward flow of the "
                f"{valve} valve does, and as the leak of a neighbour; timing alone does not tell them apart",
            )
        if mode is Mode.CONTINUOUS_WAVE:
            # A leak runs when forward flow does not; along a line it is looked for as well.
            flow = "a leak" if is_inflow else "a leak or an inflow beside it"
            return self._none(
                WRONG,
                f"the signal of this line runs in {'systole' if is_systolic else 'diastole'}: {flow} of the {valve} "
                "valve, or the flow of a neighbour; timing alone does not tell them apart",
            )
        wrong = in_systole if is_inflow else ~in_systole
        return judged(
            self._context, FAMILY, WRONG, float(wrong.mean()), confidence=UNMEASURED, uncertainty=0.1,
            note=f"{100 * float(in_systole.mean()):.0f} % of the signal lies between {systole.start_ms:.0f} and "
            f"{systole.end_ms:.0f} ms after R (systole at {60_000 / when.rr_ms:.0f} beats a minute); "
            f"forward flow of the {valve} valve runs in "
            f"{'diastole' if is_inflow else 'systole'}",
        )  # fmt: skip

    def _limit(self, time: ClipTime) -> Finding:
        """Share of the end of the scale that pulsed wave reaches: the ladder's rule for continuous wave."""
        mode = self._context.mode.mode
        if mode is not Mode.PULSED_WAVE:
            reason = (
                "pulsed or continuous wave is not known" if mode is None
                else "asked of pulsed wave of blood: only that has its limit in the depth"
            )  # fmt: skip
            return self._none(LIMIT, reason)
        share = limit_share(self._frames, time)
        return judged(
            self._context, FAMILY, LIMIT, share, confidence=UNMEASURED, uncertainty=0.03,
            note="the signal wraps round the end of the scale" if share >= 1.0
            else f"the signal reaches {100 * share:.0f} % of its side of the scale",
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SignalTimes:
    """When tall columns stand in their beat."""

    after_r_ms: NDArray[np.float64]  # (tall column,)
    rr_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Systole:
    """From the closing of the inflow valves to that of the outflow valves, ms after R."""

    start_ms: float
    end_ms: float


def signal_times(frames: SpectrumFrames, envelope: Envelope, r_columns: NDArray[np.float64]) -> SignalTimes | None:
    """Return when after the R wave before it each tall column stands; None with too few between two R waves."""
    assert frames.axes is not None
    tall = np.flatnonzero(envelope.tall(_TALL_SHARE) & ~frames.clicks)
    tall = tall[(tall >= r_columns[0]) & (tall < r_columns[-1])]
    if len(tall) < _FEWEST_COLUMNS or len(r_columns) < _FEWEST_BEATS + 1:
        return None
    before = np.searchsorted(r_columns, tall, side="right") - 1
    after_ms = (tall - r_columns[before]) * frames.axes.ms_per_px
    return SignalTimes(after_r_ms=after_ms, rr_ms=float(np.median(np.diff(r_columns))) * frames.axes.ms_per_px)


def systole_of(criterion: Criterion, species: Species, rr_ms: float) -> Systole:
    """Return when systole lasts at a heart rate, from the house's table: ejection shortens as the rate rises."""
    animal = "cat" if species is Species.CAT else "dog"
    rate = 60_000.0 / rr_ms
    usual = criterion.setting(f"{animal}_systole_ms")
    end = usual - criterion.setting(f"{animal}_shorter_ms_per_bpm") * (rate - criterion.setting(f"{animal}_rate_bpm"))
    return Systole(start_ms=criterion.setting("systole_starts_ms"), end_ms=max(end, criterion.setting("shortest_ms")))


def limit_share(frames: SpectrumFrames, time: ClipTime) -> float:
    """Return how near the signal comes to the end of its side of the scale; 1 where it is cut off or wraps."""
    assert frames.axes is not None
    envelope = frames.envelope
    assert envelope is not None
    if passed(frames, Mode.PULSED_WAVE, None, time).is_passed:
        return 1.0
    return float(min(envelope.top_px / max(envelope.room_px, 1.0), 1.0))


FAMILY = Family(name="doppler_spectrum_timing", version=3, start=_SpectrumTiming)
