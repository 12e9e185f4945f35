"""How much of each tissue is in the picture."""

from __future__ import annotations

import numpy as np

from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue


def measure_areas_mm2(label_map: LabelMap) -> dict[Tissue, float]:
    """Return the area of every tissue that the picture shows, mm², OUTSIDE left out."""
    counts = np.bincount(label_map.shown().ravel(), minlength=256)
    px_mm2 = label_map.mm_per_px**2
    return {tissue: float(counts[tissue]) * px_mm2 for tissue in Tissue if tissue != Tissue.OUTSIDE and counts[tissue]}
