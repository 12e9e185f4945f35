"""Ribs in the chest wall: which space a point lies in, and whether rib, cartilage or sternum is in the way.

Rib n runs where the space coordinate is n; the fourth space lies between 4 and 5. The coordinate grows towards the
tail of the animal, as ribs are counted. From the back a rib runs down and backwards; below its joint with the
cartilage it turns forwards to the sternum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import array_api_compat

from fanlight.heart.body_wall import BodyWall
from fanlight.heart.distance import clamp

Array = Any  # an array of the array API standard

# Shares and sizes at 10 kg: engineering judgement after the proportions of a mesomorphic dog's rib cage, no source.
LEAN_OF_BONE = 0.20  # mm towards the tail per mm downwards
LEAN_OF_CARTILAGE = 0.50  # mm towards the head per mm downwards
BEND_MM = 8.0  # over which a rib turns at its joint
HALF_WIDTH_OF_PITCH = 0.177  # a rib takes 35 % of the distance between two ribs
JOINT_BELOW_CENTRE = 0.52  # of the half-depth: joints of rib and cartilage
LAST_TRUE_RIB = 9.0  # the last whose cartilage meets the sternum
ARCH_RISE_MM = 16.0  # per rib behind it, by which the ends of the false ribs climb
FIRST_RIB, LAST_RIB = 1, 13
STERNUM_HALF_WIDTH_MM = 5.0
STERNUM_ENDS_AT = 9.4  # space coordinate of the xiphoid
RIB_FROM, RIB_TO = 0.12, 0.62  # of the wall's thickness from inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribs:
    """Where the ribs run."""

    x_at_space_4_mm: float  # x of the middle of the fourth space at the joint of rib and cartilage
    pitch_mm: float  # from rib to rib along the body
    joint_z_mm: float  # height of the joints of rib and cartilage
    scale_ratio: float


def _lean_mm(ribs: Ribs, z: Array) -> Array:
    """Return how far forward the rib lies at height z, relative to its joint."""
    xp = array_api_compat.array_namespace(z)
    up = z - ribs.joint_z_mm
    bend = BEND_MM * ribs.scale_ratio
    turn = xp.sqrt(up * up + bend * bend) - bend
    return 0.5 * (LEAN_OF_BONE - LEAN_OF_CARTILAGE) * up + 0.5 * (LEAN_OF_BONE + LEAN_OF_CARTILAGE) * turn


def space_coordinate(ribs: Ribs, x: Array, z: Array) -> Array:
    """Return the space coordinate of points: n at rib n, n + 0.5 in the middle of space n."""
    return 4.5 - (x - ribs.x_at_space_4_mm - _lean_mm(ribs, z)) / ribs.pitch_mm


def x_of_space_mm(ribs: Ribs, coordinate: Array, z: Array) -> Array:
    """Return x in mm where the space coordinate has this value at height z."""
    return ribs.x_at_space_4_mm + _lean_mm(ribs, z) + (4.5 - coordinate) * ribs.pitch_mm


def rib_half_width_mm(ribs: Ribs) -> float:
    """Return half the width of a rib, mm."""
    return HALF_WIDTH_OF_PITCH * ribs.pitch_mm


def arch_z_mm(wall: BodyWall, ribs: Ribs, coordinate: Array) -> Array:
    """Return the height below which the cage has no rib any more: behind the last true rib it climbs."""
    xp = array_api_compat.array_namespace(coordinate)
    behind = clamp(coordinate - LAST_TRUE_RIB, 0.0, 20.0, xp)
    bottom = wall.centre_z_mm - 2.0 * wall.half_depth_mm  # below the animal: no arch among the true ribs
    start = wall.centre_z_mm - 1.05 * wall.half_depth_mm
    return xp.where(behind > 0.0, start + behind * ARCH_RISE_MM * ribs.scale_ratio, bottom + 0.0 * behind)


def bone_masks(
    wall: BodyWall, ribs: Ribs, x: Array, y: Array, z: Array, depth_mm: Array
) -> tuple[Array, Array, Array, Array]:
    """Return where rib, cartilage and sternum lie, and the distance to the rib's border, for points in the wall.

    Parameters
    ----------
    wall, ribs : BodyWall, Ribs
        The cage.
    x, y, z : array
        Points, mm.
    depth_mm : array
        `wall_depth_mm` of the points.

    Returns
    -------
    rib, cartilage, sternum : array of bool
    edge_mm : array
        Distance to the border of the nearest rib along the body, positive inside the rib.
    """
    xp = array_api_compat.array_namespace(x, y, z)
    place = space_coordinate(ribs, x, z)
    nearest = xp.floor(place + 0.5)
    edge = rib_half_width_mm(ribs) - xp.abs(place - nearest) * ribs.pitch_mm
    layer = (depth_mm < -RIB_FROM * wall.thickness_mm) & (depth_mm > -RIB_TO * wall.thickness_mm)
    counted = (nearest >= FIRST_RIB) & (nearest <= LAST_RIB)
    rib = layer & (edge > 0.0) & counted & (z > arch_z_mm(wall, ribs, nearest))
    bony = z > ribs.joint_z_mm
    below = z < wall.centre_z_mm
    middle = xp.abs(y - wall.centre_y_mm) < STERNUM_HALF_WIDTH_MM * ribs.scale_ratio
    sternum = layer & middle & below & (place < STERNUM_ENDS_AT) & (place > 0.5)
    return rib & bony & ~sternum, rib & ~bony & ~sternum, sternum, edge
