"""Outflow and jets from drawn spectra whose formulas are known."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.reference.formulas.flow import half_sine_integral_cm, half_sine_mean_gradient_mmhg
from fanlight.study import Measurement, Mode, Valve
from tests.measure.drawn_spectra import Drawing, case_of, half_sines

ONSETS_MS = (100, 600, 1100, 1600)
R_MS = (60, 560, 1060, 1560, 2060)
PEAK_CM_S, LENGTH_MS = 120.0, 180.0
# Targets of the project for clean envelopes, 3 % of a peak velocity, 5 % of an integral, with half a percent for
# the rows of the drawing; a gradient goes with the square.
VELOCITY_SHARE, INTEGRAL_SHARE, GRADIENT_SHARE = 0.035, 0.05, 0.08


def by_name(found: tuple[Measurement, ...]) -> dict[str, Any]:
    """Return them by name; `Any`, since a value that is None where one is expected fails the test anyway."""
    return {item.name: item for item in found}


def ejection(**changes: object) -> Drawing:
    settings: dict[str, object] = {"waves": [half_sines(-PEAK_CM_S, LENGTH_MS, ONSETS_MS)]}
    return Drawing(**(settings | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize("gain_db", [-6.0, 0.0, 6.0])
def test_half_sine_gives_its_formulas_at_any_gain(gain_db):
    """Peak, integral 2·V·T/π, mean gradient 2·V² and times hold from -6 to +6 dB (identity; norms: 13.75 cm, 2.88)."""
    case = case_of(ejection(gain_db=gain_db), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)

    found = by_name(measure_spectrum(case))

    assert found["aortic_vmax"].value == pytest.approx(1.2, rel=VELOCITY_SHARE)
    assert found["aortic_vti"].value == pytest.approx(half_sine_integral_cm(1.2, LENGTH_MS), rel=INTEGRAL_SHARE)
    mean = found["aortic_mean_gradient"].value
    assert mean == pytest.approx(half_sine_mean_gradient_mmhg(1.2), rel=GRADIENT_SHARE)
    assert found["aortic_peak_gradient"].value == pytest.approx(4 * 1.2**2, rel=GRADIENT_SHARE)
    assert found["aortic_ejection_time"].value == pytest.approx(LENGTH_MS, abs=10)
    assert found["aortic_acceleration_time"].value == pytest.approx(LENGTH_MS / 2, abs=10)


def test_mean_gradient_is_not_that_of_the_mean_velocity():
    """The mean of 4·v² lies well above 4 times the square of the mean velocity: by π²/8 for half a sine (identity)."""
    case = case_of(ejection(), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)

    found = by_name(measure_spectrum(case))

    mean_m_s = 10 * found["aortic_vti"].value / found["aortic_ejection_time"].value
    assert found["aortic_mean_gradient"].value > 1.15 * 4 * mean_m_s**2


def test_truth_lies_within_the_stated_uncertainty():
    """Of drawings with other speckle the true peak lies within 1.96 standard deviations, and they are no loose ones."""
    for seed in range(4):
        case = case_of(ejection(seed=seed), Valve.PULMONIC, Signal.FORWARD, r_times_ms=R_MS)
        vmax = by_name(measure_spectrum(case))["pulmonary_vmax"]

        assert abs(vmax.value - 1.2) < 1.96 * vmax.uncertainty
        assert vmax.uncertainty < 0.05 * vmax.value


def test_clicks_of_a_valve_change_nothing():
    """A click from end to end, as the valve opens and shuts, leaves the peak where it is."""
    clicks = [onset + at for onset in ONSETS_MS for at in (-4.0, LENGTH_MS - 4)]
    plain = case_of(ejection(), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)
    clicked = case_of(ejection(clicks_ms=clicks), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)

    one, other = (by_name(measure_spectrum(case)) for case in (plain, clicked))

    assert other["aortic_vmax"].value == pytest.approx(one["aortic_vmax"].value, rel=0.02)


def test_beats_are_found_without_an_ecg():
    """Without R waves the envelope's own rhythm tells the beats."""
    found = by_name(measure_spectrum(case_of(ejection(), Valve.AORTIC, Signal.FORWARD)))

    assert found["aortic_vmax"].value == pytest.approx(1.2, rel=VELOCITY_SHARE)
    assert "mean of 4 beats" in found["aortic_vmax"].reason


def test_ectopic_beat_and_the_next_are_left_out():
    """A beat that comes early and ejects little, and the one after it, do not enter the mean."""
    onsets = (100, 600, 1100, 1400, 2100, 2600)
    waves = [
        half_sines(-PEAK_CM_S, LENGTH_MS, (100, 600, 1100, 2600)), half_sines(-70, 120, (1400,)),
        half_sines(-150, LENGTH_MS, (2100,)),
    ]  # fmt: skip
    drawing = Drawing(waves=waves, span_ms=3200)
    r_ms = [onset - 40 for onset in onsets] + [3060]

    found = by_name(measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, r_times_ms=r_ms)))

    assert found["aortic_vmax"].value == pytest.approx(1.2, rel=VELOCITY_SHARE)
    assert "irregular beats left out" in found["aortic_vmax"].reason


