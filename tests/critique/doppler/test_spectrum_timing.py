"""When drawn spectra run against the valve they are said to be of, and how near they come to their limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.critique.doppler.spectrum_flow import systole_of
from fanlight.critique.doppler.spectrum_timing import FAMILY
from fanlight.reference.criteria import read_family
from fanlight.study import Mode, Patient, Species, Valve, Verdict
from tests.critique.doppler.colour_clips import HOUSE
from tests.critique.doppler.spectra import DOG, Spectrum, judge

WRONG, LIMIT = "spectrum_wrong_signal", "spectrum_at_limit"
INFLOW = Spectrum(ms_per_px=5.0, r_at_ms=390.0)  # early wave 210 ms after R, late wave before the next
OUTFLOW = Spectrum(ms_per_px=5.0, r_at_ms=560.0)  # early wave 40 ms after R


@pytest.mark.parametrize(
    ("drawn", "valve", "verdict"),
    [
        (INFLOW, Valve.MITRAL, Verdict.MET),
        (INFLOW, Valve.TRICUSPID, Verdict.MET),
        (OUTFLOW, Valve.MITRAL, Verdict.MISSED),
        (INFLOW, Valve.AORTIC, Verdict.MISSED),
        (INFLOW, Valve.PULMONIC, Verdict.MISSED),
    ],
)
def test_pulsed_wave_in_the_wrong_half_of_the_beat(drawn: Spectrum, valve: Valve, verdict: Verdict) -> None:
    assert judge(drawn, family=FAMILY, valve=valve)[WRONG].verdict is verdict


@pytest.mark.parametrize(
    ("drawn", "valve", "patient", "words"),
    [
        (INFLOW, None, DOG, "the valve is not known"),
        (replace(INFLOW, r_at_ms=None), Valve.MITRAL, DOG, "no ECG was found"),
        (INFLOW, Valve.MITRAL, Patient(), "the species is not known"),
        (replace(INFLOW, peak_cm_s=160.0), Valve.MITRAL, DOG, "the scale is passed"),
    ],
)
def test_what_is_missing_is_said(drawn: Spectrum, valve: Valve | None, patient: Patient, words: str) -> None:
    found = judge(drawn, family=FAMILY, valve=valve, patient=patient)[WRONG]
    assert found.verdict is Verdict.NOT_ASSESSABLE
    assert words in found.reason


def test_systole_of_a_resting_dog_ends_between_ejection_and_filling() -> None:
    """54 ms before ejection and 159 ms of it (from memory), then 80 ms of relaxation (Pereira and others 2009)."""
    end = systole_of(read_family(HOUSE, FAMILY.name)[WRONG], Species.DOG, 60_000 / 110).end_ms
    assert 54 + 159 < end < 54 + 159 + 80


# The ladder's rule: from 0.95 of either end of the scale on, continuous wave is expected (engineering judgement).
@pytest.mark.parametrize(
    ("peak_cm_s", "verdict"),
    [
        (80.0, Verdict.MET),
        (100.0, Verdict.MET),
        (119.0, Verdict.MISSED),
        (150.0, Verdict.MISSED),
        (400.0, Verdict.MISSED),
    ],
)
def test_limit_of_pulsed_wave(peak_cm_s: float, verdict: Verdict) -> None:
    assert judge(Spectrum(peak_cm_s=peak_cm_s), family=FAMILY)[LIMIT].verdict is verdict


@pytest.mark.parametrize("mode", [Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER])
def test_only_pulsed_wave_of_blood_has_its_limit(mode: Mode) -> None:
    assert judge(Spectrum(peak_cm_s=150.0), mode, family=FAMILY)[LIMIT].verdict is Verdict.NOT_ASSESSABLE


def test_pictures_are_not_asked() -> None:
    assert judge(Spectrum(), Mode.TWO_D, family=FAMILY) == {}
