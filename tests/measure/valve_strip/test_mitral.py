"""E-point to septal separation: what was drawn, and reasons where a strip shows no leaflet that opens."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.measure.valve_strip import measure_mitral
from fanlight.study import Measurement
from tests.measure.valve_strip.drawn_mitral import Valve, strip_of
from tests.validity.meaning.told import explained, given, study_of

TARGET_MM = 0.6  # half of a pulse of 0.2 mm to either side of two borders, and the pixels


def _read(valve: Valve, **changes: float) -> tuple[Measurement, Measurement]:
    epss, a_point = measure_mitral(strip_of(valve, **changes)).measurements  # type: ignore[arg-type]
    return epss, a_point


@pytest.mark.parametrize("gain_db", [-6.0, 0.0, 6.0])
@pytest.mark.parametrize("e_mm", [3.0, 5.0, 8.0])
def test_both_points_are_read_as_drawn(e_mm: float, gain_db: float) -> None:
    """Whatever the gain: leading edge to leading edge, over the three whole beats."""
    epss, a_point = _read(Valve(e_mm=e_mm), gain_db=gain_db)

    assert epss.value == pytest.approx(e_mm, abs=TARGET_MM)
    assert a_point.value == pytest.approx(8.0, abs=TARGET_MM)
    assert epss.uncertainty is not None
    assert abs(epss.value - e_mm) < 2 * epss.uncertainty  # type: ignore[operator]
    assert "mean of beats 1, 2, 3 of 3" in epss.method


def test_a_thicker_leaflet_reads_the_same() -> None:
    """WHIPPET2023, table 1: from leading edge to leading edge, so that what lies behind the edge does not count."""
    thin, _ = _read(Valve(leaflet_mm=0.6))
    thick, _ = _read(Valve(leaflet_mm=1.8))
    assert thin.value == pytest.approx(thick.value, abs=0.2)


@pytest.mark.parametrize(("e_mm", "agrees"), [(4.0, True), (8.0, False)])
def test_a_reading_is_held_against_the_published_limit(e_mm: float, agrees: bool) -> None:
    """WARE6, table 2.1: in dogs EPSS is up to 6 mm and FS 25 to 47 %. What is read speaks as what is reported does."""
    epss, _ = _read(Valve(e_mm=e_mm))
    meaning = explained(study_of(given("fractional_shortening", 33.0, "%")), replace(epss, clip="a.dcm"))
    assert any(item.kind == "discordance" for item in meaning.remarks) is not agrees


def test_a_leaflet_that_does_not_open_has_no_e_point() -> None:
    epss, a_point = _read(Valve(opens=False))
    assert (epss.value, a_point.value) == (None, None)
    assert "no clear E point" in epss.reason


def test_a_leaflet_on_the_septum_is_not_told_from_it() -> None:
    """Nearer than two pulses there is no blood between the echoes: no number rather than that of another moment."""
    epss, _ = _read(Valve(e_mm=0.5))
    assert epss.value is None
    assert "no blood is seen between septum and leaflet" in epss.reason


def test_without_r_waves_the_parts_of_a_beat_are_not_told() -> None:
    epss, _ = measure_mitral(strip_of(Valve(), with_ecg=False)).measurements
    assert epss.value is None
    assert "store it with its ECG" in epss.reason


def test_an_ectopic_beat_and_the_next_are_left_out() -> None:
    """Its leaflet opens as well, but after another filling (common practice, no source)."""
    epss, _ = _read(Valve(starts_ms=(20.0, 370.0, 570.0, 1010.0, 1360.0, 1700.0)))
    assert "beat 3 left out: it comes early, and a pause follows: ectopic" in epss.method
    assert "beat 4 left out: it follows an ectopic beat" in epss.method


def test_e_and_a_in_one_are_said_to_be_one() -> None:
    """Fast hearts fill in one wave: no A point, and no number in its place."""
    epss, a_point = _read(Valve(a_mm=11.0, rest_mm=10.9))
    assert epss.value is not None
    assert a_point.value is None
    assert a_point.reason == "E and A are not apart"
