"""Whether a signal is that of the named valve: by when it runs, how long, which way and how fast.

Forward flow through an outflow valve runs away from the probe in systole, inflow towards it in diastole (anatomy: in
every view of these rungs). A leak runs the other way in the other half of the beat, and is no wrong signal: it lasts
from valve to valve, isovolumic times included, and is fast. What could be the valve's own leak is never called wrong.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.critique.doppler.spectrum_flow import SetFlow, SignalTimes, Systole
from fanlight.study import Criterion, Mode, Valve, Verdict

INFLOW = (Valve.MITRAL, Valve.TRICUSPID)
_LAID_OUT_RATIO, _SURELY_LAID_OUT_RATIO = 2.0, 3.0  # of the rooms of both sides (engineering judgement)
# Tops below this share of their room are no flow that the strip was laid out for; above the other they are cut off.
_LEAST_HEIGHT_SHARE, _CUT_HEIGHT_SHARE = 0.4, 0.97
_MOSTLY, _HARDLY = 0.7, 0.2  # of the signal, in one half of the beat (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What is known of one spectrum."""

    valve: Valve
    mode: Mode
    flow: SetFlow
    is_passed: bool  # the scale
    times: SignalTimes | None
    systole: Systole | None
    no_times: str  # why `times` or `systole` is None

    @property
    def is_inflow(self) -> bool:
        """Whether the named valve fills a ventricle."""
        return self.valve in INFLOW

    @property
    def runs_forward(self) -> bool:
        """Whether the signal runs the way of forward flow through the named valve."""
        return self.flow.towards_probe == self.is_inflow

    @property
    def systolic_share(self) -> float | None:
        """Share of the signal in systole, None where that is not known."""
        if self.times is None or self.systole is None:
            return None
        return self.times.systolic_share(self.systole)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Share of the signal that is not of the named valve, or why that is not told."""

    wrong_share: float | None
    why: str


def weigh_signal(case: Case, criterion: Criterion) -> Weighed:
    """Return how much of a signal is another valve's, in words; never so for what may be the valve's own leak."""
    backward = _backward(case, criterion)
    if backward is not None:
        return backward
    if case.is_passed:
        return _untold("the scale is passed: which way the signal runs is not sure")
    share = case.systolic_share
    if share is None:
        return _untold(case.no_times)
    wrong = share if case.is_inflow else 1.0 - share
    if case.mode is Mode.CONTINUOUS_WAVE:
        return _along_a_line(case, criterion, wrong)
    if _is_beyond(criterion, wrong):
        assert case.times is not None
        if not case.times.is_even:
            return _untold("the signal seems to run in the wrong half of the beat, but the R waves are uneven")
        if case.flow.room_ratio >= _LAID_OUT_RATIO:
            return _untold("the signal runs the right way and seems to run in the wrong half of the beat: not sure")
    return Weighed(wrong_share=wrong, why=_when(case))


def _backward(case: Case, criterion: Criterion) -> Weighed | None:
    """Weigh a strip that was laid out for flow against forward flow; None for any other."""
    flow = case.flow
    if case.runs_forward or flow.room_ratio < _LAID_OUT_RATIO:
        return None
    if case.is_inflow and case.mode is Mode.CONTINUOUS_WAVE:
        told = _leak_along_a_line(case, criterion)
        if told is not None:
            return told
    way = "towards" if flow.towards_probe else "away from"
    runs = f"the strip holds flow {way} the probe, against forward flow of the {case.valve} valve"
    doubt = _doubt(case, criterion)
    if doubt:
        return _untold(f"{runs}; {doubt}")
    share = case.systolic_share
    length = f"it takes {100 * flow.beat_share:.0f} % of the time and reaches {flow.peak_cm_s / 100:.1f} m/s"
    if share is None:
        return Weighed(wrong_share=1.0, why=f"{runs}; {length}: too short and too slow for its leak")
    wrong = share if case.is_inflow else 1.0 - share
    return Weighed(wrong_share=wrong, why=f"{runs}; {length}, too short and too slow for its leak; {_when(case)}")


def _doubt(case: Case, criterion: Criterion) -> str:
    """Return why flow against the forward one may be the valve's own, or is not known well enough; "" for neither."""
    flow, share = case.flow, case.systolic_share
    if flow.height_share > _CUT_HEIGHT_SHARE or flow.peak_cm_s > criterion.setting("leak_from_cm_s"):
        return "it is as fast as a leak of this valve"
    if case.valve is Valve.TRICUSPID:
        return "a leak of this valve may be as slow"
    if flow.beat_share > criterion.setting("leak_from_share") and not _ejects(case, criterion):
        return "it lasts as long as a leak of this valve"
    if flow.height_share < _LEAST_HEIGHT_SHARE:
        return "it is low beside its room"
    if share is None or case.times is None or not case.times.is_even:
        is_short = flow.beat_share <= criterion.setting("short_share")
        if flow.room_ratio < _SURELY_LAID_OUT_RATIO or flow.other_is_cut or not is_short:
            return f"when it runs is not sure: {case.no_times or 'the R waves beside it are uneven'}"
        return ""
    if case.is_inflow and flow.other_is_cut:
        return "flow on the other side is cut off, and which of the two was looked for is not known"
    in_other_half = share >= _MOSTLY if case.is_inflow else share <= _HARDLY
    return "" if in_other_half else "it runs in both halves of the beat"


