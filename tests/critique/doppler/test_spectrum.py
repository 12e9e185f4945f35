"""Criteria of spectra on drawn strips with one fault each."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fanlight.critique.accumulator import Family
from fanlight.critique.doppler import spectrum_edge, spectrum_timing
from fanlight.critique.doppler.spectrum_ends import read_ends
from fanlight.critique.doppler.spectrum_passed import Passed, passed
from fanlight.critique.doppler.spectrum_use import BY_RIM, FAMILY, NO_RIM
from fanlight.frames.doppler.spectrum import SpectralAxes, read_reach
from fanlight.reference.criteria import read_family
from fanlight.study import Box, Finding, MarkedAxis, Mode, Side, StripAxis, Valve, Verdict
from tests.critique.doppler.colour_clips import HOUSE, TIME
from tests.critique.doppler.spectra import BOX, MS_PER_PX, Spectrum, judge

KEYS = set(read_family(HOUSE, FAMILY.name))


def test_a_good_spectrum_raises_nothing() -> None:
    found = judge(Spectrum())
    assert {key: f.verdict for key, f in found.items()} == dict.fromkeys(KEYS, Verdict.MET)


@pytest.mark.parametrize(
    ("drawn", "key", "side"),
    [
        (Spectrum(peak_cm_s=24.0), "spectrum_height", Side.LOW),
        (Spectrum(peak_cm_s=150.0), "spectrum_wrap", Side.HIGH),
        (Spectrum(peak_cm_s=112.0, baseline=0.5), "spectrum_baseline", Side.HIGH),
        (Spectrum(ms_per_px=12.0), "spectrum_sweep", Side.LOW),
        (Spectrum(noise=0.9), "spectrum_noise", Side.HIGH),
        (Spectrum(filter_cm_s=36.0), "spectrum_filter_gap", Side.HIGH),
        (Spectrum(has_guide=False), "spectrum_guide", Side.LOW),
    ],
)
def test_each_fault_is_seen(drawn: Spectrum, key: str, side: Side) -> None:
    found = judge(drawn)
    assert (found[key].verdict, found[key].side) == (Verdict.MISSED, side)


@pytest.mark.parametrize("peak_cm_s", [130.0, 150.0, 250.0, 400.0, 600.0])
def test_the_faster_the_signal_the_less_it_passes(peak_cm_s: float) -> None:
    found = judge(Spectrum(peak_cm_s=peak_cm_s))
    assert found["spectrum_wrap"].verdict is Verdict.MISSED
    assert found["spectrum_height"].reason == "the scale is passed: the peak is not seen"
    assert found["spectrum_noise"].verdict is Verdict.NOT_ASSESSABLE


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE])
def test_clicks_of_valves_are_no_signal(mode: Mode) -> None:
    plain, clicked = judge(Spectrum(wraps=False), mode), judge(Spectrum(wraps=False, clicks_ms=10.0), mode)
    assert clicked["spectrum_wrap"].verdict is Verdict.MET
    assert clicked["spectrum_height"].value == pytest.approx(plain["spectrum_height"].value, abs=0.03)


def test_a_high_filter_of_continuous_wave_is_no_fault() -> None:
    fast = Spectrum(peak_cm_s=450.0, scale_cm_s=420.0, filter_cm_s=50.0)
    assert judge(fast, Mode.CONTINUOUS_WAVE)["spectrum_filter_gap"].verdict is Verdict.NOT_ASSESSABLE


# Height of 2/3 of the scale is what teachers ask for (common practice, no source): met, and read as drawn.
def test_height_is_read_as_drawn() -> None:
    height = judge(Spectrum(peak_cm_s=80.0, scale_cm_s=100.0, baseline=0.6))["spectrum_height"].value
    assert height == pytest.approx(80.0 / 120.0, abs=0.04)


def test_continuous_wave_that_is_cut_off_is_no_wrap_but_as_bad() -> None:
    found = judge(Spectrum(peak_cm_s=150.0, wraps=False), Mode.CONTINUOUS_WAVE)["spectrum_wrap"]
    assert found.verdict is Verdict.MISSED
    assert "ends at the end of the scale" in found.reason


def test_without_a_region_the_reason_is_said() -> None:
    found = judge(Spectrum(), trusted=False)
    assert {f.verdict for f in found.values()} == {Verdict.NOT_ASSESSABLE}
    assert "not borne out by the picture" in found["spectrum_height"].reason


ZERO = BOX.row0 + 0.6 * BOX.height_px  # as `Spectrum` has it
MARKED = (
    MarkedAxis(
        axis=StripAxis.TIME, start=(BOX.row1 + 4, BOX.col0 + 80), end=(BOX.row1 + 4, BOX.col0 + 480),
        amount=400 * MS_PER_PX,
    ),
    MarkedAxis(axis=StripAxis.VELOCITY, start=(ZERO - 60, 20), end=(ZERO, 20), amount=40.0),  # 2/3 cm/s a row
    MarkedAxis(axis=StripAxis.BASELINE, start=(ZERO, 20), end=(ZERO, 20), amount=0.0),
)  # fmt: skip


@pytest.mark.parametrize("family", [FAMILY, spectrum_edge.FAMILY, spectrum_timing.FAMILY], ids=lambda each: each.name)
def test_axes_that_a_person_marked_serve_as_those_of_the_file(family: Family) -> None:
    """Of a strip with noise to its rims the same is said, be it that the file tells of it or that a hand does."""
    drawn = Spectrum(noise=0.1, r_at_ms=560.0)
    told = judge(drawn, family=family, valve=Valve.MITRAL)
    marked = judge(drawn, family=family, valve=Valve.MITRAL, trusted=False, axes=MARKED)

    assert {key: item.verdict for key, item in marked.items()} == {key: item.verdict for key, item in told.items()}
    assert any(item.value is not None for item in told.values())
    for key, item in told.items():
        assert (marked[key].value is None) == (item.value is None)
        assert marked[key].value is None or marked[key].value == pytest.approx(item.value, abs=0.03, rel=0.03)


def test_without_a_rim_nothing_is_said_of_how_the_scale_is_used() -> None:
    """A black strip on a black screen: where its scale ends is seen nowhere, all else is judged."""
    found = judge(Spectrum(), trusted=False, axes=MARKED)

    assert {key for key, item in found.items() if item.reason == NO_RIM} == set(BY_RIM)
    assert found["spectrum_filter_gap"].verdict is Verdict.MET


def test_an_empty_strip_is_not_judged_but_its_guide_is() -> None:
    found = judge(Spectrum(peak_cm_s=0.0))
    assert found["spectrum_guide"].verdict is Verdict.MET
    assert found["spectrum_height"].reason == "no signal stands out from the noise"


def test_an_unknown_heart_rate_leaves_the_sweep_open() -> None:
    assert judge(Spectrum(), beat_ms=None)["spectrum_sweep"].reason == "the heart rate is not known"


def test_other_modes_are_not_asked() -> None:
    assert judge(Spectrum(), Mode.TWO_D) == {}


AXES = SpectralAxes(
    box=Box(row0=0, col0=0, row1=200, col1=400), baseline_row_px=160.0, cm_s_per_px=1.0, ms_per_px=2.0,
    is_inverted=False,
)  # fmt: skip
BEAT_PX = 100


def _passed(up_px: int, down_px: int, valve: Valve | None = None) -> Passed:
    """Judge continuous wave whose flow fills half of each beat, so far up and so far down from the baseline."""
    zero = round(AXES.baseline_row_px)
    grey = np.zeros((AXES.box.height_px, AXES.box.width_px), np.uint8)
    on = np.arange(AXES.box.width_px) % BEAT_PX < BEAT_PX // 2
    grey[zero - up_px : zero, on] = 180
    grey[zero : zero + down_px, ~on & (np.arange(len(on)) % BEAT_PX < 90)] = 180
    frames: Any = SimpleNamespace(
        axes=AXES, ends=read_ends(grey, AXES), reach=read_reach(grey, AXES), beat_px=lambda _: BEAT_PX
    )
    return passed(frames, Mode.CONTINUOUS_WAVE, valve, TIME)


def test_what_comes_back_on_the_smaller_side_may_be_cut_off() -> None:
    """The scale is set for the flow that is sought; what flows the other way has little room (common practice)."""
    assert not _passed(96, 40).is_passed
    assert _passed(0, 40).is_passed  # the baseline leaves the flow itself no room
    assert _passed(160, 40).is_passed


def test_outflow_cut_off_on_the_smaller_side_is_what_was_looked_for() -> None:
    """Flow through the aortic valve runs away from the probe (anatomy): below the baseline unless it is inverted."""
    assert _passed(96, 40, Valve.AORTIC).is_passed


@pytest.mark.parametrize("is_inverted", [False, True])  # the smaller side is below: away from the probe, or towards it
@pytest.mark.parametrize("valve", [Valve.MITRAL, Valve.TRICUSPID, None])
def test_a_flow_cut_off_beside_one_the_other_way_is_left_open(valve: Valve | None, is_inverted: bool) -> None:
    """Between two chambers inflow runs towards the probe and a leak away from it (anatomy): either may be sought."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(globals(), "AXES", replace(AXES, is_inverted=is_inverted))
        found = _passed(96, 40, valve)
    assert not found.is_passed
    assert "which of the two was looked for is not known" in found.unsure


