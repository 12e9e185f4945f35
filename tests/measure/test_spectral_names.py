"""Each value that a spectrum gives or refuses has a row among the quantities, in its unit."""

from __future__ import annotations

import pytest

from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.stroke import TRACTS
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.reference.load import load_house
from fanlight.reference.quantities import read_quantities
from fanlight.reference.validity import read_standings
from fanlight.study import Mode, Valve
from tests.measure.drawn_spectra import Drawing, case_of, half_sines

R_MS = (60, 460)
DRAWING = Drawing(waves=[half_sines(-120, 180, (100,))], span_ms=500, rows=120)
WAYS = [(Mode.PULSED_WAVE, Signal.FORWARD), (Mode.CONTINUOUS_WAVE, Signal.LEAK), (Mode.TISSUE_DOPPLER, Signal.ANNULUS)]


@pytest.mark.parametrize(("mode", "signal"), WAYS)
def test_reports_know_how_to_write_each_value(mode: Mode, signal: Signal) -> None:
    quantities = read_quantities(load_house())
    valves = (Valve.MITRAL, Valve.TRICUSPID) if mode is Mode.TISSUE_DOPPLER else tuple(Valve)

    for valve in valves:
        for item in measure_spectrum(case_of(DRAWING, valve, signal, mode, R_MS)):
            assert item.name in quantities, item.label
            assert quantities[item.name].unit == item.unit


@pytest.mark.parametrize(("mode", "signal"), WAYS)
def test_each_value_says_what_it_stands_on(mode: Mode, signal: Signal) -> None:
    standings = read_standings(load_house())
    valves = (Valve.MITRAL, Valve.TRICUSPID) if mode is Mode.TISSUE_DOPPLER else tuple(Valve)

    names = {item.name for valve in valves for item in measure_spectrum(case_of(DRAWING, valve, signal, mode, R_MS))}
    for name in {*names, *(tract.name for tract in TRACTS)}:
        assert any(row.fits(name) for row in standings), name


def test_annuli_and_volumes_have_rows() -> None:
    quantities = read_quantities(load_house())

    for tract in TRACTS:
        assert quantities[tract.name].unit == "mL"
        assert quantities[tract.diameter].unit == "mm"
        assert tract.annulus == quantities[tract.diameter].symbol