@pytest.mark.parametrize(
    ("peak_m_s", "gradient_mmhg"),
    [
        pytest.param(5.3, 112, id="UCDCASES case 4, subaortic stenosis"),
        pytest.param(6.5, 169, id="WARE6 figure 2.17, subaortic stenosis"),
    ],
)
def test_jet_of_a_stenosis_has_the_published_gradient(peak_m_s, gradient_mmhg):
    """A jet drawn as fast as a published case has its gradient, within what 3 % of the velocity make of it."""
    drawing = Drawing(
        waves=[half_sines(-100 * peak_m_s, 200, ONSETS_MS)], scale_cm_s=500, above_share=0.2, is_filled=True
    )

    case = case_of(drawing, Valve.AORTIC, Signal.FORWARD, Mode.CONTINUOUS_WAVE, R_MS)
    found = by_name(measure_spectrum(case))

    assert found["aortic_peak_gradient"].value == pytest.approx(gradient_mmhg, rel=GRADIENT_SHARE)
    assert "highest of" in found["aortic_vmax"].reason


def test_lower_beats_do_not_pull_the_mean_gradient_of_a_jet_down():
    """Of a half sine 4·v² is half of its peak on average (identity): 50 mmHg at 5 m/s, and 63.7 cm in 200 ms."""
    waves = [half_sines(-500, 200, (100, 1100)), half_sines(-380, 200, (600, 1600))]
    drawing = Drawing(waves=waves, scale_cm_s=600, above_share=0.2, is_filled=True)

    case = case_of(drawing, Valve.AORTIC, Signal.FORWARD, Mode.CONTINUOUS_WAVE, R_MS)
    found = by_name(measure_spectrum(case))

    assert found["aortic_peak_gradient"].value == pytest.approx(100, rel=GRADIENT_SHARE)
    assert found["aortic_mean_gradient"].value == pytest.approx(50, rel=GRADIENT_SHARE)
    assert found["aortic_vti"].value == pytest.approx(63.7, rel=0.05)


@pytest.mark.parametrize(
    ("valve", "name", "peak_m_s", "gradient_mmhg"),
    [
        pytest.param(Valve.MITRAL, "mr", 4.50, 81, id="UCDCASES case 9, mitral"),
        pytest.param(Valve.TRICUSPID, "tr", 3.69, 54, id="UCDCASES case 9, tricuspid"),
        pytest.param(Valve.TRICUSPID, "tr", 3.0, 36, id="limit of a study of pulmonary hypertension"),
    ],
)
def test_leak_takes_the_highest_envelope(valve, name, peak_m_s, gradient_mmhg):
    """Lower beats, at a worse angle, do not pull a jet's speed down."""
    waves = [half_sines(-100 * peak_m_s, 250, (100, 1100)), half_sines(-85 * peak_m_s, 250, (600, 1600))]
    drawing = Drawing(waves=waves, scale_cm_s=350, above_share=0.2, is_filled=True)

    found = by_name(measure_spectrum(case_of(drawing, valve, Signal.LEAK, Mode.CONTINUOUS_WAVE, R_MS)))

    assert found[f"{name}_vmax"].value == pytest.approx(peak_m_s, rel=VELOCITY_SHARE)
    assert found[f"{name}_peak_gradient"].value == pytest.approx(gradient_mmhg, rel=GRADIENT_SHARE)


def test_envelope_that_leaves_the_strip_is_at_least():
    """A jet that runs out of a continuous wave's strip has no value; the reason says how fast it is at least."""
    drawing = Drawing(waves=[half_sines(-450, 250, ONSETS_MS)], scale_cm_s=200, above_share=0.2, is_filled=True)

    found = by_name(
        measure_spectrum(case_of(drawing, Valve.MITRAL, Signal.LEAK, Mode.CONTINUOUS_WAVE, r_times_ms=R_MS))
    )

    assert found["mr_vmax"].value is None
    assert "the envelope is open: at least 3." in found["mr_vmax"].reason


def test_wrapped_peak_is_read_within_one_span():
    """A pulsed signal that leaves its side is led on at the other end, as if the baseline were moved."""
    drawing = ejection(scale_cm_s=90.0, wraps=True)

    found = by_name(measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["aortic_vmax"].value == pytest.approx(1.2, rel=VELOCITY_SHARE)
    assert "unwrapped within one span" in found["aortic_vmax"].reason


def test_signal_beyond_one_span_has_no_value():
    """Faster than twice the Nyquist velocity, no place on the strip tells the speed."""
    drawing = ejection(scale_cm_s=55.0, wraps=True)

    found = by_name(measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["aortic_vmax"].value is None
    assert found["aortic_vmax"].reason == "aliased: continuous wave needed"


def test_empty_strip_says_so():
    """A strip without signal gives a reason and no number."""
    drawing = ejection(gain_db=-30.0)

    found = measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS))

    assert [item.value for item in found] == [None]
    assert found[0].reason == "no signal stands out from the ground of the strip"


