"""Criteria of spectra on drawn strips with one fault each."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.critique.doppler.spectrum_columns import passed_columns
from fanlight.critique.doppler.spectrum_use import FAMILY
from fanlight.frames.doppler.spectrum import SpectralAxes, SpectralReach
from fanlight.reference.criteria import read_family
from fanlight.study import Box, Mode, Side, Verdict
from tests.critique.doppler.colour_clips import HOUSE
from tests.critique.doppler.spectra import Spectrum, judge

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
        (Spectrum(noise=0.5), "spectrum_noise", Side.HIGH),
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


def test_an_empty_strip_is_not_judged_but_its_guide_is() -> None:
    found = judge(Spectrum(peak_cm_s=0.0))
    assert found["spectrum_guide"].verdict is Verdict.MET
    assert found["spectrum_height"].reason == "no signal stands out from the noise"


def test_an_unknown_heart_rate_leaves_the_sweep_open() -> None:
    assert judge(Spectrum(), beat_ms=None)["spectrum_sweep"].reason == "the heart rate is not known"


def test_other_modes_are_not_asked() -> None:
    assert judge(Spectrum(), Mode.TWO_D) == {}


def test_what_comes_back_on_the_smaller_side_may_be_cut_off() -> None:
    """The scale is set for the flow that is sought; what flows the other way has little room (common practice)."""
    axes = SpectralAxes(
        box=Box(row0=0, col0=0, row1=100, col1=200), baseline_row_px=80.0, cm_s_per_px=1.0, ms_per_px=2.0,
        is_inverted=False,
    )  # fmt: skip
    columns = np.arange(axes.box.width_px) % 50 < 25
    none = np.zeros(axes.box.width_px)
    signal = np.zeros((axes.box.height_px, axes.box.width_px), np.bool_)
    back = np.where(columns, axes.below_px, 0.0)
    sought = np.where(columns, 0.6 * axes.above_px, 0.0)

    def passed(up: NDArray[np.float64], down: NDArray[np.float64]) -> float:
        reach = SpectralReach(
            up_px=up, down_px=down, foot_up_px=none, foot_down_px=none, signal=signal, quiet_level=0.0
        )
        return float(passed_columns(reach, axes).mean())

    assert passed(sought, back) == 0.0
    assert passed(none, back) == pytest.approx(columns.mean())  # the baseline leaves the flow itself no room
    assert passed(np.where(columns, axes.above_px, 0.0), back) == pytest.approx(columns.mean())


def test_the_sweep_is_told_from_the_r_waves_beside_the_strip() -> None:
    """A still has no heart rate; its ECG has."""
    found = judge(Spectrum(r_at_ms=350.0), beat_ms=None)["spectrum_sweep"]
    told = judge(Spectrum())["spectrum_sweep"]
    assert found.value == pytest.approx(told.value, rel=0.03)
