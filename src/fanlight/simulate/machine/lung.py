"""What the machine shows where air stops the beam: the bright pleura, its repeats, mirror images and a fading haze.

Air gives back nearly all sound, and its sacs are about a wavelength wide: the pleura scatters to all sides, bright at
any slope. Sound goes to and fro between pleura and face: each round trip costs what the tissue before the
pleura absorbs once more and what is lost at both ends. The machine paints every echo at the depth its delay stands for,
so the pleura comes back at twice, three times its depth, and tissue that is seen by way of the pleura stands behind it
as in a mirror. Sound that enters the outermost air sacs is scattered about and comes back late: a haze, stronger under
some places of the pleura than under others, so that it lies in streaks along the beams and slides with the lung.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

Array = Any

# Engineering judgement, by eye, all of it; levels are against heart muscle at the same place.
PLEURA_DB, PLEURA_MM = 16.0, 0.7  # what the rough surface scatters to all sides, and how thick that is
ROUND_TRIP_DB = 1.5  # lost at face and pleura; behind a chest wall of 8 mm a repeat is shown some 5 dB under the last
# Far from the face the pleura bends round the heart and throws most of the sound aside, and what its sacs scatter
# spreads before it is back: repeats and haze of such lung are weaker by this, in dB for each mm beyond the wall.
NEAR_LUNG_MM, FAR_REPEAT_DB_MM, FAR_HAZE_DB_MM, MOST_FAR_HAZE_DB = 15.0, 0.6, 0.15, 9.0
REPEAT_DB = 27.0  # of a pleura that faces the beam, before round trips and absorption
MIRROR_IMAGE_DB = -18.0  # a rough, curved mirror
HAZE_DB = -6.0  # just behind the pleura
HAZE_LOSS_DB_CM_MHZ = 0.7  # by which it fades: it comes from the sacs near the pleura, on ways that grow with time
STREAK_DB = 4.0  # standard deviation between neighbouring places of the pleura
FACING_POWER = 6  # repeats and mirror images need a pleura that throws the beam back on itself


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtAir:
    """What is known on the coarse grid, arrays of shape (depth, line)."""

    air: Array  # bool: in lung
    edge_mm: Array  # distance to the border of the tissue
    unevenness: Array  # slow random field of standard deviation 1 that moves with the tissue
    facing: Array  # cos² of the angle between beam and the border's normal
    entering_db: Array  # two-way loss down to each sample


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


def _amplitude(xp: Any, level_db: Array) -> Array:
    return xp.exp(_DB * xp.clip(level_db, -200.0, 200.0))


def _mirrored(xp: Any, r: Reverberation, solid: Array, pleura_mm: Array) -> Array:
    """Return the scatter (sample, line) that lies as far before the pleura as each sample lies behind it."""
    n_samples, n_lines = solid.shape
    row = (2 * pleura_mm - r.depth_fine_mm) / r.sample_mm
    row = xp.astype(xp.clip(xp.floor(row), 0, n_samples - 1), xp.int32)
    line = xp.arange(n_lines, dtype=xp.int32)
    at = xp.reshape(row * n_lines + line, (-1,))
    return xp.reshape(xp.take(xp.reshape(solid, (-1,)), at), solid.shape)


def behind_pleura(
    xp: Any, reverberation: Reverberation, at_air: AtAir, echo: tuple[Array, Array, Array]
) -> tuple[Array, Array, Array]:
    """Return scatter, flow and mirrors (sample, line) with what air gives back in place of all that lies behind it.

    Parameters
    ----------
    at_air : AtAir
        Lung and what the beam met before it.
    echo : three arrays of shape (sample, line)
        Scatter, flow and mirrors as if the beam went on.
    """
    r = reverberation
    solid, fluid, mirror = echo
    pleura_mm = pleura_depth_mm(xp, r, at_air.air, at_air.edge_mm)
    here = xp.abs(r.depth_coarse_mm - pleura_mm) <= 0.5 * r.coarse_mm

    def at_pleura(values: Array) -> Array:
        return xp.sum(xp.where(here, values, 0.0), axis=0, keepdims=True)

    streak, loss_db = at_pleura(at_air.unevenness), at_pleura(at_air.entering_db)
    upright = at_pleura(at_air.facing) ** (FACING_POWER / 2)
    depth = r.depth_fine_mm
    period = xp.where(pleura_mm > _LEAST_MM, pleura_mm, _LEAST_MM)
    trips = depth / period
    beyond_mm = depth - pleura_mm
    haze_loss_db_mm = HAZE_LOSS_DB_CM_MHZ * 2 * r.frequency_mhz / 10
    # by line times by depth: the exponential of a whole picture would cost three times as much as all else here
    from_mm = xp.where(pleura_mm < _FAR_MM, pleura_mm, 0.0)
    far_mm = xp.clip(from_mm - NEAR_LUNG_MM, 0.0, _FAR_MM)
    haze_db = HAZE_DB - xp.clip(FAR_HAZE_DB_MM * far_mm, 0.0, MOST_FAR_HAZE_DB)
    haze = _amplitude(xp, haze_db + STREAK_DB * streak - loss_db + haze_loss_db_mm * from_mm)
    haze = haze * xp.exp(depth * (-_DB * haze_loss_db_mm))
    surface = _amplitude(xp, PLEURA_DB - loss_db)
    # The way from the pleura to the tissue and back costs as much a millimetre as the way to the pleura did.
    detour_db = MIRROR_IMAGE_DB - 2 * loss_db * (trips - 1)
    image = _mirrored(xp, r, solid, pleura_mm) * (upright * _amplitude(xp, detour_db))
    image = xp.where(trips < 2, image, 0.0)
    scattered = xp.where(beyond_mm < PLEURA_MM, surface, xp.sqrt(haze**2 + image**2))
    nearness = 0.5 * (r.mirror_span + 1) - xp.abs(depth - xp.round(trips) * period) / r.sample_mm
    trip_db = ROUND_TRIP_DB + FAR_REPEAT_DB_MM * far_mm
    repeat = _amplitude(xp, REPEAT_DB - trip_db * (trips - 1) - loss_db * trips) * (upright * r.mirror_gain)
    repeat = xp.clip(nearness, 0.0, 1.0) * repeat
    behind = beyond_mm > 1.5 * r.sample_mm
    return (
        xp.where(behind, scattered, solid),
        xp.where(behind, 0.0, fluid),
        xp.where(behind, repeat, mirror),
    )
