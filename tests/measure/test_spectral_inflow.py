"""Inflow, rings and the pause between outflow and inflow from drawn spectra whose formulas are known."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.study import Measurement, Mode, Valve
from tests.measure.drawn_spectra import Drawing, case_of, half_sines, triangles

ONSETS_MS = (150, 800, 1450)
RR_MS = 650
R_MS = tuple(onset - 250 for onset in (*ONSETS_MS, 2100, 2750))
E_CM_S, A_CM_S = 74.7, 48.7  # PEREIRA2009, group means of 40 dogs: E:A 1.534


def by_name(found: tuple[Measurement, ...]) -> dict[str, Any]:
    """Return them by name; `Any`, since a value that is None where one is expected fails the test anyway."""
    return {item.name: item for item in found}


def filling(rise_ms: float = 60, fall_ms: float = 90, late_ms: float = 260) -> Drawing:
    late = [onset + late_ms for onset in ONSETS_MS]
    return Drawing(
        waves=[triangles(E_CM_S, rise_ms, fall_ms, ONSETS_MS), triangles(A_CM_S, 45, 45, late)], scale_cm_s=100,
        span_ms=2300,
    )  # fmt: skip


def test_triangles_give_their_formulas():
    """E, A and E:A of PEREIRA2009, and a fall of E that was drawn to last 90 ms."""
    found = by_name(measure_spectrum(case_of(filling(), Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["mitral_e"].value == pytest.approx(0.747, rel=0.035)
    assert found["mitral_a"].value == pytest.approx(0.487, rel=0.05)
    assert found["mitral_e_a"].value == pytest.approx(1.534, rel=0.04)
    assert found["mitral_e_deceleration_time"].value == pytest.approx(90, rel=0.08)
    assert found["mitral_a_duration"].value == pytest.approx(90, abs=15)


def test_fall_that_a_cuts_is_drawn_on():
    """A begins while E still falls: its slope above the valley is drawn on to the baseline."""
    drawing = filling(fall_ms=140, late_ms=150)

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["mitral_e_deceleration_time"].value == pytest.approx(140, rel=0.12)


def test_a_beat_without_its_e_does_not_lower_the_mean():
    """Of the third beat the beam shows a third of E (formula): it is left out of E and E:A, and said; A counts."""
    late = [onset + 260 for onset in ONSETS_MS]
    weak = triangles(0.35 * E_CM_S, 60, 90, ONSETS_MS[2:])
    drawing = Drawing(
        waves=[triangles(E_CM_S, 60, 90, ONSETS_MS[:2]), weak, triangles(A_CM_S, 45, 45, late)], scale_cm_s=100,
        span_ms=2300,
    )  # fmt: skip

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["mitral_e"].value == pytest.approx(E_CM_S / 100, rel=0.035)
    assert "1 beat left out that reaches less than 70 % of the fastest" in found["mitral_e"].reason
    assert found["mitral_e_a"].value == pytest.approx(E_CM_S / A_CM_S, rel=0.04)
    assert "left out" not in found["mitral_a"].reason


def test_a_single_beat_of_the_right_heart_says_how_much_breath_changes_it():
    """Inflow of the right heart changes with each breath: average several beats (common practice, no source)."""
    share: dict[tuple[Valve, int], float] = {}
    for valve in (Valve.MITRAL, Valve.TRICUSPID):
        for n in (1, 2):  # whole beats: the last wave that is drawn only ends the beat before
            onsets = ONSETS_MS[: n + 1]
            waves = [triangles(E_CM_S, 60, 90, onsets), triangles(A_CM_S, 45, 45, [onset + 260 for onset in onsets])]
            case = case_of(
                Drawing(waves=waves, scale_cm_s=100, span_ms=2300), valve, Signal.FORWARD, r_times_ms=R_MS
            )  # fmt: skip
            found = by_name(measure_spectrum(case))[f"{valve.value}_e"]
            share[valve, n] = found.uncertainty / found.value

    assert share[Valve.TRICUSPID, 1] > 0.15 > 2 * share[Valve.MITRAL, 1]
    # of two beats alike half of what is known beforehand is left, s² = k² / 2, and of their mean a quarter
    expected = (share[Valve.MITRAL, 2] ** 2 + 0.15**2 / 4) ** 0.5
    assert share[Valve.TRICUSPID, 2] == pytest.approx(expected, abs=0.015)


def test_fused_waves_have_no_ratio():
    """One wave at a rate at which both are one gives neither E nor A, and says so."""
    onsets = tuple(range(100, 2200, 300))
    drawing = Drawing(waves=[half_sines(90, 120, onsets)], scale_cm_s=120, span_ms=2300)
    r_ms = [onset - 140 for onset in onsets]

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=r_ms)))

    for name in ("mitral_e", "mitral_a", "mitral_e_a"):
        assert found[name].value is None
        assert "E and A are fused" in found[name].reason


def test_a_that_rides_on_e_spoils_a_but_not_e():
    """Where the valley lies high, E stands, and A and E:A are refused."""
    drawing = filling(fall_ms=160, late_ms=125)

    found = by_name(measure_spectrum(case_of(drawing, Valve.TRICUSPID, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["tricuspid_e"].value == pytest.approx(0.747, rel=0.05)
    assert found["tricuspid_e_a"].value is None
    assert "rides on E" in found["tricuspid_e_a"].reason


def test_slow_rhythm_without_ecg_is_not_guessed():
    """Below 100 a minute the pauses do not tell E from A: no value without an ECG."""
    found = by_name(measure_spectrum(case_of(filling(), Valve.MITRAL, Signal.FORWARD)))

    assert found["mitral_e"].value is None
    assert "there is no ECG" in found["mitral_e"].reason


def test_ring_gives_its_three_waves():
    """S' towards the probe, E' and A' away from it, by tissue Doppler."""
    waves = [
        half_sines(9, 180, [onset - 200 for onset in (*ONSETS_MS, 2100)]), half_sines(-8, 110, ONSETS_MS),
        half_sines(-6, 90, [onset + 230 for onset in ONSETS_MS]),
    ]  # fmt: skip
    drawing = Drawing(waves=waves, scale_cm_s=16, span_ms=2300, least_band_cm_s=0.4)
    case = case_of(drawing, Valve.MITRAL, Signal.ANNULUS, Mode.TISSUE_DOPPLER, R_MS)

    found = by_name(measure_spectrum(case))

    for part, truth in (("s", 9), ("e", 8), ("a", 6)):
        item = found[f"mitral_annulus_{part}"]
        assert item.unit == "cm/s"
        assert item.value == pytest.approx(truth, abs=1.96 * item.uncertainty)