def test_slow_signal_is_not_taken_for_flow():
    """What moves as slowly as walls do is not the flow of a valve."""
    drawing = Drawing(waves=[half_sines(-14, 180, ONSETS_MS)], scale_cm_s=40)

    found = by_name(measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["aortic_vmax"].value is None
    assert "may be walls" in found["aortic_vmax"].reason


def test_an_open_envelope_above_the_whole_ones_is_the_flow():
    """One beat of 4.4 m/s that runs out of the strip beside beats of 3.0: no number, but how fast it is at least."""
    slow, fast = half_sines(-300.0, LENGTH_MS, ONSETS_MS[1:]), half_sines(-440.0, LENGTH_MS, ONSETS_MS[:1])
    settings = {"scale_cm_s": 400.0, "is_filled": True}
    mixed, alone = (
        by_name(
            measure_spectrum(
                case_of(
                    ejection(waves=waves, **settings), Valve.AORTIC, Signal.FORWARD, Mode.CONTINUOUS_WAVE,
                    r_times_ms=R_MS,
                )
            )
        )
        for waves in ([slow, fast], [slow])
    )  # fmt: skip

    assert alone["aortic_vmax"].value == pytest.approx(3.0, rel=0.05)
    assert mixed["aortic_vmax"].value is None
    assert "at least 3." in mixed["aortic_vmax"].reason
    assert mixed["aortic_vti"].value is None


def test_a_gradient_is_twice_as_unsure_as_its_velocity():
    """4·v²: the relative standard deviation doubles (JCGM 100:2008, 5.1.2)."""
    drawing = ejection(waves=[half_sines(-300.0, LENGTH_MS, ONSETS_MS)], scale_cm_s=400.0, is_filled=True)
    case = case_of(drawing, Valve.AORTIC, Signal.FORWARD, Mode.CONTINUOUS_WAVE, r_times_ms=R_MS)
    found = by_name(measure_spectrum(case))

    speed, gradient = found["aortic_vmax"], found["aortic_peak_gradient"]
    assert gradient.uncertainty / gradient.value == pytest.approx(2 * speed.uncertainty / speed.value)


def test_an_edge_that_fades_is_not_called_aliased():
    """What is too faint above 95 cm/s on a scale of 200 does not wrap: continuous wave would not mend it."""
    case = case_of(ejection(fades_above_cm_s=95.0), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)
    found = by_name(measure_spectrum(case))["aortic_vmax"]

    assert found.value is None
    assert "aliased" not in found.reason


def test_modal_integral_follows_the_brightest_line():
    """A band about the velocity has its mode there: 2·V·T/π of half a sine, where the outer edge lies further out."""
    case = case_of(ejection(), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)

    found = by_name(measure_spectrum(case))["aortic_modal_vti"]

    assert found.value == pytest.approx(half_sine_integral_cm(1.2, LENGTH_MS), rel=INTEGRAL_SHARE)
    assert found.unit == "cm"


def test_modal_integral_lies_within_a_broad_band():
    """Of a band four times as broad the outer edge runs far above its middle, and the modal line does not."""
    waves = [half_sines(-share * PEAK_CM_S, LENGTH_MS, ONSETS_MS) for share in (1.0, 1.0, 1.0, 0.9, 1.1, 1.2)]

    found = by_name(measure_spectrum(case_of(ejection(waves=waves), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)))

    assert found["aortic_modal_vti"].value == pytest.approx(half_sine_integral_cm(1.2, LENGTH_MS), rel=0.06)
    assert found["aortic_vti"].value > 1.08 * found["aortic_modal_vti"].value


def test_a_whole_line_has_no_modal_velocity():
    """Continuous wave hears all velocities along its line at once."""
    drawing = ejection(is_filled=True)
    found = by_name(
        measure_spectrum(case_of(drawing, Valve.AORTIC, Signal.FORWARD, Mode.CONTINUOUS_WAVE, r_times_ms=R_MS))
    )

    assert found["aortic_modal_vti"].value is None
    assert "hears the whole line" in found["aortic_modal_vti"].reason


def test_weak_beats_are_told_by_what_was_seen():
    """A beat of half the speed is left out; its cause is not seen, so it is named as a possible one only."""
    waves = [half_sines(-PEAK_CM_S, LENGTH_MS, (100, 600, 1600)), half_sines(-0.6 * PEAK_CM_S, LENGTH_MS, (1100,))]

    found = by_name(measure_spectrum(case_of(ejection(waves=waves), Valve.AORTIC, Signal.FORWARD, r_times_ms=R_MS)))

    assert "1 beat left out that reaches less than 70 % of the fastest: perhaps breath" in found["aortic_vmax"].reason
