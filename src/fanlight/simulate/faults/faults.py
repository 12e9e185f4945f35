"""All kinds of faults, and how one is put onto a clip's setting."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.faults.fault import STRENGTHS, Fault, FaultGroup, FaultKind
from fanlight.simulate.faults.fault_console import CONSOLE_FAULTS
from fanlight.simulate.faults.fault_contact import CONTACT_FAULTS
from fanlight.simulate.faults.fault_m_mode import M_MODE_FAULTS
from fanlight.simulate.faults.fault_pose import POSE_FAULTS
from fanlight.simulate.faults.fault_record import RECORD_FAULTS

__all__ = ["FAULTS", "STRENGTHS", "Fault", "FaultGroup", "FaultKind", "UnknownFaultError", "apply", "fitting", "make"]

FAULTS: dict[str, FaultKind] = {
    kind.key: kind for kind in (*POSE_FAULTS, *CONSOLE_FAULTS, *CONTACT_FAULTS, *M_MODE_FAULTS, *RECORD_FAULTS)
}


class UnknownFaultError(ValueError):
    """A fault was asked for that does not exist."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(f"fault {key!r} does not exist; there are {', '.join(FAULTS)}")


def kind_of(key: str) -> FaultKind:
    """Return a kind of fault by its key.

    Raises
    ------
    UnknownFaultError
        If there is none.
    """
    try:
        return FAULTS[key]
    except KeyError:
        raise UnknownFaultError(key) from None


def make(key: str, strength: int, animal: Animal, rng: np.random.Generator) -> Fault:
    """Draw a fault: its amount from the grade and the animal's size, what the grade leaves open from `rng`."""
    return kind_of(key).make(strength, animal, rng)


def apply(fault: Fault, setting: ClipSetting, animal: Animal) -> ClipSetting:
    """Return the setting with the fault in it. The same fault on the same setting gives the same: nothing is drawn.

    Raises
    ------
    UnknownFaultError
        If the fault is of no known kind.
    ValueError
        If it does not fit the clip, such as a cursor on a 2-D picture.
    """
    kind = kind_of(fault.key)
    if not kind.fits(setting):
        raise ValueError(f"fault {fault.key} does not fit a {setting.mode} clip of the view {setting.view}")
    return kind.change(setting, animal, fault) if fault.strength else setting


def fitting(setting: ClipSetting, taken: Iterable[str] = ()) -> tuple[FaultKind, ...]:
    """Return the kinds of faults that this clip can have, leaving out knobs that are turned already."""
    knobs = set(taken)
    return tuple(kind for kind in FAULTS.values() if kind.fits(setting) and kind.knob not in knobs)
