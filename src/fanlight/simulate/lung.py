"""What the machine shows where air stops the beam: the bright pleura, its repeats, and a haze that fades.

Sound goes to and fro between pleura and face. Each round trip costs what the chest wall absorbs and what is lost at
the face. The machine paints every echo at the depth its delay stands for, so the pleura comes back at twice, three
times its depth, and the chest wall's own speckle, mirrored, fills the space between.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

Array = Any

ROUND_TRIP_DB = 11.0  # lost at face and pleura with each repeat (engineering judgement: matched face, rough pleura)
REPEAT_REFLECTION = 0.30  # of the pleura's first repeat against its own echo (rough air interface), amplitude
HAZE_DB = -9.0  # of the mirrored chest wall just behind the pleura, against heart muscle (engineering judgement)
CHEST_WALL_DB_CM_MHZ = 0.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reverberation:
    """What the repeats need to know of the machine."""

    depth_coarse_mm: Array  # (depth, 1)
    depth_fine_mm: Array  # (sample, 1)
    sample_mm: float
    loss_db_per_mm: float  # two-way, of the chest wall at this frequency
    mirror_gain: Array  # (sample, 1), see echo_field


_FAR_MM = 1e6  # beyond every picture
_DB = math.log(10) / 20


def behind_pleura(
    xp: Any, reverberation: Reverberation, air: Array, solid: Array, fluid: Array, mirror: Array
) -> tuple[Array, Array, Array]:
    """Return scatter, flow and mirrors (sample, line) with repeats in place of all that lies behind air.

    Parameters
    ----------
    air : array of shape (depth, line), bool
        Where the coarse grid lies in lung.
    """
    r = reverberation
    pleura_mm = xp.min(xp.where(air, r.depth_coarse_mm, _FAR_MM), axis=0, keepdims=True)  # (1, line)
    pleura_mm = pleura_mm - 0.5 * (r.depth_coarse_mm[1, 0] - r.depth_coarse_mm[0, 0])
    depth = r.depth_fine_mm
    trips = depth / xp.where(pleura_mm > 1.0, pleura_mm, 1.0)
    whole = xp.round(trips)
    behind = depth > pleura_mm + 1.5 * r.sample_mm
    fade = xp.exp((-r.loss_db_per_mm * _DB) * depth - (ROUND_TRIP_DB * _DB) * (trips - 1))
    haze = fade * 10 ** (HAZE_DB / 20)
    on_repeat = xp.abs(depth - whole * pleura_mm) < 0.5 * r.sample_mm
    repeat = xp.where(on_repeat, fade * (REPEAT_REFLECTION * 80.0) * r.mirror_gain, 0.0)
    return (
        xp.where(behind, haze, solid),
        xp.where(behind, 0.0, fluid),
        xp.where(behind, repeat, mirror),
    )
