"""What a Doppler still or clip is made of, beside the setting of its view: which valve, which flow, which machine."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.heart.blood.circulation import Circulation
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.unsteady_probe import Unsteady
from fanlight.simulate.colour.colour_setting import ColourSetting
from fanlight.simulate.spectral.spectral_setting import SPECTRAL_MODES, SpectralSetting
from fanlight.study import Mode, Valve

# A spectrum that comes so near to the end of its scale counts as wrapped: the ladder's rule (engineering judgement).
WRAPS_FROM_SHARE = 0.95


class Sought(StrEnum):
    """What the hand looks for at a valve."""

    FORWARD = "forward flow"
    LEAK = "leak"
    ANNULUS = "movement of the annulus"


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerSetting:
    """One rung of the ladder at one valve, as the console is set for it.

    Raises
    ------
    ValueError
        If the mode and its machine do not fit each other.
    """

    valve: Valve
    sought: Sought
    signal_valve: Valve  # whose flow box, gate or cursor lies on: another than `valve` is a wrong signal
    machine: ColourSetting | SpectralSetting
    has_guide: bool = True  # spectra: the picture stands beside the strip
    unsteady: Unsteady | None = None  # what the probe does while this is recorded

    @property
    def mode(self) -> Mode:
        """Colour, pulsed wave, continuous wave or tissue Doppler."""
        return Mode.COLOUR if isinstance(self.machine, ColourSetting) else self.machine.mode

    @property
    def colour(self) -> ColourSetting:
        """Settings of colour; ValueError for a spectrum."""
        if not isinstance(self.machine, ColourSetting):
            raise ValueError(f"a clip of {self.mode} has no colour box")
        return self.machine

    @property
    def spectral(self) -> SpectralSetting:
        """Settings of a spectrum; ValueError for colour."""
        if not isinstance(self.machine, SpectralSetting):
            raise ValueError("a colour clip has no gate")
        return self.machine

    @property
    def is_spectral(self) -> bool:
        """Whether this is a spectrum."""
        return self.mode in SPECTRAL_MODES


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerClip:
    """A Doppler still or clip before it is made."""

    clip: ClipSetting  # pose, probe, console, contact and recording
    doppler: DopplerSetting


def leaks(circulation: Circulation, valve: Valve, *, trace_counts: bool = False) -> bool:
    """Whether a valve leaks; a short whiff behind the leaflets counts only on request."""
    leak = {Valve.MITRAL: circulation.mitral_leak, Valve.TRICUSPID: circulation.tricuspid_leak}.get(valve)
    return leak is not None and (trace_counts or not leak.is_trace)


def has_jet(circulation: Circulation, valve: Valve) -> bool:
    """Whether colour shows a jet at a valve for longer than some frames: a leak, or a narrow way out."""
    narrow = {Valve.AORTIC: circulation.subaortic, Valve.PULMONIC: circulation.pulmonic}.get(valve)
    return narrow is not None or leaks(circulation, valve)


def sought_at(circulation: Circulation, valve: Valve, mode: Mode) -> Sought:
    """Return what is looked for: a leak where there is one in colour and continuous wave, forward flow in a gate."""
    if mode is Mode.TISSUE_DOPPLER:
        return Sought.ANNULUS
    if mode is Mode.PULSED_WAVE:
        return Sought.FORWARD
    return Sought.LEAK if leaks(circulation, valve, trace_counts=mode is Mode.COLOUR) else Sought.FORWARD


def room_cm_s(spectral: SpectralSetting, sign: float) -> float:
    """Return the highest velocity that the display has room for, towards the probe (`sign` above 0) or away from it."""
    above = 1 - spectral.baseline_fraction if spectral.is_inverted else spectral.baseline_fraction
    return 2 * spectral.scale_cm_s * (above if sign > 0 else 1 - above)


def wraps(spectral: SpectralSetting, along_cm_s: float) -> bool:
    """Whether a velocity, towards the probe positive, runs out of the display."""
    return abs(along_cm_s) >= WRAPS_FROM_SHARE * room_cm_s(spectral, along_cm_s)
