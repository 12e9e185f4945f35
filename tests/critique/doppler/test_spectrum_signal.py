"""Whose signal it is: by its half of the beat, its length, way and speed; a valve's own leak is never a wrong signal.

Forward flow of the outflow valves runs away from the probe in systole, inflow towards it in diastole (anatomy). An
atrioventricular leak includes both isovolumic times and so outlasts ejection (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.critique.doppler.spectrum_flow import SetFlow, SignalTimes, Systole
from fanlight.critique.doppler.spectrum_signal import Case, weigh_signal
from fanlight.critique.doppler.spectrum_timing import FAMILY, WRONG
from fanlight.reference.criteria import read_family
from fanlight.study import Mode, Valve, Verdict
from tests.critique.doppler.colour_clips import HOUSE
from tests.critique.doppler.spectra import Spectrum, judge

CRITERION = read_family(HOUSE, FAMILY.name)[WRONG]
SYSTOLE = Systole(start_ms=20.0, end_ms=240.0)
PULSED, LINE = Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE


def signal(first_ms: float, last_ms: float, *, is_even: bool = True) -> SignalTimes:
    return SignalTimes(after_r_ms=np.linspace(first_ms, last_ms, 80), rr_ms=545.0, is_even=is_even)


FILLING, EJECTION = signal(300.0, 500.0), signal(45.0, 175.0)
LEAK = signal(2.0, 255.0)  # of an inflow valve: from valve to valve
TOWARDS = SetFlow(
    towards_probe=True, room_ratio=4.0, height_share=0.66, peak_cm_s=80.0, beat_share=0.3, other_is_cut=False
)
AWAY = replace(TOWARDS, towards_probe=False)


def case(valve: Valve, mode: Mode, flow: SetFlow, times: SignalTimes | None, *, is_passed: bool = False) -> Case:
    return Case(
        valve=valve, mode=mode, flow=flow, is_passed=is_passed, times=times,
        systole=None if times is None else SYSTOLE, no_times="no ECG" if times is None else "",
    )  # fmt: skip


@pytest.mark.parametrize("mode", [PULSED, LINE])
@pytest.mark.parametrize(
    ("valve", "flow", "times"),
    [
        (Valve.AORTIC, AWAY, EJECTION),
        (Valve.PULMONIC, AWAY, EJECTION),
        (Valve.MITRAL, TOWARDS, FILLING),
        (Valve.TRICUSPID, TOWARDS, FILLING),
    ],
)
def test_forward_flow_is_right(mode: Mode, valve: Valve, flow: SetFlow, times: SignalTimes) -> None:
    weighed = weigh_signal(case(valve, mode, flow, times), CRITERION)
    assert weighed.wrong_share is not None
    assert CRITERION.band.judge(weighed.wrong_share)[0] is Verdict.MET


@pytest.mark.parametrize("mode", [PULSED, LINE])
@pytest.mark.parametrize("is_passed", [False, True])
@pytest.mark.parametrize(
    ("valve", "flow", "times"),
    [(Valve.AORTIC, TOWARDS, FILLING), (Valve.PULMONIC, TOWARDS, FILLING), (Valve.MITRAL, AWAY, EJECTION)],
)
def test_slow_flow_the_other_way_in_the_other_half_is_wrong(
    mode: Mode, is_passed: bool, valve: Valve, flow: SetFlow, times: SignalTimes
) -> None:
    """It is told as well where what comes back on the small side runs out of its room."""
    assert weigh_signal(case(valve, mode, flow, times, is_passed=is_passed), CRITERION).wrong_share == 1.0


@pytest.mark.parametrize("mode", [PULSED, LINE])
@pytest.mark.parametrize(
    ("valve", "flow", "words"),
    [
        (Valve.AORTIC, replace(TOWARDS, peak_cm_s=420.0), "as fast as a leak"),
        (Valve.AORTIC, replace(TOWARDS, height_share=1.0), "as fast as a leak"),  # who knows how fast
        (Valve.PULMONIC, replace(TOWARDS, beat_share=0.55), "as long as a leak"),
        (Valve.TRICUSPID, AWAY, "a leak of this valve may be as slow"),
    ],
)
def test_what_may_be_the_valves_own_leak_is_left_open(mode: Mode, valve: Valve, flow: SetFlow, words: str) -> None:
    weighed = weigh_signal(case(valve, mode, flow, FILLING if flow.towards_probe else EJECTION), CRITERION)
    assert weighed.wrong_share is None
    assert words in weighed.why


def test_a_leak_for_an_outflow_is_told_by_its_length() -> None:
    """Fast systolic flow that lasts from valve to valve is a leak: right at the mitral valve, wrong at the aortic."""
    fast = replace(AWAY, peak_cm_s=500.0, beat_share=0.5)
    assert weigh_signal(case(Valve.AORTIC, LINE, fast, LEAK), CRITERION).wrong_share == 1.0
    assert weigh_signal(case(Valve.MITRAL, LINE, fast, LEAK), CRITERION).wrong_share == 0.0


def test_long_ejection_is_not_called_a_leak() -> None:
    """A narrow outflow or a slow rate lengthens ejection; it still begins after the isovolumic time (physiology)."""
    fast = replace(AWAY, peak_cm_s=500.0, beat_share=0.5)
    late = signal(45.0, 275.0)
    told = weigh_signal(case(Valve.AORTIC, LINE, fast, late), CRITERION)

    assert told.wrong_share is None
    assert "long ejection" in told.why


def test_a_stenosis_for_a_leak_is_told_by_its_length() -> None:
    fast = replace(AWAY, peak_cm_s=430.0)
    assert weigh_signal(case(Valve.MITRAL, LINE, fast, EJECTION), CRITERION).wrong_share == 1.0
    assert weigh_signal(case(Valve.AORTIC, LINE, fast, EJECTION), CRITERION).wrong_share == 0.0
    beside = replace(fast, other_is_cut=True)  # inflow that is cut off may be what was looked for
    assert weigh_signal(case(Valve.MITRAL, LINE, beside, EJECTION), CRITERION).wrong_share is None


@pytest.mark.parametrize("times", [None, signal(300.0, 500.0, is_even=False)])
def test_without_sure_beats_way_and_shape_must_be_plain(times: SignalTimes | None) -> None:
    plain = case(Valve.AORTIC, PULSED, TOWARDS, times)
    assert weigh_signal(plain, CRITERION).wrong_share == 1.0
    for doubtful in (
        replace(TOWARDS, other_is_cut=True), replace(TOWARDS, room_ratio=2.5), replace(TOWARDS, beat_share=0.37)
    ):  # fmt: skip
        weighed = weigh_signal(replace(plain, flow=doubtful), CRITERION)
        assert weighed.wrong_share is None
        assert "not sure" in weighed.why


def test_uneven_beats_call_nothing_wrong() -> None:
    """A missed R wave puts outflow into diastole."""
    level = replace(AWAY, room_ratio=1.0)
    assert (
        weigh_signal(case(Valve.AORTIC, PULSED, level, signal(300, 500, is_even=False)), CRITERION).wrong_share is None
    )
    assert weigh_signal(case(Valve.AORTIC, PULSED, level, FILLING), CRITERION).wrong_share == 1.0


def test_a_drawn_inflow_is_no_outflow() -> None:
    """Two short waves a beat towards the probe, after systole, on a strip that was laid out for them."""
    drawn = Spectrum(baseline=0.8, r_at_ms=390.0)
    found = judge(drawn, family=FAMILY, valve=Valve.AORTIC)[WRONG]
    assert found.verdict is Verdict.MISSED
    assert "towards the probe" in found.reason
    assert judge(drawn, family=FAMILY, valve=Valve.MITRAL)[WRONG].verdict is Verdict.MET
