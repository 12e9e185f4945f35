"""Whose flow a spectrum is, as far as words tell: the valve that is named, or the only one that its view carries."""

from __future__ import annotations

from fanlight.reference.views import read_views
from fanlight.study import House, Mode, Rung, Valve, ViewReading

_RUNGS = {
    Mode.PULSED_WAVE: Rung.PULSED_WAVE,
    Mode.CONTINUOUS_WAVE: Rung.CONTINUOUS_WAVE,
    Mode.TISSUE_DOPPLER: Rung.PULSED_WAVE,  # taken where pulsed wave is
}


def flow_valve(view: ViewReading, mode: Mode | None, house: House) -> Valve | None:
    """Return the valve that is named, else the only one whose flow the view carries in this mode; None: not known.

    Parameters
    ----------
    view : ViewReading
        By tags, words or marks.
    mode : Mode or None
        Of the clip; only spectra are told.
    house : House
        Table "views".
    """
    if view.valve is not None or mode not in _RUNGS:
        return view.valve
    carried = read_views(house).get(view.view)
    if carried is None:
        return None
    valves = carried.valves_at(_RUNGS[mode])
    return valves[0] if len(valves) == 1 else None
