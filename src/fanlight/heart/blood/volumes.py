"""How much blood the left chambers hold at a moment, from the shapes that are drawn."""

from __future__ import annotations

import math

import numpy as np

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.cycle import RESTING
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.layout import layout
from fanlight.heart.left_ventricle import LeftVentricle, base_motion, left_ventricle

_LEVELS = 48  # slices of the ventricle; more change a volume by less than a thousandth


def left_ventricle_mm3(anatomy: Anatomy, state: CycleState) -> float:
    """Return the blood inside the inner wall of the left ventricle, apex to mitral plane, papillary muscles included.

    Slices across the long axis: round, or with a flattened septal half; their distance shrinks as the base comes down.
    """
    lv = left_ventricle(anatomy, state)
    top = _slices_mm3(lv, 0.0, lv.base_mm)
    below = _slices_mm3(lv, -lv.apex_mm, 0.0)
    return base_motion(anatomy, state).shortening * 0.5 * (1.0 + lv.septal_share) * (top + below)


def _slices_mm3(lv: LeftVentricle, low: float, high: float) -> float:
    step = (high - low) / _LEVELS
    areas = [math.pi * lv.inner_radius_at(low + (k + 0.5) * step) ** 2 for k in range(_LEVELS)]
    return float(np.sum(areas)) * step


def left_atrium_mm3(anatomy: Anatomy, state: CycleState, resting_mm3: float) -> float:
    """Return the blood of the left atrium, of which `resting_mm3` is there at the end of atrial contraction.

    Its walls move as they are drawn: 9 % of each radius between smallest and largest, and the base that comes down
    draws it out in length.
    """
    motion = base_motion(anatomy, state)
    swell = (1.0 + 0.09 * (state.atrial_filling - 1.0)) / (1.0 - 0.09)
    rest = motion.top_mm - motion.base_mm
    length = (rest + (1.0 - motion.kept) * motion.descent_mm) / rest
    return resting_mm3 * swell**3 * length


def resting_left_atrium_mm3(anatomy: Anatomy) -> float:
    """Return the blood of the left atrium's body when it is smallest, as an ellipsoid that the septum cuts (5/6)."""
    a, b, c = layout(anatomy, RESTING).left_atrium.body.radii
    return 5.0 / 6.0 * 4.0 / 3.0 * math.pi * a * b * c
