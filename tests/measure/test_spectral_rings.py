"""Rings by tissue Doppler from drawn spectra: what is given, and what is refused as it is for inflow."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.study import Mode, Valve
from tests.measure.drawn_spectra import Drawing, Waves, case_of, half_sines

ONSETS_MS = (150, 800, 1450)
R_MS = tuple(onset - 250 for onset in (*ONSETS_MS, 2100, 2750))
S_CM_S, E_CM_S, A_CM_S = 9.0, 8.0, 6.0
PARTS = ("s", "e", "a")


def waves(*, turned: bool = False, early: float = E_CM_S, late_ms: float = 230, late: float = A_CM_S) -> list[Waves]:
    """Return S', E' and A' of some beats."""
    way = -1 if turned else 1
    return [
        half_sines(way * S_CM_S, 180, [onset - 200 for onset in (*ONSETS_MS, 2100)]),
        half_sines(-way * early, 110, ONSETS_MS),
        half_sines(-way * late, 90, [onset + late_ms for onset in ONSETS_MS]),
    ]


def measured(
    drawing_waves: list[Waves], r_times_ms: tuple[float, ...] | None = R_MS, **settings: Any
) -> dict[str, Any]:
    """Return S', E' and A' of a drawn ring by their letter."""
    drawing = Drawing(
        waves=drawing_waves, **({"scale_cm_s": 16, "span_ms": 2300, "least_band_cm_s": 0.4} | settings)
    )  # fmt: skip
    case = case_of(drawing, Valve.MITRAL, Signal.ANNULUS, Mode.TISSUE_DOPPLER, r_times_ms)
    return {item.name.rsplit("_", 1)[1]: item for item in measure_spectrum(case)}


def test_a_ring_that_runs_the_wrong_way_has_no_value():
    """A display that is turned over shows S' away from the probe: E' would pass for S'."""
    found = measured(waves(turned=True))

    for part in PARTS:
        assert found[part].value is None
        assert "perhaps the display is turned over" in found[part].reason


def test_a_late_wave_that_rides_on_the_early_one_has_no_value():
    """Where the valley between both lies high, A' is too high, as A is: here at 68 % of the lower wave (formula)."""
    found = measured(waves(late_ms=65, late=7.0))

    assert found["e"].value == pytest.approx(E_CM_S, rel=0.1)
    assert found["a"].value is None
    assert "rides on E" in found["a"].reason


@pytest.mark.parametrize("s_cm_s", [3.5, 5.0, 9.0])
def test_slow_and_fast_rings_are_read_alike(s_cm_s: float):
    """A wall's band is as broad as one over the piece of signal behind a column, however fast it is (identity).

    Here all moves alike; a gate's fastest wall lies 6 % above the middle that is read (ring A), 3 % are the speckle's.
    """
    drawn = [half_sines(s_cm_s, 180, [onset - 200 for onset in (*ONSETS_MS, 2100)]), *waves()[1:]]

    found = measured(drawn, least_band_cm_s=0.9)

    assert found["s"].value == pytest.approx(1.06 * s_cm_s, rel=0.03)


def test_a_leaflet_that_swings_through_the_gate_is_no_wall():
    """A' that is over within a column's length is a leaflet's; 36 ms of a half sine lie 24 ms above its half (2/3)."""
    found = measured([*waves()[:2], half_sines(-12.0, 36, [onset + 260 for onset in ONSETS_MS])])

    assert found["e"].value == pytest.approx(E_CM_S, rel=0.12)
    assert found["a"].value is None
    assert "as a leaflet swings and no wall does: put the gate on the wall" in found["a"].reason


def test_a_peak_under_a_click_has_no_value():
    """A click over each peak of E' hides how fast it is, and the reason says so."""
    found = measured(waves(), clicks_ms=[onset + off for onset in ONSETS_MS for off in range(28, 84, 5)])

    assert found["e"].value is None
    assert "click" in found["e"].reason


def test_a_ring_that_wraps_is_not_read_as_slow():
    """E' and A' faster than the scale come back at the other end: what remains of them is no value."""
    found = measured(waves(early=30.0, late=28.0), scale_cm_s=11.0, wraps=True)

    assert found["e"].value is None
    assert found["a"].value is None
    assert found["e"].reason == "the ring passes the end of the scale: a higher scale is needed"


@pytest.mark.parametrize("parts", ["s", "ea"])
def test_a_ring_just_beyond_its_scale_is_not_led_on(parts: str):
    """What passes the end by a tenth has room at the other end, where blood is led on; a ring is refused (the page)."""
    speeds = {"s": 9.0, "e": 8.0, "a": 7.5} | dict.fromkeys(parts, 12.1)
    drawn = [
        half_sines(speeds["s"], 180, [onset - 200 for onset in (*ONSETS_MS, 2100)]),
        half_sines(-speeds["e"], 110, ONSETS_MS),
        half_sines(-speeds["a"], 90, [onset + 230 for onset in ONSETS_MS]),
    ]

    found = measured(drawn, scale_cm_s=11.0, wraps=True)

    for part in parts:
        assert found[part].value is None
        assert found[part].reason == "the ring passes the end of the scale: a higher scale is needed"


def test_an_irregular_rhythm_is_named():
    """A ring's values say what their rhythm asks of a mean, as all others do."""
    r_ms = (-100, 550, 1200, 1500, 2150, 2800)

    found = measured(waves(), r_times_ms=r_ms)

    assert "an irregular rhythm" in found["s"].reason


def test_without_an_ecg_one_wave_a_beat_is_not_told():
    """Turned over and without R waves, the wave that is alone in its beat may be S': nothing is given."""
    found = measured(waves(turned=True), r_times_ms=None)

    assert [found[part].value for part in PARTS] == [None] * 3
