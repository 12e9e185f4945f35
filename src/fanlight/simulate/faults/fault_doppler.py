"""A Doppler fault made on purpose: its name, how strong each grade is, which rungs it fits, what it changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.doppler_setting import DopplerClip
from fanlight.simulate.faults.fault import STRENGTHS, Draw, Fault
from fanlight.simulate.steady.doppler_aim import ModelFlow
from fanlight.study import Mode

Change = Callable[[DopplerClip, ModelFlow, Fault], DopplerClip]
Fits = Callable[[DopplerClip], bool]

COLOUR = frozenset({Mode.COLOUR})
GATED = frozenset({Mode.PULSED_WAVE, Mode.TISSUE_DOPPLER})
PULSED = frozenset({Mode.PULSED_WAVE})
BLOOD = frozenset({Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE})
SPECTRA = GATED | BLOOD


class DopplerGroup(StrEnum):
    """Where a Doppler fault is made."""

    COLOUR = "colour Doppler"
    SPECTRUM = "spectral Doppler"


def draws_nothing(_: np.random.Generator) -> dict[str, float]:
    """Draw nothing: the grade settles all."""
    return {}


def fits_always(_: DopplerClip) -> bool:
    """Whether a fault fits, beyond its rungs: it does."""
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerFaultKind:
    """A kind of Doppler fault and its five grades; as `fault.FaultKind`, for a Doppler clip."""

    key: str
    title: str
    group: DopplerGroup
    knob: str  # what was wrongly set: a clip holds at most one fault of a knob
    modes: frozenset[Mode]  # rungs that it fits
    unit: str
    steps: tuple[float, float, float, float, float]
    why: str  # of the sizes
    change: Change = field(repr=False)
    draw: Draw = field(default=draws_nothing, repr=False)
    fits_clip: Fits = field(default=fits_always, repr=False)
    grows_with_body: bool = False  # the steps hold at 10 kg

    def __post_init__(self) -> None:
        size = [abs(step) for step in self.steps]
        if size != sorted(size) and size != sorted(size, reverse=True):
            raise ValueError(f"fault {self.key}: the grades must rise or fall, got {self.steps}")

    def fits(self, clip: DopplerClip) -> bool:
        """Whether this clip can have the fault."""
        return clip.doppler.mode in self.modes and self.fits_clip(clip)

    def make(self, strength: int, animal: Animal, rng: np.random.Generator) -> Fault:
        """Draw a fault of this kind; errors and strengths as for `fault.FaultKind.make`."""
        if strength not in (0, *STRENGTHS):
            raise ValueError(f"strength is 0 to 5, got {strength}")
        drawn = self.draw(rng)
        amount = self.steps[strength - 1] if strength else 0.0
        if self.grows_with_body:
            amount *= body_scale(animal)
        return Fault(
            key=self.key, strength=strength, amount=amount, unit=self.unit, parameters=tuple(sorted(drawn.items()))
        )
