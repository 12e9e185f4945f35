"""What a probe can see: tissue along straight lines from the face, up to the first lung, bone or air."""

from __future__ import annotations

import numpy as np

from fanlight.heart.animal import Animal, animal_landmarks, sample
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.heart.thorax import REST
from fanlight.heart.tissue import Tissue
from fanlight.simulate.steady.steady import PLAIN_WIDTH_DEG, WIDTHS_DEG
from fanlight.study import Landmark

HALF_SECTOR_DEG = 45.0
LINES, STEPS = 71, 90  # of the widest sector
# Lung and bone end the picture; so does the outside (a face that does not lie on skin).
BLOCKING = [Tissue.LUNG, Tissue.RIB, Tissue.STERNUM, Tissue.OUTSIDE]
LENGTH_MM = 60.0  # left ventricle of a 10 kg dog, apex to mitral valve
DEPTH_MM = {"right": 92.0, "left_apical": 118.0, "left_cranial": 96.0, "subcostal": 155.0}  # at 10 kg


def half_sector_deg(view: str) -> float:
    """Return half of the width at which a steady hand takes a view."""
    return WIDTHS_DEG.get(view, PLAIN_WIDTH_DEG) / 2


def depth_mm(animal: Animal, view: str) -> float:
    """Return how deep the picture of a view goes on this animal: to the far side of the heart."""
    at_10_kg = next(depth for start, depth in DEPTH_MM.items() if view.startswith(start))
    return at_10_kg * animal.thorax.scale_ratio


class Polar:
    """Tissue on (depth, line) of a sector, which of it is seen, and where each sample lies in the picture."""

    def __init__(
        self, animal: Animal, pose: Pose, depth: float, state: CycleState = REST, half_deg: float = HALF_SECTOR_DEG
    ) -> None:
        angles = np.radians(np.linspace(-half_deg, half_deg, round(LINES * half_deg / HALF_SECTOR_DEG)))
        # 0.3 mm: the face is pressed into the skin by a hair.
        radii = 0.3 + (np.arange(STEPS) + 0.5) * (depth / STEPS)
        r, a = np.meshgrid(radii, angles, indexing="ij")
        self.down_mm, self.right_mm = r * np.cos(a), r * np.sin(a)
        points = pose.to_patient(np.stack([self.right_mm, np.zeros_like(r), self.down_mm], axis=-1))
        x, y, z = (np.ascontiguousarray(points[..., i], dtype=np.float32) for i in range(3))
        self.tissue = np.asarray(sample(animal, state, x, y, z).tissue)
        self.seen = ~np.maximum.accumulate(np.isin(self.tissue, BLOCKING), axis=0)
        # Areas of hearts of every size are compared at one length from apex to mitral valve.
        places = animal_landmarks(animal, REST)
        length = float(np.linalg.norm(places[Landmark.MITRAL_CENTRE] - places[Landmark.LV_APEX]))
        self.pixel_mm2 = r * (depth / STEPS) * (angles[1] - angles[0]) * (LENGTH_MM / length) ** 2

    def area_mm2(self, *tissues: Tissue) -> float:
        """Return the area of tissues that is seen, mm² of a heart of LENGTH_MM."""
        return float(self.pixel_mm2[np.isin(self.tissue, tissues) & self.seen].sum())

    def hidden_fraction(self, tissue: Tissue) -> float:
        """Return the share of a tissue in the sector that lies behind lung or bone."""
        here = self.tissue == tissue
        return float(self.pixel_mm2[here & ~self.seen].sum() / max(float(self.pixel_mm2[here].sum()), 1e-9))

    def centre_mm(self, *tissues: Tissue) -> tuple[float, float]:
        """Return (right, down) of the middle of what is seen of tissues, mm."""
        here = np.isin(self.tissue, tissues) & self.seen
        weight = self.pixel_mm2[here]
        return (
            float((self.right_mm[here] * weight).sum() / weight.sum()),
            float((self.down_mm[here] * weight).sum() / weight.sum()),
        )
