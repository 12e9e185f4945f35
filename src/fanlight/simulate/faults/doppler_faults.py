"""All kinds of Doppler faults, and how one is put onto a Doppler clip."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.fault_breath import BREATH_FAULTS
from fanlight.simulate.faults.fault_colour import COLOUR_FAULTS
from fanlight.simulate.faults.fault_doppler import DopplerFaultKind
from fanlight.simulate.faults.fault_spectrum import SPECTRUM_FAULTS
from fanlight.simulate.faults.faults import UnknownFaultError
from fanlight.simulate.steady.doppler_aim import ModelFlow

__all__ = ["DOPPLER_FAULTS", "apply_doppler", "doppler_kind", "fitting_doppler"]

DOPPLER_FAULTS: dict[str, DopplerFaultKind] = {
    kind.key: kind for kind in (*COLOUR_FAULTS, *SPECTRUM_FAULTS, *BREATH_FAULTS)
}


def doppler_kind(key: str) -> DopplerFaultKind:
    """Return a kind of Doppler fault by its key.

    Raises
    ------
    UnknownFaultError
        If there is none.
    """
    try:
        return DOPPLER_FAULTS[key]
    except KeyError:
        raise UnknownFaultError(key) from None


def apply_doppler(fault: Fault, clip: DopplerClip, flow: ModelFlow) -> DopplerClip:
    """Return the clip with the fault in it. The same fault on the same clip gives the same: nothing is drawn.

    Raises
    ------
    UnknownFaultError
        If the fault is of no known kind.
    ValueError
        If it does not fit the clip, or the picture has no room for it.
    """
    kind = doppler_kind(fault.key)
    if not kind.fits(clip):
        raise ValueError(f"fault {fault.key} does not fit {clip.doppler.mode} of the {clip.doppler.valve} valve")
    return kind.change(clip, flow, fault) if fault.strength else clip


def fitting_doppler(clip: DopplerClip, taken: Iterable[str] = ()) -> tuple[DopplerFaultKind, ...]:
    """Return the kinds of Doppler faults that this clip can have, leaving out knobs that are turned already."""
    knobs = set(taken)
    return tuple(kind for kind in DOPPLER_FAULTS.values() if kind.fits(clip) and kind.knob not in knobs)
