"""The outer edge of drawn spectra: broken, faint, bloomed."""

from __future__ import annotations

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


def test_an_empty_strip_says_so() -> None:
    found = _judge(Spectrum(peak_cm_s=0.0))
    assert {f.reason for f in found.values()} == {"no signal stands out from the noise"}
    assert set(found) == KEYS
