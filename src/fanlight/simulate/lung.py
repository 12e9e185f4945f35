"""What the machine shows where air stops the beam: the bright pleura, its repeats, and a haze that fades.

Sound goes to and fro between pleura and face. Each round trip costs what the chest wall absorbs and what is lost at
the face. The machine paints every echo at the depth its delay stands for, so the pleura comes back at twice, three
times its depth. Sound that enters the outermost air sacs is scattered about and comes back late: a haze, stronger under
some places of the pleura than under others, so that it lies in streaks along the beams and slides with the lung.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

Array = Any

# Engineering judgement, by eye: the matched face and the rough pleura take most of a round trip.
ROUND_TRIP_DB = 8.0
REPEAT_DB = 14.0  # of the pleura's first repeat over heart muscle, before round trips and absorption
HAZE_DB = -6.0  # just behind the pleura, against heart muscle
HAZE_LOSS_DB_CM_MHZ = 0.9  # by which the haze fades
STREAK_DB = 4.0  # standard deviation between neighbouring places of the pleura
CHEST_WALL_DB_CM_MHZ = 0.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reverberation:
    """What the repeats need to know of the machine."""

    depth_coarse_mm: Array  # (depth, 1)
    depth_fine_mm: Array  # (sample, 1)
    coarse_mm: float
    sample_mm: float
    frequency_mhz: float
    mirror_span: int  # see echo_field
    mirror_gain: Array  # (sample, 1)


_FAR_MM = 1e6  # beyond every picture
_LEAST_MM = 1.0  # repeats of a pleura that lies on the face would fill the picture
_DB = math.log(10) / 20


def pleura_depth_mm(xp: Any, reverberation: Reverberation, air: Array, edge_mm: Array) -> Array:
    """Return the depth (1, line) at which each line meets air; far beyond the picture where it meets none."""
    r = reverberation
    above, below = edge_mm[:-1, :], edge_mm[1:, :]
    border = r.depth_coarse_mm[:-1, :] + r.coarse_mm * above / (above + below + 1e-3)
    border = xp.concat([xp.zeros_like(edge_mm[:1, :]), border], axis=0)
    return xp.min(xp.where(air, border, _FAR_MM), axis=0, keepdims=True)


def behind_pleura(
    xp: Any,
    reverberation: Reverberation,
    air: Array,
    edge_mm: Array,
    unevenness: Array,
    echo: tuple[Array, Array, Array],
) -> tuple[Array, Array, Array]:
    """Return scatter, flow and mirrors (sample, line) with repeats in place of all that lies behind air.

    Parameters
    ----------
    air : array of shape (depth, line), bool
        Where the coarse grid lies in lung.
    edge_mm : array of shape (depth, line)
        Distance to the border of the tissue.
    unevenness : array of shape (depth, line)
        Slow random field of standard deviation 1 that moves with the tissue.
    echo : three arrays of shape (sample, line)
        Scatter, flow and mirrors as if the beam went on.
    """
    r = reverberation
    solid, fluid, mirror = echo
    pleura_mm = pleura_depth_mm(xp, r, air, edge_mm)
    at_pleura = xp.abs(r.depth_coarse_mm - pleura_mm) <= 0.5 * r.coarse_mm
    streak = xp.sum(xp.where(at_pleura, unevenness, 0.0), axis=0, keepdims=True)
    depth = r.depth_fine_mm
    period = xp.where(pleura_mm > _LEAST_MM, pleura_mm, _LEAST_MM)
    trips = depth / period
    behind = depth > pleura_mm + 1.5 * r.sample_mm
    two_way = 2 * r.frequency_mhz / 10  # dB/cm/MHz, one way, to dB/mm there and back
    in_wall = CHEST_WALL_DB_CM_MHZ * two_way
    haze_db = HAZE_DB + STREAK_DB * streak - in_wall * pleura_mm - HAZE_LOSS_DB_CM_MHZ * two_way * (depth - pleura_mm)
    haze = xp.exp(_DB * xp.clip(haze_db, -200.0, 60.0))
    repeat_db = REPEAT_DB - ROUND_TRIP_DB * (trips - 1) - in_wall * depth
    nearness = 0.5 * (r.mirror_span + 1) - xp.abs(depth - xp.round(trips) * period) / r.sample_mm
    repeat = xp.clip(nearness, 0.0, 1.0) * xp.exp(_DB * xp.clip(repeat_db, -200.0, 60.0)) * r.mirror_gain
    return (
        xp.where(behind, haze, solid),
        xp.where(behind, 0.0, fluid),
        xp.where(behind, repeat, mirror),
    )
