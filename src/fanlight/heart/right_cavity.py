"""The right ventricle's room as signed distances: inlet and apex part, outflow tract, and its volume."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fanlight.heart.distance import Points, half_space, smooth_max, smooth_min
from fanlight.heart.left_ventricle import LeftVentricle, wall_distance
from fanlight.heart.right_ventricle import RightVentricle
from fanlight.heart.rods import Egg, Rod, solid_distance
from fanlight.heart.semilunar_valve import Root

Array = Any  # an array of the array API standard


ToSolid = Callable[[Rod | Egg, float], Array]  # distance to a solid that is widened by so many mm


def body_distance(
    rv: RightVentricle, lv: LeftVentricle, unit_mm: float, p: Points, xp: Any, more_mm: float, to_solid: ToSolid
) -> Array:
    """Return the distance to the inlet and apex part, cut at the tricuspid ring and the fibrous base."""
    f = to_solid(rv.body, more_mm)
    f = smooth_min(f, to_solid(rv.inlet, more_mm), 0.20 * unit_mm, xp)
    f = smooth_max(f, half_space(p, rv.tricuspid.centre, rv.tricuspid.up), 0.04 * unit_mm, xp)
    return xp.maximum(f, p[0] - (lv.base_mm + 0.04 * unit_mm + more_mm))


def tract_distance(
    rv: RightVentricle, root: Root, unit_mm: float, p: Points, xp: Any, more_mm: float, to_solid: ToSolid
) -> Array:
    """Return the distance to the outflow tract, cut at the pulmonic ring."""
    one, two = (to_solid(rod, more_mm) for rod in rv.conus)
    f = smooth_min(one, two, 0.06 * unit_mm, xp)
    return xp.maximum(f, half_space(p, root.centre, root.axis))


def cavity_distance(rv: RightVentricle, lv: LeftVentricle, root: Root, unit_mm: float, p: Points, xp: Any) -> Array:
    """Return the distance to body and tract together, wrapped around the left ventricle."""

    def to_solid(solid: Rod | Egg, more_mm: float) -> Array:
        return solid_distance(p, solid, xp, more_mm)

    body = body_distance(rv, lv, unit_mm, p, xp, 0.0, to_solid)
    f = smooth_min(body, tract_distance(rv, root, unit_mm, p, xp, 0.0, to_solid), 0.20 * unit_mm, xp)
    return smooth_max(f, -wall_distance(lv, p, xp), 0.03 * unit_mm, xp)
