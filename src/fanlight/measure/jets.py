"""Which velocities and gradients are of jets: of several the highest counts, since a beam that misses reads too low."""

from __future__ import annotations

from fanlight.measure.doppler.outflow import JET_FROM_M_S

_LEAKS = ("mr", "tr", "ar", "pr")
_OUTFLOWS = ("aortic", "pulmonary")
_JET_FROM_MMHG = 4 * JET_FROM_M_S**2  # the same limit, by the simplified Bernoulli equation


def is_jet(key: str, highest: float) -> bool:
    """Return whether a quantity is of a jet: of a leak always, of an outflow from 2 m/s on (BOXERAS2006).

    Parameters
    ----------
    key : str
        Of the quantity.
    highest : float
        The highest value that was found, m/s or mmHg.
    """
    valve, _, what = key.partition("_")
    if valve in _LEAKS:
        return what in ("vmax", "peak_gradient")
    least = {"vmax": JET_FROM_M_S, "peak_gradient": _JET_FROM_MMHG}.get(what)
    return valve in _OUTFLOWS and least is not None and highest >= least
