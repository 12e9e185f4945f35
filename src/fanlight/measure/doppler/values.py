"""All values of one spectrum, by what flow it is of."""

from __future__ import annotations

from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.measure.doppler.inflow import inflow_values
from fanlight.measure.doppler.jet import jet_values
from fanlight.measure.doppler.outflow import outflow_values
from fanlight.measure.doppler.read import ReadSpectrum, read_spectrum
from fanlight.measure.doppler.relaxation import relaxation_value
from fanlight.measure.doppler.tissue import tissue_values
from fanlight.measure.doppler.valued import Asked, refused
from fanlight.study import Measurement

_WHOLE = Asked(name="spectrum", label="Spectrum", unit="")


def measure_spectrum(case: SpectrumCase) -> tuple[Measurement, ...]:
    """Return what a spectrum measures, each value with its uncertainty or the reason why there is none.

    Parameters
    ----------
    case : SpectrumCase
        The picture, its axes and what is told of it.

    Returns
    -------
    tuple of Measurement
        Uncertainty is one standard deviation: of calibration, row, edge and beats together. What the angle of the beam
        hides is not in it: it has one side, and the reason says so.
    """
    read = read_spectrum(case)
    if isinstance(read, str):
        return (refused(case, _WHOLE, read),)
    return _values(read)


def _values(read: ReadSpectrum) -> tuple[Measurement, ...]:
    signal = read.case.signal
    if signal is Signal.ANNULUS:
        return tissue_values(read)
    if signal is Signal.LEAK:
        return jet_values(read)
    found = inflow_values(read) if read.case.is_inflow else outflow_values(read)
    rest = relaxation_value(read)
    return found if rest is None else (*found, rest)