def _leak_along_a_line(case: Case, criterion: Criterion) -> Weighed | None:
    """Weigh fast systolic flow along a line at an inflow valve: its leak lasts longer than ejection."""
    told = _fast_systolic(case, criterion)
    if told is None:
        return None
    first_ms, length = told
    if length >= criterion.setting("leak_lasts_share"):
        return Weighed(wrong_share=0.0, why=f"{_lasts(length)}, as a leak of an inflow valve does")
    if _ejects(case, criterion) and not case.flow.other_is_cut:
        return Weighed(
            wrong_share=1.0,
            why=f"it begins {first_ms:.0f} ms after R; {_lasts(length)}, as ejection does; a leak of the {case.valve} "
            "valve begins with the R wave and lasts longer",
        )  # fmt: skip
    return _untold("how long the systolic signal lasts lies between a leak and ejection")


def _along_a_line(case: Case, criterion: Criterion, wrong: float) -> Weighed:
    """Weigh forward flow along a line, on which the flows of neighbours lie as well."""
    if _is_beyond(criterion, wrong):
        return _untold("along this line flow runs in both halves of the beat: timing does not tell whose it is")
    if case.is_inflow:
        if case.flow.peak_cm_s > criterion.setting("leak_from_cm_s"):
            return _untold("inflow so fast may be the leak of a neighbour: timing does not tell them apart")
        return Weighed(wrong_share=wrong, why=_when(case))
    told = _fast_systolic(case, criterion)
    if told is None:
        if case.flow.peak_cm_s > criterion.setting("leak_from_cm_s"):
            return _untold("flow so fast may be the leak of an inflow valve, and how long it lasts is not sure")
        return Weighed(wrong_share=wrong, why=_when(case))
    first_ms, length = told
    if length >= criterion.setting("leak_lasts_share"):
        # Ejection is long too in a narrow outflow, after a pause and at a slow rate; but it begins later than a leak.
        if _begins_ms(case, first_ms, length) >= criterion.setting("ejection_from_ms"):
            return _untold("so long a signal may be a leak of an inflow valve, or long ejection, as which it begins")
        return Weighed(
            wrong_share=1.0,
            why=f"it begins soon after R; {_lasts(length)}, from valve to valve: a leak of an inflow valve is longer "
            "than ejection",
        )  # fmt: skip
    if length <= criterion.setting("ejection_lasts_share"):
        return Weighed(wrong_share=wrong, why=f"{_lasts(length)}, as ejection does; {_when(case)}")
    return _untold("how long the systolic signal lasts lies between a leak and ejection")


def _ejects(case: Case, criterion: Criterion) -> bool:
    """Whether systolic flow begins after the R wave and is as short as ejection."""
    share = case.systolic_share
    if share is None or case.times is None or case.systole is None or not case.times.is_even or share < _MOSTLY:
        return False
    span = case.times.spans(case.systole)
    return (
        span is not None
        and span[0] >= criterion.setting("ejection_from_ms")
        and span[1] <= criterion.setting("ejection_lasts_share")
    )


def _begins_ms(case: Case, first_ms: float, length: float) -> float:
    """Return when an even signal begins of which the first and the last tenth were left out."""
    assert case.systole is not None
    return first_ms - length * (case.systole.end_ms - case.systole.start_ms) / 8


def _lasts(length: float) -> str:
    return f"it lasts {100 * length:.0f} % of systole"


def _fast_systolic(case: Case, criterion: Criterion) -> tuple[float, float] | None:
    """Return when whole, fast systolic flow begins, ms after R, and its share of systole; None for any other."""
    flow, share = case.flow, case.systolic_share
    if share is None or case.times is None or case.systole is None or not case.times.is_even:
        return None
    is_fast = flow.peak_cm_s > criterion.setting("leak_from_cm_s")
    is_whole = _LEAST_HEIGHT_SHARE <= flow.height_share <= _CUT_HEIGHT_SHARE
    return case.times.spans(case.systole) if is_fast and is_whole and share >= _MOSTLY else None


def _when(case: Case) -> str:
    share = case.systolic_share
    assert share is not None
    assert case.times is not None
    assert case.systole is not None
    other = "the other inflow" if case.is_inflow else "the other outflow"
    return (
        f"{100 * share:.0f} % of the signal lies between {case.systole.start_ms:.0f} and {case.systole.end_ms:.0f} ms "
        f"after R (systole at {60_000 / case.times.rr_ms:.0f} beats a minute); forward flow of the {case.valve} valve "
        f"runs in {'diastole' if case.is_inflow else 'systole'}, and {other} with it"
    )


def _is_beyond(criterion: Criterion, wrong: float) -> bool:
    return criterion.band.judge(wrong)[0] is not Verdict.MET


def _untold(why: str) -> Weighed:
    return Weighed(wrong_share=None, why=why)