def test_what_comes_back_through_an_outflow_valve_may_be_cut_off() -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(globals(), "AXES", replace(AXES, is_inverted=True))
        found = _passed(96, 40, Valve.AORTIC)
    assert not found.is_passed
    assert found.unsure == ""


def _wraps(back_cm_s: float, peak_cm_s: float, valve: Valve | None) -> Finding:
    drawn = Spectrum(baseline=0.8, peak_cm_s=peak_cm_s, back_cm_s=back_cm_s, ms_per_px=5.0)
    return judge(drawn, valve=valve)["spectrum_wrap"]


@pytest.mark.parametrize("valve", [Valve.MITRAL, Valve.TRICUSPID, None])
def test_what_comes_back_through_a_gate_and_wraps_is_left_open(valve: Valve | None) -> None:
    """The scale is set for the flow that is sought; what flows the other way has little room (common practice)."""
    assert _wraps(0.0, 100.0, valve).verdict is Verdict.MET
    found = _wraps(50.0, 100.0, valve)
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "which of the two was looked for is not known" in found.reason


def test_a_flow_that_wraps_itself_is_raised_whatever_comes_back() -> None:
    assert _wraps(50.0, 190.0, Valve.MITRAL).verdict is Verdict.MISSED  # the room on its side is 160 cm/s
    assert _wraps(50.0, 20.0, Valve.MITRAL).verdict is Verdict.MISSED  # what wraps is all that there is
    assert _wraps(50.0, 100.0, Valve.AORTIC).verdict is Verdict.MISSED  # outflow runs one way (physiology)


