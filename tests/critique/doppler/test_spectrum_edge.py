"""The outer edge of drawn spectra: broken, faint, bloomed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.spectrum_edge import FAMILY
from fanlight.reference.criteria import read_family
from fanlight.study import Finding, Mode, Side, Verdict
from tests.critique.doppler.colour_clips import HOUSE
from tests.critique.doppler.spectra import Spectrum, judge

KEYS = set(read_family(HOUSE, FAMILY.name))
LONG = 5.0  # ms a pixel: five beats on the strip


def _judge(drawn: Spectrum, mode: Mode = Mode.PULSED_WAVE, beat_ms: float | None = 600.0) -> dict[str, Finding]:
    return judge(drawn, mode, family=FAMILY, beat_ms=beat_ms)


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE])
def test_a_good_edge_raises_nothing(mode: Mode) -> None:
    found = _judge(Spectrum(ms_per_px=LONG), mode)
    assert {key: f.verdict for key, f in found.items()} == dict.fromkeys(KEYS, Verdict.MET)


@pytest.mark.parametrize(
    ("drawn", "key", "side"),
    [
        (Spectrum(ms_per_px=LONG, missing_beats=(1, 3)), "spectrum_open_edge", Side.LOW),
        (Spectrum(ms_per_px=LONG, level=45.0, grain=30.0), "spectrum_faint", Side.LOW),
        (Spectrum(ms_per_px=LONG, level=246.0, grain=9.0), "spectrum_blooming", Side.HIGH),
    ],
)
def test_each_fault_is_seen(drawn: Spectrum, key: str, side: Side) -> None:
    found = _judge(drawn)
    assert (found[key].verdict, found[key].side) == (Verdict.MISSED, side)


def test_whole_beats_are_counted_as_drawn() -> None:
    found = _judge(Spectrum(ms_per_px=LONG, missing_beats=(2,)))["spectrum_open_edge"]
    assert found.value == pytest.approx(4 / 5)
    assert "whole in 4 of 5 beats" in found.reason


def test_without_a_heart_rate_beats_are_not_told_apart() -> None:
    found = _judge(Spectrum(ms_per_px=LONG), beat_ms=None)["spectrum_open_edge"]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "heart rate is not known" in found.reason


def test_an_ecg_beside_the_strip_gives_the_beat() -> None:
    """600 ms between drawn R waves, as between drawn beats."""
    found = _judge(Spectrum(ms_per_px=LONG, r_at_ms=400.0, missing_beats=(2,)), beat_ms=None)["spectrum_open_edge"]
    assert found.value == pytest.approx(4 / 5)


def test_two_beats_are_too_few() -> None:
    assert "too few" in _judge(Spectrum())["spectrum_open_edge"].reason


def test_bloom_is_not_asked_of_tissue() -> None:
    found = _judge(Spectrum(ms_per_px=LONG, level=246.0, grain=9.0), Mode.TISSUE_DOPPLER)["spectrum_blooming"]
    assert found.verdict is Verdict.NOT_ASSESSABLE


def test_an_empty_strip_with_noise_leaves_all_open() -> None:
    found = _judge(Spectrum(peak_cm_s=0.0, noise=0.05))
    assert {f.reason for f in found.values()} == {"no signal stands out from the noise"}
    assert set(found) == KEYS


def test_a_strip_without_signal_and_noise_is_faint() -> None:
    """The noise of a receiver is always there (physics): where not even that shows, the gain is too low."""
    found = _judge(Spectrum(peak_cm_s=0.0))
    assert found["spectrum_faint"].verdict is Verdict.MISSED
    assert "neither signal nor noise" in found["spectrum_faint"].reason
    assert found["spectrum_open_edge"].verdict is Verdict.NOT_ASSESSABLE
    assert set(found) == KEYS


def test_noise_that_shows_says_that_the_gain_is_not_low() -> None:
    """Gain is well set when noise just shows (common practice, no source)."""
    dark = Spectrum(ms_per_px=LONG, level=85.0, grain=30.0)
    quiet = _judge(dark)["spectrum_faint"]
    noisy = _judge(replace(dark, noise=0.02))["spectrum_faint"]
    assert (quiet.verdict, noisy.verdict) == (Verdict.BORDERLINE, Verdict.MET)
    assert "no noise shows" in quiet.reason


@pytest.mark.parametrize("floor", [0.0, 40.0])
def test_a_beat_that_keeps_its_height_and_loses_its_light_is_not_whole(floor: float) -> None:
    """A beam that leaves the flow dims it before the envelope falls."""
    found = _judge(Spectrum(ms_per_px=LONG, dim_beats=(1, 3), dim_level=55.0 + floor / 4))["spectrum_open_edge"]
    assert found.value == pytest.approx(3 / 5)


def test_one_weak_beat_of_few_is_left_open() -> None:
    found = _judge(Spectrum(ms_per_px=3.0, missing_beats=(1,)))["spectrum_open_edge"]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert "one of 3 beats is weaker" in found.reason


def test_beats_of_several_lengths_are_told_apart_by_their_r_waves() -> None:
    """In calm dogs the rate follows the breath (physiology): a stretch of usual length may hold no beat at all."""
    found = _judge(Spectrum(ms_per_px=10.0, r_at_ms=450.0, pause_ms=900.0))["spectrum_open_edge"]
    assert found.verdict is Verdict.MET


def test_clicks_at_the_peak_do_not_hide_the_beat() -> None:
    """A click fills a tenth of a beat; the light of the rest still tells whether its signal is whole."""
    found = _judge(Spectrum(ms_per_px=LONG, clicks_ms=20.0, missing_beats=(1, 3)))["spectrum_open_edge"]
    assert found.value == pytest.approx(3 / 5)