def test_pause_between_outflow_and_inflow():
    """Outflow that ends 60 ms before inflow begins gives an isovolumic relaxation of 60 ms."""
    waves = [
        half_sines(-90, 150, [onset - 210 for onset in (*ONSETS_MS[1:], 2100)]),
        triangles(E_CM_S, 60, 90, ONSETS_MS),
    ]
    drawing = Drawing(waves=waves, scale_cm_s=130, span_ms=2300)

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["ivrt"].value == pytest.approx(60, abs=10)
    assert found["ivrt"].unit == "ms"


@pytest.mark.parametrize(
    ("out_cm_s", "scale_cm_s", "mode", "reason"),
    [
        pytest.param(45, 130, Mode.PULSED_WAVE, "slower than 60 cm/s", id="less than outflow, perhaps before a leak"),
        pytest.param(420, 600, Mode.CONTINUOUS_WAVE, "faster than 2.5 m/s", id="a jet of 71 mmHg (4 v²)"),
        pytest.param(420, 600, Mode.CONTINUOUS_WAVE, "narrowed or obstructed is not told from", id="a stenosis"),
    ],
)
def test_what_may_be_a_leak_ends_no_outflow(out_cm_s: float, scale_cm_s: float, mode: Mode, reason: str):
    """A leak of the mitral valve and the blood that gathers before it run on until the valve opens (physiology)."""
    waves = [
        half_sines(-out_cm_s, 150, [onset - 210 for onset in (*ONSETS_MS[1:], 2100)]),
        triangles(E_CM_S, 60, 90, ONSETS_MS),
    ]
    drawing = Drawing(waves=waves, scale_cm_s=scale_cm_s, span_ms=2300)

    found = by_name(measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, mode, r_times_ms=R_MS)))

    assert found["ivrt"].value is None
    assert reason in found["ivrt"].reason
    assert found["ivrt"].reason.endswith("put the gate or the line between outflow tract and mitral valve")


def test_pause_is_not_asked_of_the_right_heart():
    """Isovolumic relaxation is a value of the left heart."""
    found = by_name(measure_spectrum(case_of(filling(), Valve.TRICUSPID, Signal.FORWARD, r_times_ms=R_MS)))

    assert "ivrt" not in found


def test_a_lone_wave_just_before_the_r_wave_is_late_filling():
    """At 92 a minute E and A are apart (norms: below about 125): what beats before R alone is A, and no E is given."""
    waves = [triangles(A_CM_S, 45, 45, [r - 120 for r in R_MS[1:]])]
    drawing = Drawing(waves=waves, scale_cm_s=100, span_ms=2300)

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["mitral_e"].value is None
    assert found["mitral_e_deceleration_time"].value is None
    assert found["mitral_a"].value == pytest.approx(0.487, rel=0.05)


def test_a_wave_that_lasts_until_the_inflow_gives_no_relaxation_time():
    """A leak of the mitral valve runs away as outflow does, and lasts until the valve opens (physiology)."""
    leak = half_sines(-90, 240, [r + 5 for r in R_MS])
    inflow = triangles(E_CM_S, 60, 90, [r + 255 for r in R_MS])
    drawing = Drawing(waves=[leak, inflow], scale_cm_s=120, span_ms=2300)

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["ivrt"].value is None
    assert "it may be a leak" in found["ivrt"].reason


def test_missed_r_waves_make_no_ratio_of_two_beats():
    """At 214 a minute E and A are one wave (common practice, no source); an ECG that misses some R waves shows two
    such waves in one interval, and they are no E and A.
    """
    onsets = tuple(range(100, 2200, 280))
    drawing = Drawing(waves=[half_sines(90, 120, onsets)], scale_cm_s=120, span_ms=2300)
    beats = [onset - 140 for onset in onsets]
    r_ms = [beats[k] for k in (1, 3, 5, 6, 7)]

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=r_ms)))

    assert found["mitral_e"].value is None
    assert found["mitral_e_a"].value is None
    assert "E and A are fused" in found["mitral_e"].reason


def test_filling_half_a_beat_apart_is_no_missed_r_wave():
    """E and A of like height, half a beat apart in each beat, repeat twice a beat: the steady R waves stand."""
    late = [onset + 325 for onset in ONSETS_MS]
    drawing = Drawing(
        waves=[triangles(70, 60, 60, ONSETS_MS), triangles(65, 60, 60, late)], scale_cm_s=100, span_ms=2300
    )  # fmt: skip

    found = by_name(measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["mitral_e_a"].value == pytest.approx(70 / 65, rel=0.05)
