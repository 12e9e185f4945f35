"""An animal as the machine sees it: a heart that moves, in a chest that keeps still while the breath does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fanlight.heart.animal import Animal
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.sampled import Sampled
from fanlight.heart.thorax import Thorax, chest_labels, heart_shift_mm, sample_thorax
from fanlight.simulate.machine.scene import Scene

Array = Any


def scene_of(animal: Animal) -> Scene:
    """Return the scene before a probe on this animal."""
    frame = animal.anatomy.frame
    turn = tuple(zip(frame.long, frame.front, frame.depth, strict=True))  # rows: patient x, y, z

    def moving(state: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        shift = heart_shift_mm(animal.thorax, state.breath)
        heart = sample_heart(animal.anatomy, state, x - float(shift[0]), y - float(shift[1]), z - float(shift[2]))
        a, b, c = heart.material_mm
        # turned into the patient's directions, so that the speckle's grain lies as the probe's pose has it
        material = tuple(float(row[0]) * a + float(row[1]) * b + float(row[2]) * c for row in turn)
        return Sampled(tissue=heart.tissue, edge_mm=heart.edge_mm, material_mm=material)

    return Scene(moving=moving, still=BareChest(thorax=animal.thorax))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BareChest:
    """A chest with nothing put in the way; it can also be asked for many moments of the breath at once."""

    thorax: Thorax

    def __call__(self, breath: float, x: Array, y: Array, z: Array) -> Sampled:
        """Return what lies at points; see `Scene`."""
        return sample_thorax(self.thorax, breath, x, y, z)

    def labels(self, breaths: Sequence[float], x: Array, y: Array, z: Array) -> Array:
        """Return the tissue alone at m moments of the breath, (m, n) for NumPy points (n,)."""
        return chest_labels(self.thorax, breaths, x, y, z)
