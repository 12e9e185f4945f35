"""What slicing the animal yields at each point: tissue, distance to its border, and the speckle's own coordinates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Array = Any  # an array of the array API standard: NumPy, PyTorch, array-api-strict


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """Tissue at points of the patient frame. All arrays have the shape of the points.

    `material_mm` is where the tissue at this point lies in its own resting shape: it moves with the tissue, so that a
    random field looked up there makes speckle that follows the heart.
    """

    tissue: Array  # uint8, see tissue.Tissue
    edge_mm: Array  # float32, distance to the border of this tissue: 0 at it, growing inwards; right near borders only
    material_mm: tuple[Array, Array, Array]  # float32 each
