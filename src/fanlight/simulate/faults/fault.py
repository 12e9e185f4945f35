"""A fault made on purpose: what it is called, how strong each of its five grades is, and what it changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.clip_setting import ClipSetting

STRENGTHS = (1, 2, 3, 4, 5)


class FaultGroup(StrEnum):
    """Where a fault is made."""

    POSE = "pose"
    CONSOLE = "console"
    CONTACT = "contact"
    M_MODE = "M-mode"
    RECORD = "record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of one clip, with everything that was drawn for it; truth as it is stored."""

    key: str
    strength: int  # 1 just there, 3 plain, 5 gross; 0 none
    amount: float  # in `unit`
    unit: str
    parameters: tuple[tuple[str, float], ...] = ()  # by name, the unit is in the name

    def parameter(self, name: str) -> float:
        """Return one of the parameters that were drawn.

        Raises
        ------
        KeyError
            If the fault has no such parameter.
        """
        return dict(self.parameters)[name]


Change = Callable[[ClipSetting, Animal, Fault], ClipSetting]
Draw = Callable[[np.random.Generator], dict[str, float]]
Fits = Callable[[ClipSetting], bool]


def either_sign(rng: np.random.Generator) -> dict[str, float]:
    """Draw the sense of a fault that may go either way: its parameter ``sign``."""
    return {"sign": float(rng.choice((-1.0, 1.0)))}


def _nothing(_: np.random.Generator) -> dict[str, float]:
    return {}


def _always(_: ClipSetting) -> bool:
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultKind:
    """A kind of fault and its five grades."""

    key: str
    title: str
    group: FaultGroup
    knob: str  # what was wrongly set: a clip holds at most one fault of a knob
    unit: str
    steps: tuple[float, float, float, float, float]
    why: str  # of the sizes
    change: Change = field(repr=False)
    draw: Draw = field(default=_nothing, repr=False)
    fits: Fits = field(default=_always, repr=False)
    grows_with_body: bool = False  # the steps hold at REFERENCE_WEIGHT_KG

    def __post_init__(self) -> None:
        size = [abs(step) for step in self.steps]
        if size != sorted(size) and size != sorted(size, reverse=True):
            raise ValueError(f"fault {self.key}: the grades must rise or fall, got {self.steps}")

    def make(self, strength: int, animal: Animal, rng: np.random.Generator) -> Fault:
        """Draw a fault of this kind.

        Parameters
        ----------
        strength : int
            1 to 5; 0 makes a fault that changes nothing.
        animal : Animal
            Its weight scales what is a length.
        rng : Generator
            Chooses what the grade leaves open, such as which slider or which side.

        Raises
        ------
        ValueError
            If the strength is not 0 to 5.
        """
        if strength not in (0, *STRENGTHS):
            raise ValueError(f"strength is 0 to 5, got {strength}")
        drawn = self.draw(rng)
        amount = self.steps[strength - 1] if strength else 0.0
        if self.grows_with_body:
            amount *= body_scale(animal)
        return Fault(
            key=self.key, strength=strength, amount=amount, unit=self.unit, parameters=tuple(sorted(drawn.items()))
        )
