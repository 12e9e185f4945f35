"""Imaging modes, and what was decided about one clip."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Mode(StrEnum):
    """What a still or clip is made of."""

    TWO_D = "two_d"
    COLOUR = "colour"
    POWER = "power"
    PULSED_WAVE = "pulsed_wave"
    CONTINUOUS_WAVE = "continuous_wave"
    TISSUE_DOPPLER = "tissue_doppler"
    M_MODE = "m_mode"
    DUAL = "dual"
    NO_CONTACT = "no_contact"  # the probe looks into air: only reverberation near the face
    NOT_ECHO = "not_echo"  # a report page, a photograph, an empty screen

    @property
    def is_moving_picture(self) -> bool:
        """Whether the criteria for a two-dimensional picture apply."""
        return self in (Mode.TWO_D, Mode.COLOUR, Mode.POWER)


SPECTRA = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)
_LEAST_OF_A_SPECTRUM = 0.6  # house default, as for the mode itself

MODE_WORDS: dict[Mode, str] = {
    Mode.TWO_D: "2-D",
    Mode.COLOUR: "colour Doppler",
    Mode.POWER: "power Doppler",
    Mode.PULSED_WAVE: "pulsed-wave Doppler",
    Mode.CONTINUOUS_WAVE: "continuous-wave Doppler",
    Mode.TISSUE_DOPPLER: "tissue Doppler",
    Mode.M_MODE: "M-mode",
    Mode.DUAL: "two pictures side by side",
    Mode.NO_CONTACT: "no patient contact",
    Mode.NOT_ECHO: "not an ultrasound picture",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeReading:
    """The mode of a clip, how sure, and why. ``mode`` is None when it is not sure."""

    mode: Mode | None
    probability: float  # of `mode`; of the likeliest mode where `mode` is None
    reasons: tuple[str, ...]
    per_mode: tuple[tuple[Mode, float], ...] = ()  # likeliest first, adds up to 1

    @property
    def is_spectrum(self) -> bool:
        """Whether it is surely a spectrum, also where pulsed, continuous and tissue Doppler are not told apart."""
        if self.mode is not None:
            return self.mode in SPECTRA
        return sum(share for mode, share in self.per_mode if mode in SPECTRA) >= _LEAST_OF_A_SPECTRUM


def named_mode(mode: Mode) -> ModeReading:
    """Return the reading of a clip whose mode a person named: sure, and by nothing else."""
    return ModeReading(mode=mode, probability=1.0, reasons=("named by hand",), per_mode=((mode, 1.0),))
