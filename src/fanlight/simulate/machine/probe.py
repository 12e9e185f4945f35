"""The transducers of the simulated machine: what their arrays are and what they can send."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

SPEED_MM_S = 1.54e6  # mean speed of sound in soft tissue, 1540 m/s: the value every console assumes


class ArrayKind(StrEnum):
    """How the elements lie and how the beam is swept."""

    PHASED = "phased"  # flat and small, all elements fire for each line, the beam is steered: lines meet at the face
    CURVED = "curved"  # on an arc, a group of elements fires straight ahead: lines meet behind the face


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """An array and its lens.

    Raises
    ------
    ValueError
        If a size is not above 0, the range of frequencies is empty, or a flat array is given a radius.
    """

    name: str
    kind: ArrayKind
    aperture_mm: float  # along the image plane, elements that fire together
    elevation_mm: float  # across the image plane
    elevation_focus_mm: float  # of the fixed lens
    low_mhz: float
    high_mhz: float
    radius_mm: float = 0.0  # of a curved face
    footprint_mm: float = 0.0  # arc of a curved face; 0: the aperture is the face
    pulse_cycles: float = 2.0  # of the transmitted pulse, -6 dB: a short imaging pulse

    def __post_init__(self) -> None:
        sizes = (self.aperture_mm, self.elevation_mm, self.elevation_focus_mm, self.low_mhz, self.pulse_cycles)
        if min(sizes) <= 0 or self.radius_mm < 0 or self.footprint_mm < 0:
            raise ValueError(f"probe {self.name!r}: sizes, frequencies and cycles must lie above 0")
        if self.low_mhz >= self.high_mhz:
            raise ValueError(f"probe {self.name!r}: {self.low_mhz} to {self.high_mhz} MHz is not a range")
        if (self.kind is ArrayKind.CURVED) != (self.radius_mm > 0):
            raise ValueError(f"probe {self.name!r}: a curved array needs a radius above 0, a phased one has none")

    @property
    def face_mm(self) -> float:
        """Length of the face that must touch the skin."""
        return self.footprint_mm or self.aperture_mm

    @property
    def widest_deg(self) -> float:
        """Largest opening angle of the picture."""
        if self.kind is ArrayKind.CURVED:
            return math.degrees(self.face_mm / self.radius_mm)
        return 100.0  # element directivity of a half-wavelength pitch; engineering judgement


def wavelength_mm(frequency_mhz: float) -> float:
    """Return the wavelength in soft tissue."""
    return SPEED_MM_S / (frequency_mhz * 1e6)


# Invented, by class of size: the published range of equipment for dogs and cats is 2.5 to 7.5 MHz with a small face
# for small patients; higher for cats and toy breeds is common practice, no source. Apertures: what yields 1 to 3 mm of
# lateral resolution at the heart (engineering judgement).
PROBES: dict[str, Probe] = {
    probe.name: probe
    for probe in (
        Probe(
            name="phased small", kind=ArrayKind.PHASED, aperture_mm=10.0, elevation_mm=6.0, elevation_focus_mm=35.0,
            low_mhz=5.0, high_mhz=12.0,
        ),
        Probe(
            name="phased medium", kind=ArrayKind.PHASED, aperture_mm=14.0, elevation_mm=9.0, elevation_focus_mm=55.0,
            low_mhz=3.0, high_mhz=8.0,
        ),
        Probe(
            name="phased large", kind=ArrayKind.PHASED, aperture_mm=19.0, elevation_mm=13.0, elevation_focus_mm=80.0,
            low_mhz=1.5, high_mhz=5.0,
        ),
        Probe(
            name="curved small", kind=ArrayKind.CURVED, aperture_mm=10.0, elevation_mm=6.0, elevation_focus_mm=40.0,
            low_mhz=4.0, high_mhz=10.0, radius_mm=13.0, footprint_mm=20.0,
        ),
        Probe(
            name="curved large", kind=ArrayKind.CURVED, aperture_mm=22.0, elevation_mm=12.0, elevation_focus_mm=75.0,
            low_mhz=2.0, high_mhz=6.0, radius_mm=50.0, footprint_mm=58.0,
        ),
    )
}  # fmt: skip


def default_probe(weight_kg: float) -> Probe:
    """Return the phased array that suits an animal of this weight.

    The limits of 8 and 28 kg are common practice, no source.
    """
    if weight_kg < 8:
        return PROBES["phased small"]
    return PROBES["phased medium"] if weight_kg < 28 else PROBES["phased large"]
