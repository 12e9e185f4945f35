"""When in the beat a spectrum has its signal, against its valve; and how near pulsed wave comes to its limit."""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.spectrum_flow import SignalTimes, Systole, set_flow, signal_times, systole_of
from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames, spectrum_frames
from fanlight.critique.doppler.spectrum_passed import passed
from fanlight.critique.doppler.spectrum_signal import Case, weigh_signal
from fanlight.critique.doppler.told import told
from fanlight.study import ClipTime, Finding, Mode, PictureChunk

WRONG, LIMIT = "spectrum_wrong_signal", "spectrum_at_limit"


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
        assert self._frames.axes is not None
        times, systole, no_times = self._times(envelope)
        weighed = weigh_signal(
            Case(
                valve=valve, mode=mode, flow=set_flow(self._frames, envelope), times=times, systole=systole,
                is_passed=passed(self._frames, mode, valve, time).is_passed, no_times=no_times,
            ),
            self._context.criteria[WRONG],
        )  # fmt: skip
        if weighed.wrong_share is None:
            return self._none(WRONG, weighed.why)
        return judged(
            self._context, FAMILY, WRONG, weighed.wrong_share, confidence=UNMEASURED, uncertainty=0.1, note=weighed.why
        )

    def _times(self, envelope: Envelope) -> tuple[SignalTimes | None, Systole | None, str]:
        """Return when the signal runs and when systole is, or why that is not known."""
        columns, species = self._frames.r_columns, self._context.patient.species
        if isinstance(columns, str):
            return None, None, f"when in the beat the signal runs is not known: {columns}"
        if species is None:
            return None, None, "the species is not known, and with it how long systole lasts"
        times = signal_times(self._frames, envelope, columns)
        if times is None:
            return None, None, "no whole beat with signal lies between two R waves"
        return times, systole_of(self._context.criteria[WRONG], species, times.rr_ms), ""

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


def limit_share(frames: SpectrumFrames, time: ClipTime) -> float:
    """Return how near the signal comes to the end of its side of the scale; 1 where it is cut off or wraps."""
    assert frames.axes is not None
    envelope = frames.envelope
    assert envelope is not None
    if passed(frames, Mode.PULSED_WAVE, None, time).is_passed:
        return 1.0
    return float(min(envelope.top_px / max(envelope.room_px, 1.0), 1.0))


FAMILY = Family(name="doppler_spectrum_timing", version=4, start=_SpectrumTiming)