@pytest.mark.parametrize(("clicks_ms", "passes"), [(10.0, False), (25.0, False), (60.0, False), (110.0, True)])
def test_clicks_at_both_ends_are_no_wrap_but_what_lasts_is(clicks_ms: float, passes: bool) -> None:
    found = judge(Spectrum(clicks_ms=clicks_ms))["spectrum_wrap"]
    assert found.value is not None
    assert (found.value > 0.0) is passes


@pytest.mark.parametrize("noise", [0.1, 0.5, 0.9])
def test_noise_at_both_ends_is_no_wrap(noise: float) -> None:
    assert judge(Spectrum(noise=noise))["spectrum_wrap"].verdict is Verdict.MET


def test_a_single_beat_that_wraps_is_not_raised_but_counted() -> None:
    found = judge(Spectrum(peak_cm_s=150.0, ms_per_px=5.0, missing_beats=(0, 1, 3, 4)))["spectrum_wrap"]
    assert found.value == pytest.approx(1 / 5)
    assert "in 1 of 5 beats" in found.reason


def test_two_of_five_beats_that_wrap_are_raised() -> None:
    found = judge(Spectrum(peak_cm_s=150.0, ms_per_px=5.0, missing_beats=(0, 1, 3)))["spectrum_wrap"]
    assert found.value == pytest.approx(2 / 5)
    assert found.verdict is not Verdict.MET


def test_the_sweep_is_told_from_the_r_waves_beside_the_strip() -> None:
    """A still has no heart rate; its ECG has."""
    found = judge(Spectrum(r_at_ms=350.0), beat_ms=None)["spectrum_sweep"]
    told = judge(Spectrum())["spectrum_sweep"]
    assert found.value == pytest.approx(told.value, rel=0.03)
